"""Everything the wiring papers say, as data: texts, tables and the names of drawings."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from leafwinch_host import version
from leafwinch_host.report import words
from leafwinch_host.report.wire_apart import WHY, apart_level, apart_rows, apart_words
from leafwinch_host.report.wire_motor import motor_of
from leafwinch_host.report.wire_shares import not_found_rows, share_rows
from leafwinch_sim.site import Site
from leafwinch_wiring.advice import advise, cautions
from leafwinch_wiring.drawing import Sheet
from leafwinch_wiring.input_walk import WalkShare, steps
from leafwinch_wiring.miswires import KINDS, Miswire
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_sheet import PointSheet
from leafwinch_wiring.reliability.functions import (
    ESTIMATE_ONLY,
    LEFT_OUT,
    WHY_NOT_FIRMWARE,
    FunctionEstimate,
    WayEstimate,
)
from leafwinch_wiring.rules_base import RuleResult
from leafwinch_wiring.rules_bridges import BridgeEffect
from leafwinch_wiring.schedules.cables import cable_list, core_list, wire_list
from leafwinch_wiring.schedules.colours import MEANING
from leafwinch_wiring.schedules.ip_codes import places
from leafwinch_wiring.schedules.loading import Motor
from leafwinch_wiring.schedules.parts import parts_list
from leafwinch_wiring.schedules.terminals import End, terminal_schedule

NOTHING = "-"
NOTES_IN_TABLE = 4
"""A rule with more notes than this has them below the table."""
NOTES_BELOW = "what is allowed but worth knowing stands below the table"
LEGAL = (
    "Local codes come first, and a licensed electrician decides, does the mains work and signs. "
    "These papers are derived from one netlist; they certify nothing, and nothing here was ever "
    "measured on a physical installation."
)
RESIDUAL_TESTED = "Residual current device tested with an instrument"
INPUTS_WALKED = "Inputs walked with the power on, one device after the other"
SIGN = (
    "Built as drawn; every change is marked in red on the drawings",
    "Terminals tightened to their makers' torque, every conductor pulled by hand",
    "Protective conductor and earthing measured",
    "Insulation resistance measured, board and control supply disconnected first",
    RESIDUAL_TESTED,
    "Continuity sheet filled in and checked, no line left out",
    INPUTS_WALKED,
    "Emergency stop and every limit tried at the machine, deck clear, edge barred",
)
"""What the signature stands for; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Papers:
    """What was worked out from a netlist before the papers are set."""

    sheets: Sequence[Sheet]
    points: PointSheet
    rules: Sequence[RuleResult]
    estimates: Sequence[FunctionEstimate]
    apart: Sequence[BridgeEffect]
    shares: WalkShare

    @property
    def rules_broken(self) -> list[RuleResult]:
        """Rules that the wiring breaks."""
        return [rule for rule in self.rules if not rule.passed]

    @property
    def miswires(self) -> int:
        """Single miswires that change anything."""
        return len(self.points.found) + len(self.points.not_found)


def build(site: Site, net: Netlist, papers: Papers) -> dict[str, Any]:
    """Return everything the papers say as plain data, tables as lists of texts.

    Args:
        site: the installation; what the deck lies over and the motor's plate are taken from it.
        net: its wiring.
        papers: what was worked out from `net`.
    """
    motor = motor_of(site)
    hazards = (words.WATER_CAUTION, *words.CAUTIONS) if site.over == "water" else words.CAUTIONS
    return {
        "title": f"Wiring of {site.name}",
        "wiring": f"{net.name}: {net.title}",
        "summary": site.summary,
        "legal": LEGAL,
        "cautions": [asdict(item) for item in hazards],
        "at_work": list(cautions(net, site.over)),
        "verdict": _verdict(net, papers),
        "drawings": [
            {"file": f"{sheet.name}.svg", "title": sheet.title} for sheet in papers.sheets
        ],
        **_lists(net, site, motor),
        "points": [
            [
                str(row.number),
                row.what.a,
                row.what.b,
                row.operate or "all at rest",
                row.expected,
                row.why.removeprefix("proves "),
            ]
            for row in papers.points.rows
        ],
        "walk": _walk(net),
        "miswires": miswire_table(papers.points),
        "shares": share_rows(papers.shares, net.has_controller),
        "not_found": not_found_rows(papers.points, papers.shares),
        "harmless": len(papers.points.harmless),
        "rules": _rules(papers.rules),
        "notes": [
            {"id": rule.id, "lines": list(rule.notes)}
            for rule in papers.rules
            if len(rule.notes) > NOTES_IN_TABLE
        ],
        "apart": _apart(net, papers.apart),
        "estimates": [_estimate(item) for item in papers.estimates],
        "estimate_words": [ESTIMATE_ONLY, WHY_NOT_FIRMWARE, LEFT_OUT],
        "advice": _advice(net, site, motor),
        "sign": _signed(net),
        "origin": [
            ["netlist", f"{net.name}, contents {net.content_hash[:12]}"],
            ["site", site.name],
            ["program", f"leafwinch {version()}"],
            ["command", f"leafwinch wire {site.options} --wiring {net.name} -o DIR"],
        ],
    }


def _lists(net: Netlist, site: Site, motor: Motor | None) -> dict[str, Any]:
    """Strips, cables, cores, wires, colours, places and parts."""
    return {
        "strips": _strips(net),
        "cables": _cables(net),
        "cores": _cores(net),
        "wires": [
            [row.mark, row.start, row.end, row.colour, f"{row.mm2:g}", row.function]
            for row in wire_list(net)
        ],
        "colours": [[name, meaning] for name, meaning in MEANING.items()],
        "places": [[row.name, row.text, row.code, row.meaning] for row in places(net, site.over)],
        "parts": [
            {
                "refs": ", ".join(row.refs),
                "quantity": str(row.quantity),
                "what": row.what,
                "texts": list(dict.fromkeys(row.texts)),
                "places": ", ".join(row.places),
                "properties": list(row.properties),
                "code": row.code,
            }
            for row in parts_list(net, motor, site.over)
        ],
    }


def _verdict(net: Netlist, papers: Papers) -> list[dict[str, Any]]:
    rows = papers.points.rows
    apart = apart_rows(net, papers.apart)
    words_of_cables = apart_words(net, apart)
    broken = papers.rules_broken
    found = len(papers.points.found)
    return [
        {
            "level": "bad" if broken else "good",
            "text": f"{len(papers.rules) - len(broken)} of {len(papers.rules)} rules of the "
            "wiring are kept"
            + (f"; broken: {', '.join(rule.id for rule in broken)}" if broken else ""),
        },
        {
            "level": apart_level(net, apart),
            "text": words_of_cables[:1].upper() + words_of_cables[1:],
        },
        {
            "level": "amend" if papers.points.not_found else "good",
            "text": f"{found} of {papers.miswires} single miswires are found by {len(rows)} "
            "measurements with the supply off"
            + (
                f"; {len(papers.points.not_found)} are not and are named"
                if papers.points.not_found
                else ""
            ),
        },
        *_walk_verdict(net, papers.shares),
    ]


def _walk_verdict(net: Netlist, shares: WalkShare) -> list[dict[str, Any]]:
    """What the walk finds, as a line of the cover; none for a wiring that has no walk."""
    if not net.has_controller:
        return []
    found = len(shares.both) + len(shares.walk_alone)
    return [
        {
            "level": "amend" if shares.neither else "good",
            "text": f"{found} of {shares.total} are shown by the walk over the inputs; "
            f"{len(shares.neither) or 'none'} by neither of the two",
        }
    ]


def _ends(ends: tuple[End, ...], with_colour: bool) -> str:
    return "\n".join(
        f"{end.mark}  {end.far}" + (f"  ({end.colour})" if with_colour else "") for end in ends
    )


def _strips(net: Netlist) -> list[dict[str, Any]]:
    strips: dict[str, list[list[str]]] = {}
    for row in terminal_schedule(net):
        function = row.function + (f" ({row.remark})" if row.remark else "")
        strips.setdefault(row.strip, []).append(
            [
                _ends(row.inside, with_colour=False) or NOTHING,
                row.terminal,
                _ends(row.outside, with_colour=False) or NOTHING,
                function,
            ]
        )
    return [
        {"name": name, "text": net.parts[name].text, "at": net.parts[name].at, "rows": rows}
        for name, rows in strips.items()
    ]


def _cables(net: Netlist) -> list[list[str]]:
    return [
        [
            row.name,
            f"{row.start} to {row.end}",
            f"{row.cores} x {row.mm2:g} mm2" + (", with green-yellow" if row.protective else ""),
            f"{row.used} used, {row.spare} spare",
            f"{row.length_m:g} m",
            row.voltage,
            row.insulation,
            row.screen,
        ]
        for row in cable_list(net)
    ]


def _cores(net: Netlist) -> list[list[str]]:
    return [
        [
            f"{row.cable}.{row.core}",
            row.mark,
            row.start or NOTHING,
            row.end or NOTHING,
            row.function,
        ]
        for row in core_list(net)
    ]


def miswire_table(points: PointSheet) -> list[list[str]]:
    """Return a row for each kind of miswire: what it is, how many found, not found, harmless."""
    groups: dict[str, Sequence[Miswire]] = {
        "found": points.found,
        "not": [item for item, _ in points.not_found],
        "harmless": points.harmless,
    }
    counts = {name: Counter(item.kind for item in items) for name, items in groups.items()}
    rows = []
    for kind, meaning in KINDS.items():
        numbers = [counts[name][kind] for name in ("found", "not", "harmless")]
        if any(numbers):
            rows.append([meaning, *(str(number) for number in numbers)])
    return rows


def _signed(net: Netlist) -> list[str]:
    """What the electrician signs for, without what this wiring does not have."""
    residual = any(
        part.protection is not None and part.protection.residual_ma > 0.0
        for part in net.parts.values()
    )
    has = {RESIDUAL_TESTED: residual, INPUTS_WALKED: net.has_controller}
    return [line for line in SIGN if has.get(line, True)]


def _walk(net: Netlist) -> list[list[str]]:
    """Each step of the walk: the first with all live inputs, the others by what changes."""
    rows = []
    rest: tuple[str, ...] = ()
    for step in steps(net):
        if not step.operated:
            rest = step.live
            rows.append([str(step.number), step.words, "", f"live: {', '.join(rest)}"])
            continue
        out = [name for name in rest if name not in step.live]
        on = [name for name in step.live if name not in rest]
        rows.append([str(step.number), step.words, ", ".join(out), ", ".join(on)])
    return rows


def _rules(rules: Sequence[RuleResult]) -> list[dict[str, Any]]:
    return [
        {
            "id": rule.id,
            "words": rule.words,
            "source": rule.source,
            "result": _result(rule),
            "good": rule.passed,
            "details": [
                *rule.offending,
                *(rule.notes if len(rule.notes) <= NOTES_IN_TABLE else (NOTES_BELOW,)),
            ],
        }
        for rule in sorted(rules, key=lambda rule: rule.passed)
    ]


def _apart(net: Netlist, effects: Sequence[BridgeEffect]) -> dict[str, Any]:
    """What must not share a cable: why, whether it is kept, and a row for each conductor."""
    rows = apart_rows(net, effects)
    return {
        "why": WHY if rows else "",
        "kept": apart_words(net, rows),
        "level": apart_level(net, rows),
        "rows": [
            {
                "name": row.one.name,
                "words": f"{row.one.words}; {row.one.where} as drawn",
                "others": [[item.name, item.words] for item in row.others],
                "effect": row.effect,
            }
            for row in rows
        ],
    }


def _result(rule: RuleResult) -> str:
    if not rule.applies:
        return "nothing to judge"
    return "kept" if rule.passed else "BROKEN"


def _estimate(item: FunctionEstimate) -> dict[str, Any]:
    return {
        "name": item.name,
        "ways": [
            _way(title, way)
            for title, way in (
                ("copper alone (claimed)", item.copper),
                ("with firmware, to compare", item.with_firmware),
            )
            if way is not None
        ],
        # Said once for all of them at the head of the section.
        "sentence": item.sentence.replace(WHY_NOT_FIRMWARE, "").replace(ESTIMATE_ONLY, "").strip(),
    }


def _way(title: str, way: WayEstimate) -> list[str]:
    blocks = " | ".join(
        ", ".join(dict.fromkeys(block.part for block in channel.blocks)) for channel in way.channels
    )
    return [
        title,
        blocks,
        way.category,
        f"{way.mttfd_a:.0f} a, {way.band}",
        f"{way.dc_avg:.0%}, {way.dc_band}",
        NOTHING if way.pfhd_per_h is None else f"{way.pfhd_per_h:.2g} /h",
        way.level,
        f"{way.replace_after_a:.0f} a" if way.replace_after_a else NOTHING,
    ]


def _advice(net: Netlist, site: Site, motor: Motor | None) -> list[dict[str, Any]]:
    return [
        {
            "title": item.title,
            "words": item.words,
            "figures": [[figure.name, figure.words] for figure in item.figures],
            "source": item.source,
        }
        for item in advise(net, site.over, motor)
    ]
