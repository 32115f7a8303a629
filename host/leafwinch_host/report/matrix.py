"""Draws the matrix of defects and moments as inline SVG, one block for each part.

A block is kept short so that it fits on a sheet of paper, and each repeats the numbers of
the moments at its top.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from leafwinch_host.report.verdicts import BY_NAME, VERDICTS, Verdict

CELL = 13
LABEL_WIDTH = 190
LABEL_LETTERS_MAX = 32
HEAD_HEIGHT = 18
ROWS_MAX = 44
NUMBER_WIDTH = 40
NUMBERS = (
    ("run-on ms", "longest time from a release to motor and brake coil off"),
    ("over mm", "longest way of the free end after a release"),
)
# The colours of the page's style sheet for print.
DOCUMENT_STYLE = (
    "text{font-family:'DejaVu Sans Mono';font-size:9.5px;fill:#000}"
    ".label,.number{text-anchor:end}.head{font-size:8px;fill:#444;text-anchor:middle}"
    ".number.head{text-anchor:end;font-size:7px}"
    ".stripe{fill:#f2f2f2}.v{fill:currentColor;stroke:none}"
    ".unaffected{color:#888}.found{color:#2f86b8}.latent{color:#8a6100}"
    ".unpreventable{color:#5d438a}.undetected{color:#a84e00}.broken{color:#9c1c15}"
    '.v [fill="none"]{stroke:currentColor}.v .on{stroke:#fff;fill:none}'
)


@dataclass(frozen=True, slots=True)
class Cell:
    """One run: a defect that came at a moment.

    Attributes:
        defect: id of the defect.
        moment: which moment, counted from 0.
        verdict: a name out of `verdicts.VERDICTS`.
        note: what happened, shown when the pointer rests on the cell.
        reaction_ms: longest run-on after a release.
        overrun_mm: longest way of the free end after a release.
    """

    defect: str
    moment: int
    verdict: str
    note: str
    reaction_ms: float = 0.0
    overrun_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Row:
    """All cells of one defect by moment, and the worst of what was measured in all its runs."""

    cells: dict[int, Cell]
    reaction_ms: float
    overrun_mm: float


@dataclass(frozen=True, slots=True)
class Block:
    """One drawn part of the matrix with the heading that goes above it."""

    heading: str
    svg: Markup


def symbols() -> Markup:
    """Return the invisible drawing that holds one symbol for each verdict."""
    # The shapes are this package's own text, so nothing foreign passes unescaped.
    return Markup(f'<svg class="symbols" aria-hidden="true"><defs>{_shapes()}</defs></svg>')


def _shapes() -> str:
    return "".join(
        f'<g id="v-{verdict.name}" class="v {verdict.name}">{verdict.shape}</g>'
        for verdict in VERDICTS
    )


def blocks(
    cells: Iterable[Cell], groups: Sequence[tuple[str, Sequence[str]]], moments: Sequence[str]
) -> list[Block]:
    """Return the drawn blocks of the matrix.

    Args:
        cells: every run.
        groups: heading and ids of the defects, in the order to show.
        moments: words for each moment, in order.
    """
    runs: dict[str, list[Cell]] = {}
    for cell in cells:
        runs.setdefault(cell.defect, []).append(cell)
    rows = {defect: _row_of(own) for defect, own in runs.items()}
    drawn = []
    for heading, ids in groups:
        for start in range(0, len(ids), ROWS_MAX):
            part = ids[start : start + ROWS_MAX]
            title = heading if start == 0 else f"{heading}, continued"
            drawn.append(Block(title, _block(title, part, rows, moments)))
    return drawn


def width_of(moments: int) -> int:
    """Return the width in CSS pixels of a block with so many moments."""
    return LABEL_WIDTH + CELL * moments + 2 * NUMBER_WIDTH + 2


def _row_of(runs: Sequence[Cell]) -> Row:
    """Put the runs of one defect into a row; of several at one moment the worst is shown."""
    cells: dict[int, Cell] = {}
    for cell in runs:
        before = cells.get(cell.moment)
        if before is None or BY_NAME[before.verdict].rank < BY_NAME[cell.verdict].rank:
            cells[cell.moment] = cell
    return Row(cells, max(cell.reaction_ms for cell in runs), max(cell.overrun_mm for cell in runs))


def _block(title: str, ids: Sequence[str], rows: dict[str, Row], moments: Sequence[str]) -> Markup:
    width = width_of(len(moments))
    height = HEAD_HEIGHT + CELL * len(ids) + 2
    parts = [
        f'<svg class="matrix" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'role="img" aria-label="{escape(title)}: {len(ids)} defects at {len(moments)} moments">'
    ]
    for index, words in enumerate(moments):
        x = LABEL_WIDTH + CELL * index + CELL / 2
        parts.append(
            f'<text class="head" x="{x:g}" y="{HEAD_HEIGHT - 6}">{index + 1}'
            f"<title>{escape(words)}</title></text>"
        )
    for column, (unit, words) in enumerate(NUMBERS):
        x = LABEL_WIDTH + CELL * len(moments) + NUMBER_WIDTH * (column + 1)
        parts.append(
            f'<text class="number head" x="{x}" y="{HEAD_HEIGHT - 6}">{unit}'
            f"<title>{words}</title></text>"
        )
    for line, defect in enumerate(ids):
        parts.append(_row(defect, line, rows.get(defect, Row({}, 0.0, 0.0)), len(moments)))
    parts.append("</svg>")
    return Markup("".join(parts))


def _row(defect: str, line: int, row: Row, moments: int) -> str:
    top = HEAD_HEIGHT + CELL * line
    parts = []
    if line % 2 == 0:
        parts.append(
            f'<rect class="stripe" x="0" y="{top}" '
            f'width="{width_of(moments) - 2}" height="{CELL}"/>'
        )
    parts.append(
        f'<text class="label" x="{LABEL_WIDTH - 6}" y="{top + 10}">{escape(shortened(defect))}'
        f"<title>{escape(defect)}</title></text>"
    )
    for index in range(moments):
        cell = row.cells.get(index)
        if cell is None:
            continue
        x = LABEL_WIDTH + CELL * index + 1.5
        place = f'<use href="#v-{cell.verdict}" x="{x:g}" y="{top + 1.5:g}"'
        if cell.verdict == VERDICTS[0].name:
            # A dot says all there is to say, and there are thousands of them.
            parts.append(f"{place}/>")
            continue
        note = escape(f"{defect} at {index + 1}: {cell.note}")
        parts.append(f"{place}><title>{note}</title></use>")
    for column, value in enumerate((f"{row.reaction_ms:g}", f"{row.overrun_mm:.1f}")):
        if float(value):
            x = LABEL_WIDTH + CELL * moments + NUMBER_WIDTH * (column + 1)
            parts.append(f'<text class="number" x="{x}" y="{top + 10}">{value}</text>')
    return "".join(parts)


def document_svg(svg: str) -> str:
    """Return a block of the matrix as a drawing of its own, for a document on white paper."""
    head, body = svg.split(">", 1)
    return (
        f'{head} xmlns="http://www.w3.org/2000/svg"><style>{DOCUMENT_STYLE}</style>'
        f"<defs>{_shapes()}</defs>{body}"
    )


def shortened(text: str) -> str:
    """Return the text, its middle left out where it is longer than a label may be."""
    if len(text) <= LABEL_LETTERS_MAX:
        return text
    half = (LABEL_LETTERS_MAX - 1) // 2
    return f"{text[:half]}…{text[-half:]}"


def legend_svg(verdict: Verdict) -> str:
    """Return the symbol of a verdict as a drawing of its own, for a document on white paper."""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10" width="10" height="10">'
        f'<style>{DOCUMENT_STYLE}</style><g class="v {verdict.name}">{verdict.shape}</g></svg>'
    )
