"""Draws the matrix of defects and moments as inline SVG, one block for each part.

A block is kept short so that it fits on a sheet of paper, and each repeats the numbers of
the moments at its top.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

from leafwinch_host.report.verdicts import BY_NAME, VERDICTS

CELL = 13
LABEL_WIDTH = 190
LABEL_LETTERS_MAX = 32
HEAD_HEIGHT = 18
ROWS_MAX = 44


@dataclass(frozen=True, slots=True)
class Cell:
    """One run: a defect that came at a moment.

    Attributes:
        defect: id of the defect.
        moment: which moment, counted from 0.
        verdict: a name out of `verdicts.VERDICTS`.
        note: what happened, shown when the pointer rests on the cell.
    """

    defect: str
    moment: int
    verdict: str
    note: str


@dataclass(frozen=True, slots=True)
class Block:
    """One drawn part of the matrix with the heading that goes above it."""

    heading: str
    svg: Markup


def symbols() -> Markup:
    """Return the invisible drawing that holds one symbol for each verdict."""
    parts = [
        f'<g id="v-{verdict.name}" class="v {verdict.name}">{verdict.shape}</g>'
        for verdict in VERDICTS
    ]
    # The shapes are this package's own text, so nothing foreign passes unescaped.
    drawn = "".join(parts)
    return Markup(f'<svg class="symbols" aria-hidden="true"><defs>{drawn}</defs></svg>')


def blocks(
    cells: Iterable[Cell], groups: Sequence[tuple[str, Sequence[str]]], moments: Sequence[str]
) -> list[Block]:
    """Return the drawn blocks of the matrix.

    Args:
        cells: every run.
        groups: heading and ids of the defects, in the order to show.
        moments: words for each moment, in order.
    """
    rows: dict[str, dict[int, Cell]] = {}
    for cell in cells:
        row = rows.setdefault(cell.defect, {})
        before = row.get(cell.moment)
        if before is None or BY_NAME[before.verdict].rank < BY_NAME[cell.verdict].rank:
            row[cell.moment] = cell
    drawn = []
    for heading, ids in groups:
        for start in range(0, len(ids), ROWS_MAX):
            part = ids[start : start + ROWS_MAX]
            title = heading if start == 0 else f"{heading}, continued"
            drawn.append(Block(title, _block(title, part, rows, moments)))
    return drawn


def width_of(moments: int) -> int:
    """Return the width in CSS pixels of a block with so many moments."""
    return LABEL_WIDTH + CELL * moments + 2


def _block(
    title: str, ids: Sequence[str], rows: dict[str, dict[int, Cell]], moments: Sequence[str]
) -> Markup:
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
    for line, defect in enumerate(ids):
        parts.append(_row(defect, line, rows.get(defect, {}), len(moments)))
    parts.append("</svg>")
    return Markup("".join(parts))


def _row(defect: str, line: int, row: dict[int, Cell], moments: int) -> str:
    top = HEAD_HEIGHT + CELL * line
    parts = []
    if line % 2 == 0:
        parts.append(
            f'<rect class="stripe" x="0" y="{top}" '
            f'width="{LABEL_WIDTH + CELL * moments}" height="{CELL}"/>'
        )
    parts.append(
        f'<text class="label" x="{LABEL_WIDTH - 6}" y="{top + 10}">{escape(shortened(defect))}'
        f"<title>{escape(defect)}</title></text>"
    )
    for index in range(moments):
        cell = row.get(index)
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
    return "".join(parts)


def shortened(text: str) -> str:
    """Return the text, its middle left out where it is longer than a label may be."""
    if len(text) <= LABEL_LETTERS_MAX:
        return text
    half = (LABEL_LETTERS_MAX - 1) // 2
    return f"{text[:half]}…{text[-half:]}"
