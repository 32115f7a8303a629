"""Reads a circuit drawing back from its SVG, without a line of the code that drew it."""

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextToPath

SVG = "{http://www.w3.org/2000/svg}"
Point = tuple[float, float]
Box = tuple[float, float, float, float]


@lru_cache(maxsize=4096)
def true_width(text: str, bold: bool) -> float:
    """Width in letter sizes of a text in DejaVu Sans, by the metrics of its font file."""
    face = FontProperties(family="DejaVu Sans", size=100, weight="bold" if bold else "normal")
    return float(TextToPath().get_text_width_height_descent(text, face, False)[0]) / 100.0


@dataclass
class Text:
    """One text with the rectangle it fills in DejaVu Sans."""

    text: str
    size: float
    box: Box
    data: dict[str, str]


@dataclass
class Wire:
    """One line of a wire: from end to end, or a stub at the terminal `end`."""

    mark: str
    a: str
    b: str
    end: str
    points: list[Point]


@dataclass
class Group:
    """One item: what it stands for, and its undashed lines."""

    data: dict[str, str]
    lines: list[list[Point]] = field(default_factory=list)

    def names(self, key: str) -> list[str]:
        return self.data.get(key, "").split()


@dataclass
class Page:
    """Everything found on one sheet."""

    size: Point
    groups: list[Group] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    wires: list[Wire] = field(default_factory=list)
    segments: list[Box] = field(default_factory=list)
    terminals: dict[str, list[Point]] = field(default_factory=dict)

    def path_at(self, x: float) -> int:
        """Number of the path that holds a place, by the strip at the top of the sheet."""
        found = [
            int(text.data["data-path"])
            for text in self.texts
            if "data-path" in text.data
            and float(text.data["data-x0"]) <= x < float(text.data["data-x1"])
        ]
        assert len(found) == 1
        return found[0]


def read_page(svg: str) -> Page:
    """Read one sheet."""
    root = ET.fromstring(svg)
    box = [float(number) for number in root.attrib["viewBox"].split()]
    page = Page((box[2], box[3]))
    for child in root:
        _read(child, page, None)
    return page


def _data(node: ET.Element) -> dict[str, str]:
    return {key: value for key, value in node.attrib.items() if key.startswith("data-")}


def _read(node: ET.Element, page: Page, group: Group | None) -> None:
    tag = node.tag.removeprefix(SVG)
    if tag == "g" and "data-part" in node.attrib:
        group = Group(_data(node))
        page.groups.append(group)
    elif tag == "polyline":
        pairs = [pair.split(",") for pair in node.attrib["points"].split()]
        points = [(float(x), float(y)) for x, y in pairs]
        page.segments += [(*one, *other) for one, other in pairwise(points)]
        if group is not None and "stroke-dasharray" not in node.attrib:
            group.lines.append(points)
        data = _data(node)
        if "data-mark" in data:
            end = data.get("data-end", "")
            wire = Wire(data["data-mark"], data["data-from"], data["data-to"], end, points)
            page.wires.append(wire)
    elif tag == "rect":
        x, y, w, h = (float(node.attrib[key]) for key in ("x", "y", "width", "height"))
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)]
        page.segments += [(*one, *other) for one, other in pairwise(corners)]
    elif tag == "circle":
        x, y, r = (float(node.attrib[key]) for key in ("cx", "cy", "r"))
        if "data-terminal" in node.attrib:
            page.terminals.setdefault(node.attrib["data-terminal"], []).append((x, y))
        else:
            turns = [index * math.tau / 24.0 for index in range(25)]
            ring = [(x + r * math.cos(turn), y + r * math.sin(turn)) for turn in turns]
            page.segments += [(*one, *other) for one, other in pairwise(ring)]
    elif tag == "text":
        page.texts.append(_text(node))
    for child in node:
        _read(child, page, group)


def _text(node: ET.Element) -> Text:
    """A text's rectangle: from the height of an ascender to the depth of a descender."""
    text = node.text or ""
    size = float(node.attrib["font-size"])
    x, y = float(node.attrib["x"]), float(node.attrib["y"])
    width = size * true_width(text, node.attrib.get("font-weight") == "bold")
    shift = {"start": 0.0, "middle": -width / 2.0, "end": -width}[node.attrib["text-anchor"]]
    box = (x + shift, y - 0.76 * size, x + shift + width, y + 0.24 * size)
    turn = node.attrib.get("transform", "")
    if turn:
        assert re.fullmatch(r"rotate\(-90 [\d.]+ [\d.]+\)", turn)
        box = (x - 0.76 * size, y - shift - width, x + 0.24 * size, y - shift)
    return Text(text, size, box, _data(node))
