"""The paper divided: where the grid lies, what each sheet holds, and current paths.

The drawing grid has its origin at the top left of the drawing area. A *path* is a numbered
strip from top to bottom; a place is told as sheet.path, such as 2.4.
"""

from dataclasses import dataclass, field

from leafwinch_wiring.drawing.canvas import Canvas
from leafwinch_wiring.drawing.items import GRID_MM, TALL, Item
from leafwinch_wiring.drawing.symbols import draw
from leafwinch_wiring.drawing.texts import Box

LEFT_MM, TOP_MM = 11.0, 17.5
"""Where the grid begins, in mm from the corner of the paper."""

COLUMNS = 110
"""Width of the grid in steps."""

ROWS, ROWS_TALL = 57, 67
"""Height of the grid in steps above cross-reference tables, and without them."""

FRAME: Box = (8.5, 7.5, 288.5, 202.5)
"""The border of the sheet, in mm."""

HEAD_MM = 12.5
"""Lower edge of the strip with the path numbers, in mm."""

TITLE_MM = 189.5
"""Upper edge of the title block, in mm."""

TABLES_MM = 163.0
"""Upper edge of the cross-reference tables, in mm."""


def mm(x: float, y: float) -> tuple[float, float]:
    """Return the place on the paper, in mm, of a grid point."""
    return LEFT_MM + GRID_MM * x, TOP_MM + GRID_MM * y


@dataclass(slots=True)
class Plan:
    """What one sheet holds. `walls` are the left edges of its paths in grid steps.

    `tables` are references of parts with a coil on this sheet; `rows` is its grid's height.
    `notes` are texts with their left edge, the row above them and their width.
    """

    title: str
    items: list[Item] = field(default_factory=list)
    walls: list[float] = field(default_factory=list)
    tables: list[str] = field(default_factory=list)
    rows: int = ROWS_TALL
    notes: list[tuple[int, int, str, int]] = field(default_factory=list)

    def path_at(self, x: float) -> int:
        """Return the number of the path, from 1, that holds a grid column."""
        return max(1, sum(1 for wall in self.walls if wall <= x))


def extents(item: Item, home: str) -> tuple[int, int, int, int]:
    """Return how far an item with its labels reaches left, up, right and down of its pin.

    In whole grid steps; the item is drawn on a trial sheet to find out.
    """
    canvas = Canvas()
    draw(canvas, item, 0.0, 0.0, lambda _: "9.9", home)
    left, top, right, bottom = canvas.bounds()

    def steps(length: float) -> int:
        return max(0, int(-(-(length - 0.01) // GRID_MM)))

    return steps(-left), steps(-top), steps(right), steps(bottom)


def height(item: Item) -> int:
    """Return the height of an item's pins and outline in grid steps, its labels left out."""
    return {"terminal": 0, "earth": 2, "motor": 7, "brake": 7, "block": TALL + 2}.get(
        item.kind, TALL
    )


def home_of(net_items: list[Item]) -> str:
    """Return the location that holds most items; only others are named in a drawing."""
    places = [item.part.at for item in net_items]
    return max(dict.fromkeys(places), key=places.count) if places else ""
