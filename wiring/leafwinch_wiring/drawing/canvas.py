"""A sheet of paper that remembers every line and every label put on it.

All coordinates are in mm from the top left corner of the paper. Only straight lines,
rectangles, circles and texts are drawn, so that a reader of the file can work out where
everything lies.
"""

import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from itertools import pairwise
from types import MappingProxyType
from xml.sax.saxutils import escape, quoteattr

from leafwinch_wiring.drawing.texts import FAMILY, Box, Label, around, crosses, grown, overlap

PAGE_W, PAGE_H = 297.0, 210.0
"""A4 on its side, in mm (ISO 216)."""

THIN, THICK = 0.25, 0.5
"""Widths of lines in mm, two of the steps of ISO 128-2 (from memory)."""

Point = tuple[float, float]
Data = Mapping[str, str]
NOTHING: Data = MappingProxyType({})


def number(value: float) -> str:
    """Return a coordinate with at most three decimals and no trailing zeros."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def attributes(data: Data) -> str:
    """Return attributes as they stand in a tag, each with a blank in front."""
    return "".join(f" {name}={quoteattr(value)}" for name, value in data.items())


class Canvas:
    """Shapes and labels of one sheet, in the order in which they were drawn."""

    def __init__(self) -> None:
        self.parts: list[str] = []
        self.segments: list[Box] = []
        self.labels: list[Label] = []
        self.solids: list[Box] = []
        self.over: list[tuple[Point, float, bool]] = []

    @contextmanager
    def group(self, data: Data) -> Iterator[None]:
        """Put everything drawn inside into one group with attributes for a reader."""
        self.parts.append(f"<g{attributes(data)}>")
        yield
        self.parts.append("</g>")

    def line(
        self, *points: Point, dash: str = "", width: float = THIN, data: Data = NOTHING
    ) -> None:
        """Draw straight lines from point to point; `dash` is a pattern such as '1 0.6'."""
        for (x0, y0), (x1, y1) in pairwise(points):
            self.segments.append((x0, y0, x1, y1))
        where = " ".join(f"{number(x)},{number(y)}" for x, y in points)
        more = {"stroke-dasharray": dash} if dash else {}
        if width != THIN:
            more["stroke-width"] = number(width)
        self.parts.append(f'<polyline points="{where}"{attributes({**more, **data})}/>')

    def rect(self, box: Box, dash: str = "", width: float = THIN, data: Data = NOTHING) -> None:
        """Draw the outline of a rectangle."""
        left, top, right, bottom = box
        corners = ((left, top), (right, top), (right, bottom), (left, bottom), (left, top))
        for (x0, y0), (x1, y1) in pairwise(corners):
            self.segments.append((x0, y0, x1, y1))
        more = {"stroke-dasharray": dash} if dash else {}
        if width != THIN:
            more["stroke-width"] = number(width)
        self.parts.append(
            f'<rect x="{number(left)}" y="{number(top)}" width="{number(right - left)}"'
            f' height="{number(bottom - top)}"{attributes({**more, **data})}/>'
        )

    def circle(
        self, centre: Point, radius: float, filled: bool = False, data: Data = NOTHING
    ) -> None:
        """Draw a circle, which counts as the twelve-sided figure around it."""
        x, y = centre
        corners = [
            (x + radius * math.cos(turn * math.pi / 6), y + radius * math.sin(turn * math.pi / 6))
            for turn in range(13)
        ]
        for (x0, y0), (x1, y1) in pairwise(corners):
            self.segments.append((x0, y0, x1, y1))
        more = {"fill": "black"} if filled else {}
        self.parts.append(
            f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"'
            f"{attributes({**more, **data})}/>"
        )

    def text(self, label: Label) -> None:
        """Write a label."""
        self.labels.append(label)
        turn = f' transform="rotate(-90 {number(label.x)} {number(label.y)})"'
        data = dict(label.data)
        if label.bold:
            data["font-weight"] = "bold"
        self.parts.append(
            f'<text x="{number(label.x)}" y="{number(label.y)}"'
            f' font-size="{number(label.size)}" text-anchor="{label.anchor}"'
            f"{turn if label.upright else ''}{attributes(data)}>{escape(label.text)}</text>"
        )

    def bounds(self) -> Box:
        """Return the rectangle around all that was drawn."""
        lines = [
            (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)) for x0, y0, x1, y1 in self.segments
        ]
        return around(lines + [label.box() for label in self.labels])

    def label_fits(self, label: Label, area: Box, margin: float = 0.25) -> bool:
        """Return whether a label would lie in an area, clear of every line, label and solid."""
        box = grown(label.box(), margin)
        inside = box[0] >= area[0] and box[1] >= area[1]
        if not (inside and box[2] <= area[2] and box[3] <= area[3]):
            return False
        if any(overlap(box, other.box()) for other in self.labels):
            return False
        if any(overlap(box, solid) for solid in self.solids):
            return False
        return not any(crosses(box, segment) for segment in self.segments)

    def svg(self, title: str) -> str:
        """Return the whole file."""
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(PAGE_W)}mm"'
            f' height="{number(PAGE_H)}mm" viewBox="0 0 {number(PAGE_W)} {number(PAGE_H)}">'
            f"\n<title>{escape(title)}</title>\n"
            f'<g fill="none" stroke="black" stroke-width="{number(THIN)}"'
            f' stroke-linecap="round" stroke-linejoin="round">\n'
        )
        lines = "\n".join(part for part in self.parts if not part.startswith("<text"))
        dots = "\n".join(
            f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"'
            f' fill="{"black" if filled else "white"}"/>'
            for (x, y), radius, filled in self.over
        )
        texts = "\n".join(part for part in self.parts if part.startswith("<text"))
        return (
            f'{head}{lines}\n{dots}\n</g>\n<g fill="black" stroke="none"'
            f' font-family="{FAMILY}">\n{texts}\n</g>\n</svg>\n'
        )


def moved(label: Label, dx: float, dy: float) -> Label:
    """Return a label at another place."""
    return replace(label, x=label.x + dx, y=label.y + dy)
