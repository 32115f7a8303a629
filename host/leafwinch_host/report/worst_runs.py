"""The worst runs of a proof as a report shows them: words and a drawing for each."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup
from matplotlib.figure import Figure

from leafwinch.settings_schema import settings_from
from leafwinch_host.defect_book import Entry, cause_of
from leafwinch_host.report.case_plot import PLOT_COLOURS, CaseNotes, draw_case, value_words
from leafwinch_host.report.svg import document_svg, page_svg
from leafwinch_sim.plant import Plant
from leafwinch_sim.run import RunResult
from leafwinch_sim.site import Site
from leafwinch_sim.worst_cases import Candidate, candidate_of, play
from leafwinch_wiring.netlist import Netlist

THREE_WORST = ("run_on", "overrun", "buffer", "paid_out")
"""The measures of the three worst runs, the first three that were read."""

EXPLAINED = {
    "overrun": " Measured until the motor is off for 0.5 s; what moves later is a fall (R11).",
    "buffer": " Where it was never touched the deck's highest place is shown.",
    "unasked": " Shaded is how long a start was asked for and refused.",
    "unnoticed": " Shaded is the time from the defect to the demand that found it.",
    "fall": " Coasting after the motor was switched off is a part of it.",
    "travel": " Energised time adds up over stops; travel the other way gives it back.",
}
"""What has to be said about a measure besides its words."""


@dataclass(frozen=True, slots=True)
class Case:
    """One worst run in words.

    Attributes:
        key: of the measure.
        requirement: R1 to R11.
        heading: what was measured.
        value, limit: with their units; limit is empty where there is none.
        what: which defect came when, in one sentence.
        where: between which times the value arose, and out of how many runs it is the worst.
        replay: the command that plays it again.
    """

    key: str
    requirement: str
    heading: str
    value: str
    limit: str
    what: str
    where: str
    replay: str


@dataclass(frozen=True, slots=True)
class DrawnCase:
    """One worst run with its figure; `name` tells it from the others of a report."""

    case: Case
    figure: Figure
    name: str

    def page_svg(self) -> Markup:
        """Return the drawing for a page; its colours follow the theme."""
        case = self.case
        words = f"{case.requirement}, {case.heading}: {case.value}"
        return page_svg(self.figure, self.name, words, PLOT_COLOURS)

    def document_svg(self) -> bytes:
        """Return the drawing for a document."""
        return document_svg(self.figure)


def case_of(row: Mapping[str, Any], book: Mapping[str, Entry]) -> Case:
    """Put one row of `leafwinch_sim.worst_cases.worst_runs` into words."""
    if row["defect"]:
        cause = cause_of(book, row["defect"])
        because = f" ({cause})" if cause else ""
        at = f"at {row['at_s']:g} s"
        moment = "" if row["moment"] == at else f": {row['moment']}"
        what = f"{row['defect']}{because}, coming {at}{moment}."
    else:
        what = f"Nothing broken: script {row['script']}."
    span = f"from {row['from_s']:.3f} s to {row['to_s']:.3f} s"
    if row["from_s"] == row["to_s"]:
        span = f"at {row['to_s']:.3f} s"
    runs = row["runs_measured"]
    among = f"the worst of {runs} runs measured" if runs > 1 else "one run measured"
    return Case(
        row["measure"],
        row["requirement"],
        row["words"],
        value_words(row["value"], row["unit"]),
        limit_words(row),
        what,
        f"Shaded {span}; {among}.{EXPLAINED.get(row['measure'], '')}",
        row["replay"],
    )


def limit_words(row: Mapping[str, Any]) -> str:
    """Return the limit of a row in words, empty where there is none."""
    if row["limit"] is None:
        return ""
    return f"{row['limit_kind']} {row['limit']:g} {row['unit']}"


def figures(
    rows: list[Mapping[str, Any]], site: Site, net: Netlist, seed: int
) -> Iterator[tuple[Mapping[str, Any], Figure]]:
    """Play each worst run again and yield its row with its figure; a run is played once."""
    played: dict[Candidate, RunResult] = {}
    settings = settings_from(site.settings)
    flat_mm = Plant(site).rope_out_m * 1000.0
    for row in rows:
        run = candidate_of(row)
        if run not in played:
            played[run] = play(site, net, run, seed, trace=True)[0]
        notes = CaseNotes(
            measure=row["measure"],
            value=row["value"],
            unit=row["unit"],
            limit=row["limit"],
            from_s=row["from_s"],
            to_s=row["to_s"],
            defect_s=row["at_s"] if row["defect"] else None,
            trip_a=settings.trip_ma / 1000.0 if net.has_controller else None,
            flat_mm=flat_mm,
        )
        yield row, draw_case(played[run].trace, notes)


def drawn_cases(
    result: Mapping[str, Any], site: Site, net: Netlist, book: Mapping[str, Entry]
) -> list[DrawnCase]:
    """Return the worst runs of a result with their figures; none where it holds none."""
    rows = figures(result.get("worst", []), site, net, result["seed"])
    return [
        DrawnCase(case_of(row, book), figure, f"w{index}")
        for index, (row, figure) in enumerate(rows)
    ]
