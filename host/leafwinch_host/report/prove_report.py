"""The report of a proof as one HTML file that needs nothing from elsewhere."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from leafwinch.requirement_limits import REQUIREMENTS
from leafwinch_host.defect_book import cause_of, defect_book, grouped
from leafwinch_host.report import matrix, words
from leafwinch_host.report.beside_bare import STARTS_ALONE, BesideRow, beside_rows
from leafwinch_host.report.case_plot import value_words
from leafwinch_host.report.common_cause import CommonCause, common_causes
from leafwinch_host.report.made import page
from leafwinch_host.report.prove_words import Tile, plain_words, sentence, tiles
from leafwinch_host.report.verdicts import VERDICTS, Verdict
from leafwinch_host.report.worst_runs import (
    THREE_WORST,
    DrawnCase,
    drawn_cases,
    limit_words,
)
from leafwinch_host.texts import fault_name, requirement_limit
from leafwinch_sim.proof_tests import PROOF_TESTS
from leafwinch_sim.site import Site
from leafwinch_wiring.netlist import Netlist


@dataclass(frozen=True, slots=True)
class RequirementRow:
    """One requirement with limit, worst value and result; `css` names the class of the result."""

    name: str
    text: str
    limit: str
    worst: str
    result: str
    css: str


@dataclass(frozen=True, slots=True)
class LatentGroup:
    """One proof test: its name, how it is done, and the latent defects that it finds."""

    name: str
    how: str
    defects: list[Mapping[str, Any]]


@dataclass(frozen=True, slots=True)
class ProveReport:
    """Everything that the template shows, ready as text."""

    title: str
    verdict: str
    sentence: str
    plain: list[str]
    tiles: list[Tile]
    cautions: tuple[words.Caution, ...]
    broken: list[dict[str, str]]
    broken_runs: int
    broken_defects: int
    undetected: list[dict[str, str]]
    requirements: list[RequirementRow]
    unpreventable: list[dict[str, Any]]
    residual: list[dict[str, str]]
    latent: list[LatentGroup]
    latent_total: int
    legend: list[tuple[Verdict, int]]
    moments: list[str]
    blocks: list[matrix.Block]
    block_width: int
    three: list[DrawnCase]
    others: list[DrawnCase]
    common: list[CommonCause]
    beside: list[BesideRow]
    every_tick: bool
    origin: list[tuple[str, str]]


def prove_html(
    result: Mapping[str, Any], site: Site, net: Netlist, report: ProveReport | None = None
) -> str:
    """Return the report of one proof.

    Args:
        result: what `leafwinch_sim.campaign.prove` returned; with what `extras.complete`
            adds it also shows the worst runs and the bare wiring.
        site: the installation it was run on.
        net: the wiring it was run on.
        report: what `build` returned for it, where that was needed before.
    """
    return page(
        "prove",
        r=report or build(result, site, net),
        symbols=matrix.symbols(),
        legal=words.LEGAL,
        assumptions=words.ASSUMPTIONS,
        not_tested=words.NOT_TESTED,
    )


def build(result: Mapping[str, Any], site: Site, net: Netlist) -> ProveReport:
    """Turn the result of a proof into the texts of its report."""
    book = defect_book(site, net)
    cells = [
        matrix.Cell(
            cell["defect"],
            cell["moment"],
            cell["verdict"],
            cell_note(cell),
            cell["reaction_ms"],
            cell["overrun_mm"],
        )
        for cell in result["cells"]
    ]
    moments = [
        moment_words(name, at_s)
        for name, at_s in zip(result["moment_names"], result["moment_s"], strict=True)
    ]
    counts = Counter(cell.verdict for cell in cells)
    broken = result["broken"]
    cases = drawn_cases(result, site, net, book)
    three = [case for case in cases if case.case.key in THREE_WORST][:3]
    return ProveReport(
        title=f"{result['site']} with wiring {result['wiring']}",
        verdict=result["verdict"],
        sentence=sentence(result),
        plain=plain_words(result),
        tiles=tiles(result),
        cautions=cautions_for(site),
        broken=broken_rows(broken),
        broken_runs=len({(row["fault"], row["at_s"]) for row in broken}),
        broken_defects=len({row["fault"] for row in broken}),
        undetected=[
            {"fault": name, "cause": cause_of(book, name)} for name in result["undetected"]
        ],
        requirements=requirement_rows(result, site),
        unpreventable=result["unpreventable"],
        residual=result["residual"],
        latent=latent_groups(result["latent"]),
        latent_total=len(result["latent"]),
        legend=[(verdict, counts[verdict.name]) for verdict in VERDICTS if counts[verdict.name]],
        moments=moments,
        block_width=matrix.width_of(len(moments)),
        blocks=matrix.blocks(cells, grouped(book, (cell.defect for cell in cells)), moments),
        three=three,
        others=[case for case in cases if case not in three],
        common=common_causes(result, book),
        beside=beside_rows(result),
        every_tick=bool(result.get("every_tick")),
        origin=origin(result, net),
    )


def cautions_for(site: Site) -> tuple[words.Caution, ...]:
    """Return the cautions of a site; over water drowning comes first."""
    return (words.WATER_CAUTION, *words.CAUTIONS) if site.over == "water" else words.CAUTIONS


def requirement_rows(result: Mapping[str, Any], site: Site) -> list[RequirementRow]:
    """Return each requirement with its limit and what came of it."""
    broken: dict[str, set[str]] = {}
    for row in result["broken"]:
        broken.setdefault(row["requirement"], set()).add(row["fault"])
    alone = set().union(*(broken.get(name, set()) for name in STARTS_ALONE))
    unfound = set(result["undetected"])
    unfound |= {row["fault"] for row in result["latent"] if not row["proof_found"]}
    worst: dict[str, list[str]] = {}
    for row in result.get("worst", []):
        limit = limit_words(row)
        value = value_words(row["value"], row["unit"])
        reading = f"{value} ({limit}): {row['words']}" if limit else f"{value}: {row['words']}"
        worst.setdefault(row["requirement"], []).append(reading)
    rows = []
    for name, text, _ in REQUIREMENTS:
        limit = requirement_limit(name, site)
        seen = "; ".join(worst.get(name, ()))
        if name == "R6" and (alone or unfound):
            outcome = f"✕ {len(alone)} start it or keep it running, {len(unfound)} are not found"
            rows.append(RequirementRow(name, text, limit, seen, outcome, "bad"))
        elif name in broken:
            outcome = f"✕ broken by {len(broken[name])} defects"
            rows.append(RequirementRow(name, text, limit, seen, outcome, "bad"))
        elif name == "R11":
            outcome = f"{len(result['unpreventable'])} listed below"
            rows.append(RequirementRow(name, text, limit, seen, outcome, ""))
        else:
            rows.append(RequirementRow(name, text, limit, seen, "✓ holds", "good"))
    return rows


def latent_groups(latent: Sequence[Mapping[str, Any]]) -> list[LatentGroup]:
    """Sort the latent defects under the proof test that finds each, in the order of the tests."""
    groups = []
    for test in PROOF_TESTS:
        found = [row for row in latent if row["proof_test"] == test.name]
        if found:
            groups.append(LatentGroup(test.name, test.how, found))
    return groups


def moment_words(name: str, at_s: float) -> str:
    """Return a moment with its time; an evenly spread one is named by its time alone."""
    return name if name == f"at {at_s:g} s" else f"{name} ({at_s:g} s)"


def cell_note(cell: Mapping[str, Any]) -> str:
    """Return what happened in one run, for the pointer to show."""
    notes = [next(v.label for v in VERDICTS if v.name == cell["verdict"])]
    if cell["found"]:
        notes.append(cell["found"])
    elif cell["fault"]:
        notes.append(f"fault {cell['fault']}: {fault_name(cell['fault'])}")
    if cell["reaction_ms"]:
        notes.append(f"ran on for {cell['reaction_ms']:g} ms")
    if cell["overrun_mm"]:
        notes.append(f"overrun {cell['overrun_mm']:.1f} mm")
    return ", ".join(notes)


def origin(result: Mapping[str, Any], net: Netlist) -> list[tuple[str, str]]:
    """Return what is needed to make the same report again."""
    counted = [
        (words, str(result[key]))
        for key, words in (
            ("ticks", "control ticks"),
            ("branches_run", "branches run"),
            ("branches_merged", "branches merged"),
            ("faults_merged", "defects that act as another one"),
            ("seconds", "seconds of work"),
            ("hash", "hash of the result"),
        )
        if key in result
    ]
    return [
        ("site", result["site"]),
        ("wiring", result["wiring"]),
        ("seed", str(result["seed"])),
        ("script", result["script"]),
        *counted,
        ("netlist SHA-256", net.content_hash),
        *((name, str(value)) for name, value in result["versions"].items() if name != "netlist"),
    ]


def broken_rows(broken: Sequence[Mapping[str, Any]]) -> list[dict[str, str]]:
    """Return one row for each defect and requirement, with the first moment that broke it."""
    rows: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for entry in broken:
        rows.setdefault((entry["fault"], entry["requirement"]), []).append(entry)
    result = []
    for (fault, requirement), entries in rows.items():
        first = min(entries, key=lambda entry: float(entry["at_s"]))
        more = f" and at {len(entries) - 1} other moments" if len(entries) > 1 else ""
        result.append(
            {
                "fault": fault,
                "cause": first["cause"],
                "at": f"{moment_words(first['moment'], first['at_s'])}{more}",
                "requirement": f"{requirement}: {first['text']}",
                "replay": first["replay"],
            }
        )
    return result
