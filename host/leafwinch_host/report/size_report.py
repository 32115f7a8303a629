"""The report of a sizing as one HTML file that needs nothing from elsewhere."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from markupsafe import Markup
from matplotlib.figure import Figure

from leafwinch_host import version
from leafwinch_host.report import size_tables, size_words, strength_tables, words
from leafwinch_host.report.band_plot import INPUT_COLOURS, band_figure
from leafwinch_host.report.end_drawing import DRAWING_COLOURS, end_drawing
from leafwinch_host.report.made import page
from leafwinch_host.report.prove_report import cautions_for
from leafwinch_host.report.prove_words import Tile
from leafwinch_host.report.size_plots import (
    COLOURS,
    current_figure,
    overrun_figure,
    pull_figure,
    start_figure,
)
from leafwinch_host.report.size_tables import Table
from leafwinch_host.report.supply_table import supply_table
from leafwinch_host.report.svg import document_svg, page_svg
from leafwinch_sim.sizing.finding import LEVEL_WORDS
from leafwinch_sim.sizing.force_part import CLEARLY
from leafwinch_sim.sizing.size import NO, SENTENCES, YES, Sizing

MARKS = {YES: "✓", NO: "✕"}
VERDICT_CLASSES = {YES: "holds", NO: "broken"}
SIZING_LEGAL = words.LEGAL.replace("it is a simulation of a design", "it is reckoned from a design")


@dataclass(frozen=True, slots=True)
class FindingWords:
    """One finding as it is shown; `css` is its level."""

    code: str
    css: str
    level: str
    what: str
    why: str
    change: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """One figure: its name, what it shows in words, and its colours by variable."""

    name: str
    words: str
    figure: Figure
    colours: Mapping[str, str]

    def page_svg(self) -> Markup:
        """Return it for the page, where its colours follow the theme."""
        return page_svg(self.figure, self.name, self.words, self.colours)

    def document_svg(self) -> bytes:
        """Return it for a document, its letters drawn."""
        return document_svg(self.figure)


@dataclass(frozen=True, slots=True)
class SizeReport:
    """Everything that the templates show, ready as text.

    Attributes:
        title, summary: of the site; verdict, mark, css, sentence: of the sizing.
        legal, cautions: of every report; over water drowning comes first.
        findings: worst first.
        tiles: the large numbers.
        tables: by their key, see `size_tables`.
        drawings: by their name.
        window: why the trip lies where it lies; obstacle: what the forces mean; bands: what
            matters most; assumed, not_judged: what the numbers rest on.
        origin: what is needed to make the same report again.
    """

    title: str
    summary: str
    verdict: str
    mark: str
    css: str
    sentence: str
    legal: str
    cautions: tuple[words.Caution, ...]
    findings: list[FindingWords]
    tiles: list[Tile]
    tables: dict[str, Table]
    drawings: dict[str, Drawing]
    window: list[str]
    obstacle: list[str]
    bands: list[str]
    assumed: list[str]
    not_judged: tuple[str, ...]
    origin: list[tuple[str, str]]


def build(sizing: Sizing, seed: int = 1) -> SizeReport:
    """Turn a sizing into the texts, tables and drawings of its report.

    Args:
        sizing: what `leafwinch_sim.sizing.size.size_site` returned.
        seed: that of its bands, for the origin.
    """
    parts = sizing.parts
    site, net = parts.worked.site, parts.worked.net
    forces = parts.forces
    return SizeReport(
        title=f"{site.name} with wiring {net.name}",
        summary=site.summary,
        verdict=sizing.verdict,
        mark=MARKS.get(sizing.verdict, "!"),
        css=VERDICT_CLASSES.get(sizing.verdict, "conditions"),
        sentence=SENTENCES[sizing.verdict],
        legal=SIZING_LEGAL,
        cautions=cautions_for(site),
        findings=[
            FindingWords(f.code, f.level, LEVEL_WORDS[f.level], f.what, f.why, f.change)
            for f in sizing.findings
        ],
        tiles=size_words.tiles(parts),
        tables={table.key: table for table in _tables(sizing)},
        drawings={drawing.name: drawing for drawing in drawings(sizing)},
        window=size_words.window_words(parts),
        obstacle=[
            f"What the free end presses on, just below the trip. {forces.closing.words}",
            f"What lies beneath the folding leaves, weight alone. {forces.weight.words}",
            CLEARLY,
        ],
        bands=size_words.band_words(sizing.bands),
        assumed=size_words.assumed(parts),
        not_judged=size_words.NOT_JUDGED,
        origin=origin(sizing, seed),
    )


def _tables(sizing: Sizing) -> list[Table]:
    parts = sizing.parts
    return [
        *(
            make(parts)
            for make in (
                size_tables.pull_table,
                size_tables.kicker_table,
                size_tables.start_table,
                size_tables.window_table,
                size_tables.places_table,
                size_tables.stops_table,
                strength_tables.rope_table,
                strength_tables.forces_table,
                supply_table,
                size_tables.duty_table,
                size_tables.obstacle_table,
                size_tables.settings_table,
            )
        ),
        size_words.practice_table(),
    ]


def drawings(sizing: Sizing) -> list[Drawing]:
    """Return every figure of the report, in its order."""
    parts = sizing.parts
    return [
        Drawing(
            "pull",
            "Line pull at the drum over the fold angle, raising and lowering, with its band and "
            "what the winch's plate allows",
            pull_figure(parts),
            COLOURS,
        ),
        Drawing(
            "starting",
            "Starting torque of the motor on a low supply beside the torque that is needed",
            start_figure(parts),
            COLOURS,
        ),
        Drawing(
            "current",
            "Motor current over the fold angle, raising and lowering, with the window for the "
            "trip, and the starting current beside its trip",
            current_figure(parts),
            COLOURS,
        ),
        Drawing(
            "ends",
            "Side view to scale of the deck flat, at the top end, at the top final and at the "
            "buffer, with the place of every limit",
            end_drawing(parts),
            DRAWING_COLOURS,
        ),
        Drawing(
            "overruns",
            "How far rope and fastest point run on after each kind of stop",
            overrun_figure(parts),
            COLOURS,
        ),
        Drawing(
            "bands",
            "Range of each uncertain result and the part of it that comes from each input",
            band_figure(sizing.bands),
            {**COLOURS, **{f"input-{name}": tone for name, tone in INPUT_COLOURS.items()}},
        ),
    ]


def origin(sizing: Sizing, seed: int) -> list[tuple[str, str]]:
    """Return what is needed to make the same report again."""
    worked = sizing.parts.worked
    text = worked.site.model_dump_json()
    return [
        ("site", worked.site.name),
        ("site SHA-256", hashlib.sha256(text.encode("utf-8")).hexdigest()),
        ("wiring", worked.net.name),
        ("netlist SHA-256", worked.net.content_hash),
        ("seed of the bands", str(seed)),
        ("leafwinch", version()),
    ]


def size_html(sizing: Sizing, report: SizeReport | None = None) -> str:
    """Return the report of one sizing as one HTML page.

    Args:
        sizing: what `leafwinch_sim.sizing.size.size_site` returned.
        report: what `build` returned for it, where that was needed before.
    """
    return page("size", r=report or build(sizing))
