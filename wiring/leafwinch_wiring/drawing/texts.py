"""How much room a text takes, and a label with its place on the paper.

Nothing here reads a font, so that a drawing is the same on every machine. The widths are
those of a wide, freely licensed sans-serif; the narrower ones take less room.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

SIZE_MM = 2.5
"""Height of ordinary letters in mm, 7.09 points. Below 7 points print is hard to read."""

LINE_MM = 3.1
"""Distance between lines of text in mm."""

FAMILY = "DejaVu Sans, Liberation Sans, Arial, Helvetica, sans-serif"

# Thousandths of the letter size, by letter.
_GROUPS = {
    280: "'ijl",
    300: "IJ",
    320: " ,.",
    340: "/:;\\|",
    355: "f",
    395: "-()[]t",
    415: "r!",
    505: '*_`"',
    535: "sz?",
    555: "c",
    600: "vxykLF",
    640: "$0123456789{}TYoaeEhnuSbdgpqP",
    700: "AVXZBCRK",
    790: "UNHDGOQ&",
    840: "#+<=>^~w",
    1000: "Mm%W@",
}
_WIDTHS = {letter: width / 1000.0 for width, letters in _GROUPS.items() for letter in letters}

BOLD = 1.25
"""How much wider bold letters may be than ordinary ones."""

Box = tuple[float, float, float, float]
"""Left, top, right and bottom in mm; y runs down the paper."""


@lru_cache(maxsize=8192)
def text_width(text: str, size_mm: float = SIZE_MM) -> float:
    """Return a cautious width in mm of a line of text; an unknown letter counts as the widest."""
    return size_mm * sum(_WIDTHS.get(letter, 1.0) for letter in text)


def wrap(text: str, width_mm: float, size_mm: float = SIZE_MM) -> list[str]:
    """Break a text into lines that fit a width in mm; a longer word keeps a line for itself."""
    lines: list[str] = []
    for word in _words(text):
        if lines and text_width(f"{lines[-1]} {word}", size_mm) <= width_mm:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return lines


def _words(text: str) -> list[str]:
    """Return the words of a text; a unit stays with the number before it."""
    words: list[str] = []
    for word in text.split():
        if words and len(word.rstrip(",;.")) <= 2 and words[-1][-1:].isdigit():
            words[-1] = f"{words[-1]} {word}"
        else:
            words.append(word)
    return words


@dataclass(frozen=True, slots=True)
class Label:
    """A line of text. `x` and `y` are where its baseline is held, in mm.

    `anchor` is start, middle or end. `upright` is True for a text that is read from the
    right-hand side of the paper, running upwards. `data` are attributes for a reader of
    the file, such as what a cross reference points at.
    """

    x: float
    y: float
    text: str
    anchor: str = "start"
    size: float = SIZE_MM
    upright: bool = False
    bold: bool = False
    data: tuple[tuple[str, str], ...] = ()

    def box(self) -> Box:
        """Return the rectangle that the text may fill; bold letters are wider."""
        width = text_width(self.text, self.size) * (BOLD if self.bold else 1.0)
        start = {"start": 0.0, "middle": -width / 2.0, "end": -width}[self.anchor]
        up, down = 0.76 * self.size, 0.24 * self.size
        if self.upright:
            return (self.x - up, self.y - start - width, self.x + down, self.y - start)
        return (self.x + start, self.y - up, self.x + start + width, self.y + down)


def overlap(one: Box, other: Box) -> bool:
    """Return whether two rectangles share an area."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def grown(box: Box, by: float) -> Box:
    """Return a rectangle with a margin in mm on every side."""
    return (box[0] - by, box[1] - by, box[2] + by, box[3] + by)


def crosses(box: Box, segment: Box) -> bool:
    """Return whether the line from (x0, y0) to (x1, y1) enters a rectangle.

    The line is clipped against each side in turn (the method of Liang and Barsky, 1984).
    """
    x, y, x1, y1 = segment
    left, top, right, low = box
    # Most lines lie wholly on one side, which needs no clipping.
    if (x <= left and x1 <= left) or (x >= right and x1 >= right):
        return False
    if (y <= top and y1 <= top) or (y >= low and y1 >= low):
        return False
    dx, dy = x1 - x, y1 - y
    enter, leave = 0.0, 1.0
    for step, room in ((-dx, x - left), (dx, right - x), (-dy, y - top), (dy, low - y)):
        if step == 0.0:
            if room <= 0.0:
                return False
        elif step < 0.0:
            enter = max(enter, room / step)
        else:
            leave = min(leave, room / step)
    return enter < leave


def around(boxes: Iterable[Box]) -> Box:
    """Return the rectangle around all given ones, of which there must be at least one."""
    every = list(boxes)
    return (
        min(box[0] for box in every),
        min(box[1] for box in every),
        max(box[2] for box in every),
        max(box[3] for box in every),
    )
