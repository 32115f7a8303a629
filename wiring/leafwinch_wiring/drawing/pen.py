"""A pen that draws one item relative to its own corner, on the paper or on a trial sheet."""

from collections.abc import Callable
from dataclasses import dataclass

from leafwinch_wiring.drawing.canvas import NOTHING, THIN, Canvas, Data, Point
from leafwinch_wiring.drawing.texts import SIZE_MM, Label

Where = Callable[[str], str]
"""Tells where a terminal or coil is drawn, as sheet.path."""


@dataclass(frozen=True, slots=True)
class Pen:
    """Draws on a canvas from an origin in mm. `where` answers cross references."""

    canvas: Canvas
    x: float
    y: float
    where: Where

    def line(self, *points: Point, dash: str = "", width: float = THIN) -> None:
        """Draw lines through points relative to the origin."""
        moved = [(self.x + x, self.y + y) for x, y in points]
        self.canvas.line(*moved, dash=dash, width=width)

    def rect(self, x0: float, y0: float, x1: float, y1: float, dash: str = "") -> None:
        """Draw a rectangle relative to the origin."""
        self.canvas.rect((self.x + x0, self.y + y0, self.x + x1, self.y + y1), dash=dash)

    def circle(self, x: float, y: float, radius: float, filled: bool = False) -> None:
        """Draw a circle relative to the origin."""
        self.canvas.circle((self.x + x, self.y + y), radius, filled)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        anchor: str = "start",
        bold: bool = False,
        data: Data = NOTHING,
    ) -> None:
        """Write a text whose middle line is at y."""
        place = Label(
            self.x + x,
            self.y + y + 0.26 * SIZE_MM,
            text,
            anchor,
            bold=bold,
            data=tuple(data.items()),
        )
        self.canvas.text(place)
