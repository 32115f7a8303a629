"""Where the mark of a wire may stand, and the reference at the end of a stub."""

from collections.abc import Iterable, Iterator
from itertools import pairwise

from leafwinch_wiring.drawing.items import GRID_MM
from leafwinch_wiring.drawing.plan import LEFT_MM, TOP_MM
from leafwinch_wiring.drawing.router import Cell
from leafwinch_wiring.drawing.texts import SIZE_MM, Label, text_width
from leafwinch_wiring.netlist import WireData

BESIDE = 0.65
"""Room between a line and the mark beside it, in mm."""


def mark_places(mark: str, points: list[tuple[float, float]]) -> Iterator[Label]:
    """Yield places for a mark along a line, the middle of its longest stretches first."""
    pieces = sorted(
        pairwise(points),
        key=lambda piece: -abs(piece[1][0] - piece[0][0]) - abs(piece[1][1] - piece[0][1]),
    )
    width = text_width(mark)
    for upright in (False, True):
        for (x0, y0), (x1, y1) in pieces:
            level = y0 == y1
            long = abs(x1 - x0) + abs(y1 - y0)
            need = width if level != upright else SIZE_MM
            if level and upright:
                continue
            slack = max(0.0, (long - need) / 2.0 - 0.4)
            steps = int(slack / 1.25)
            for step in sorted(range(-steps, steps + 1), key=abs):
                x, y = (x0 + x1) / 2.0, (y0 + y1) / 2.0
                shift = step * 1.25
                if level:
                    for low in (y - BESIDE - 0.24 * SIZE_MM, y + BESIDE + 0.76 * SIZE_MM):
                        yield Label(x + shift, low, mark, "middle")
                elif upright:
                    for side in (x - BESIDE - 0.24 * SIZE_MM, x + BESIDE + 0.76 * SIZE_MM):
                        yield Label(side, y + shift, mark, "middle", upright=True)
                else:
                    base = y + shift + 0.26 * SIZE_MM
                    yield Label(x + BESIDE, base, mark, "start")
                    yield Label(x - BESIDE, base, mark, "end")


def stub_label(text: str, wire: WireData, far: str, end: tuple[float, float], way: str) -> Label:
    """Return the reference at the end of a stub that arrives in direction N, E, S or W."""
    x, y = end
    data = (("data-xref", far), ("data-ref-mark", wire.mark))
    middle = 0.26 * SIZE_MM
    if way == "E":
        return Label(x + 0.7, y + middle, text, "start", data=data)
    if way == "W":
        return Label(x - 0.7, y + middle, text, "end", data=data)
    if way == "N":
        return Label(x + middle, y - 0.7, text, "start", upright=True, data=data)
    return Label(x + middle, y + 0.7, text, "end", upright=True, data=data)


def clear_of_aprons(label: Label, aprons: Iterable[Cell], own: set[Cell]) -> bool:
    """Return whether a label leaves open the cells in front of pins that wait for wires.

    `aprons` are those cells; `own` are the cells of the way that the label belongs to.
    """
    left, top, right, low = label.box()
    return not any(
        left - 0.3 < LEFT_MM + GRID_MM * x < right + 0.3
        and top - 0.3 < TOP_MM + GRID_MM * y < low + 0.3
        for x, y in aprons
        if (x, y) not in own
    )
