"""Draws where to measure: one sheet A4 as SVG, with what was answered beside each letter."""

import math

from leafwinch_host.new_site.answers import PARTS, UNKNOWN, Answers
from leafwinch_host.new_site.question import Question
from leafwinch_host.new_site.questions import QUESTIONS
from leafwinch_host.new_site.svg_shapes import (
    INK,
    angle,
    bar,
    box,
    circle,
    dimension,
    heading,
    line,
    path,
    pointer,
    text,
)

WIDTH, HEIGHT = 1123, 794  # A4 across at 96 px to the inch
LEGEND_X = 742.0
WOOD, STEEL, WALL, RUBBER, ROPE = "#e8d3a9", "#c5ced6", "#dcdcd8", "#5d6b75", "#2f6f9f"
_LONGEST = 44  # letters of a line in the legend

_OPEN = "........................"  # to be filled in by hand

# What the letters mean, by the keys of their questions.
LEGEND: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("A", "leaf A, wall hinge pin to mid hinge pin", ("leaf_length",)),
    ("B", "leaf B, mid hinge pin to wheel axle", ("leaf_b_length",)),
    ("C", "width of the floor, across (not drawn)", ("width",)),
    ("D", "mid hinge pin down to the rope at the roller", ("kicker_depth",)),
    ("E", "angle of leaf A, deck against the wall", ("wall_angle",)),
    ("F", "angle of leaf A, free end at the buffer", ("buffer_angle",)),
    ("G", "rope, drum to the wall's sheave; sheaves", ("lead", "lead_sheaves")),
    ("H", "bare drum; turns on it with a flat deck", ("drum_diameter", "turns_at_flat")),
    ("J", "drum between its flanges", ("drum_width",)),
    ("K", "flanges of the drum", ("flange_diameter",)),
    ("L", "rope, over two opposite strands", ("rope_diameter",)),
    ("M", "smallest sheave, bottom of its groove", ("sheave_diameter",)),
    ("N", "hinge pin, the thickest", ("pin_diameter",)),
    ("P", "mass of a leaf, weighed or of its parts", ("leaf_mass", "leaf_b_mass")),
    ("Q", "wheels, axle, moving sheave: mass together", ("end_mass",)),
)


def measure_drawing(answers: Answers) -> str:
    """Return the drawing as SVG text; answers that there are stand beside their letters."""
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="297mm" height="210mm" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" font-family="DejaVu Sans, Arial, sans-serif" '
        f'fill="{INK}">',
        "<title>Where to measure a two-leaf floor and its winch</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fcfcfa"/>',
        heading(28, 38, "Where to measure", 21),
        text(268, 38, "not to scale; prop the deck and isolate the winch first", 13),
        *_half_folded(),
        *_flat(),
        *_folded(),
        *_drum(),
        *_legend(answers),
        "</svg>",
        "",
    ]
    return "\n".join(parts)


def _wall(x: float, top: float, bottom: float) -> str:
    return box(x - 26, top, 26, bottom - top, WALL)


def _half_folded() -> list[str]:
    wall, level, leaf, raised = 92.0, 330.0, 285.0, math.radians(36.0)
    hinge = (wall + 14, level)
    mid = (hinge[0] + leaf * math.cos(raised), level - leaf * math.sin(raised))
    end = (mid[0] + leaf * math.cos(raised), level)
    aside = (-24 * math.sin(raised), -24 * math.cos(raised))
    drum = (wall + 66, level + 66)
    return [
        heading(28, 74, "Half folded, from the side"),
        _wall(wall, 92, level + 104),
        text(wall - 30, 106, "wall", 12, "end"),
        line(wall, level + 22, wall + 26, level + 22, 2),
        line(end[0] - 40, level + 18, end[0] + 70, level + 18, 2),
        text(end[0] + 70, level + 36, "floor", 12, "end"),
        # The two rope parts, and the lead to the drum.
        line(hinge[0] + 8, level - 4, end[0], level - 4, 1.8, ROPE),
        line(hinge[0] + 8, level + 4, end[0], level + 4, 1.8, ROPE),
        path([(hinge[0] + 16, level + 4), (drum[0] + 4, drum[1] - 17)], 1.8, ROPE),
        text(356, level - 10, "rope, two parts", 12, "middle"),
        bar(*hinge, *mid, 13, WOOD),
        bar(*mid, *end, 13, WOOD),
        line(mid[0], mid[1], mid[0], mid[1] + 62, 6, "#8d99a3"),
        circle(mid[0], mid[1] + 66, 8, STEEL),
        text(mid[0] + 15, mid[1] + 80, "kicker post", 12),
        text(mid[0] + 15, mid[1] + 95, "and roller", 12),
        circle(*hinge, 6, STEEL),
        circle(*mid, 6, STEEL),
        circle(end[0], end[1] + 2, 15, STEEL),
        circle(end[0], end[1] + 2, 7),
        text(end[0] + 22, end[1] - 18, "wheels and", 12),
        text(end[0] + 22, end[1] - 4, "moving sheave", 12),
        circle(hinge[0] + 8, level + 14, 9),
        circle(*drum, 17, STEEL),
        circle(*drum, 8),
        text(drum[0] + 24, drum[1] + 24, "drum of the winch"),
        dimension(
            hinge[0] + aside[0], hinge[1] + aside[1], mid[0] + aside[0], mid[1] + aside[1], "A"
        ),
        dimension(mid[0] - aside[0], mid[1] + aside[1], end[0] - aside[0], end[1] + aside[1], "B"),
        dimension(hinge[0] + 34, level + 16, drum[0] + 26, drum[1] - 18, "G", -13),
        pointer(wall + 27, level + 90, hinge[0] + 7, level + 23, "M"),
        pointer(mid[0], mid[1] - 52, mid[0], mid[1] - 7, "N"),
        pointer(hinge[0] + 150, level - 42, hinge[0] + 128, level - 86, "P"),
        pointer(end[0] - 34, end[1] + 52, end[0] - 7, end[1] + 16, "Q"),
    ]


def _flat() -> list[str]:
    wall, level, leaf, deep = 92.0, 504.0, 285.0, 62.0
    hinge = (wall + 14, level)
    mid, end = hinge[0] + leaf, hinge[0] + 2 * leaf
    return [
        heading(28, 466, "Flat"),
        _wall(wall, 478, 594),
        path([(hinge[0], level + 4), (mid, level + deep), (end, level + 4)], 1.8, ROPE),
        path([(hinge[0], level + 9), (mid, level + deep + 5), (end, level + 9)], 1.8, ROPE),
        bar(*hinge, mid, level, 13, WOOD),
        bar(mid, level, end, level, 13, WOOD),
        line(mid, level, mid, level + deep - 9, 6, "#8d99a3"),
        circle(mid, level + deep - 7, 8, STEEL),
        circle(*hinge, 6, STEEL),
        circle(mid, level, 6, STEEL),
        circle(end, level + 2, 15, STEEL),
        line(mid + 8, level, mid + 50, level, 0.8, INK, "4 3"),
        line(mid + 10, level + deep + 3, mid + 50, level + deep + 3, 0.8, INK, "4 3"),
        dimension(mid + 40, level, mid + 40, level + deep + 3, "D"),
        text(mid, level + deep + 26, "the roller presses the rope down", 12, "middle"),
    ]


def _folded() -> list[str]:
    wall, level, leaf = 92.0, 772.0, 130.0
    hinge = (wall + 14, level)
    raised = math.radians(74.0)
    mid = (hinge[0] + leaf * math.cos(raised), level - leaf * math.sin(raised))
    end = (mid[0] + leaf * math.cos(raised), level)
    return [
        heading(28, 626, "Folded"),
        _wall(wall, 640, 784),
        line(hinge[0], level, hinge[0] + 170, level, 0.8, INK, "4 3"),
        bar(*hinge, *mid, 10, WOOD),
        bar(*mid, *end, 10, WOOD),
        circle(*hinge, 5, STEEL),
        circle(*mid, 5, STEEL),
        circle(end[0], end[1] - 1, 9, STEEL),
        box(wall, level - 20, 9, 16, RUBBER),
        text(wall - 30, level - 8, "buffer", 12, "end"),
        line(wall - 28, level - 12, wall, level - 12, 0.8),
        _ray(hinge, 74.0, 158.0),
        _ray(hinge, 62.0, 124.0),
        angle(*hinge, 150, 74.0, "E"),
        angle(*hinge, 112, 62.0, "F"),
        text(hinge[0] + 140, 660, "E: the deck touches the wall", 12),
        text(hinge[0] + 140, 678, "F: it meets the buffer, some degrees before", 12),
    ]


def _ray(hinge: tuple[float, float], degrees: float, far: float) -> str:
    along = (math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))
    x, y = hinge[0] + far * along[0], hinge[1] - far * along[1]
    return line(*hinge, x, y, 0.8, INK, "4 3")


def _drum() -> list[str]:
    x, y = 520.0, 655.0
    turns = [circle(x + 20 + 12 * n, y + 36, 6, "#a9c8de", 1.0) for n in range(6)]
    turns += [circle(x + 20 + 12 * n, y + 86, 6, "#a9c8de", 1.0) for n in range(6)]
    return [
        heading(x - 60, 626, "Drum"),
        box(x, y + 42, 130, 38, STEEL),
        box(x, y, 12, 122, STEEL),
        box(x + 118, y, 12, 122, STEEL),
        *turns,
        dimension(x + 12, y + 12, x + 118, y + 12, "J"),
        dimension(x + 106, y + 42, x + 106, y + 80, "H"),
        line(x + 130, y, x + 172, y, 0.8, INK, "4 3"),
        line(x + 130, y + 122, x + 172, y + 122, 0.8, INK, "4 3"),
        dimension(x + 160, y, x + 160, y + 122, "K"),
        pointer(x - 26, y + 100, x + 15, y + 88, "L"),
    ]


def _legend(answers: Answers) -> list[str]:
    lines = [box(LEGEND_X - 14, 56, 372, 716, "#ffffff", 0.8)]
    y = 82.0
    for name, words, keys in LEGEND:
        lines.append(
            f'<text x="{LEGEND_X:g}" y="{y:g}" font-size="14" font-weight="bold" '
            f'fill="#b3261e">{name}</text>'
        )
        lines.append(text(LEGEND_X + 22, y, words))
        lines.append(text(LEGEND_X + 22, y + 16, _answered(answers, keys), 12.5))
        y += 41.0
    lines.append(text(LEGEND_X, y + 2, "From the plate (one rope, first layer):"))
    plate = [_shown(answers, question) for question in QUESTIONS if question.drawing == "plate"]
    lines.append(
        text(LEGEND_X, y + 19, _shortened(", ".join(part for part in plate if part) or _OPEN))
    )
    lines.append(text(LEGEND_X, y + 42, "A moving deck crushes, a folded one can fall."))
    lines.append(text(LEGEND_X, y + 58, "Local codes first. This certifies nothing."))
    return lines


def _answered(answers: Answers, keys: tuple[str, ...]) -> str:
    shown = [answers.one(key) for key in keys if answers.one(key)]
    words = ["of tubes and boards" if one == PARTS else one for one in shown]
    return _shortened("; ".join(words) or _OPEN)


def _shown(answers: Answers, question: Question) -> str:
    words = answers.one(question.key)
    return "" if words == UNKNOWN else words


def _shortened(words: str) -> str:
    return words if len(words) <= _LONGEST else words[: _LONGEST - 1] + "…"
