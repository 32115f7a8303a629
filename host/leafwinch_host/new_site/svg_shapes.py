"""Plain shapes of the measuring drawing, as lines of SVG."""

import math
from html import escape

INK = "#20313f"
DIMENSION = "#b3261e"
_ARROW = 7.0


def text(x: float, y: float, words: str, size: float = 12.0, anchor: str = "start") -> str:
    """Return words at a place; the size is in px."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}">'
        f"{escape(words)}</text>"
    )


def heading(x: float, y: float, words: str, size: float = 15.0) -> str:
    """Return bold words at a place."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" font-weight="bold">'
        f"{escape(words)}</text>"
    )


def line(
    x1: float,
    y1: float,
    x2: float,
    y2: float,
    width: float = 1.2,
    colour: str = INK,
    dash: str = "",
) -> str:
    """Return a straight line."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" '
        f'stroke-width="{width:g}"{dashed}/>'
    )


def path(points: list[tuple[float, float]], width: float, colour: str = INK) -> str:
    """Return a line through points, round at its corners."""
    along = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return (
        f'<polyline points="{along}" fill="none" stroke="{colour}" stroke-width="{width:g}" '
        'stroke-linejoin="round"/>'
    )


def circle(x: float, y: float, radius: float, fill: str = "#ffffff", width: float = 1.5) -> str:
    """Return a circle."""
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" fill="{fill}" stroke="{INK}" '
        f'stroke-width="{width:g}"/>'
    )


def box(x: float, y: float, width: float, height: float, fill: str, edge: float = 1.2) -> str:
    """Return a rectangle."""
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{fill}" '
        f'stroke="{INK}" stroke-width="{edge:g}"/>'
    )


def bar(x1: float, y1: float, x2: float, y2: float, thick: float, fill: str) -> str:
    """Return a bar between two places, as a leaf or a post is drawn."""
    length = math.hypot(x2 - x1, y2 - y1)
    across = (-(y2 - y1) / length * thick / 2.0, (x2 - x1) / length * thick / 2.0)
    corners = [(x1, y1, 1), (x2, y2, 1), (x2, y2, -1), (x1, y1, -1)]
    points = " ".join(f"{x + s * across[0]:.1f},{y + s * across[1]:.1f}" for x, y, s in corners)
    return f'<polygon points="{points}" fill="{fill}" stroke="{INK}" stroke-width="1.2"/>'


def letter(x: float, y: float, name: str) -> str:
    """Return a letter on a white disc, its middle at a place."""
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="9.5" fill="#ffffff" stroke="{DIMENSION}"/>'
        f'<text x="{x:.1f}" y="{y + 4.5:.1f}" font-size="13" font-weight="bold" '
        f'fill="{DIMENSION}" text-anchor="middle">{name}</text>'
    )


def _head(x: float, y: float, towards: float) -> str:
    points = [(x, y)]
    for turn in (2.75, -2.75):
        points.append(
            (x + _ARROW * math.cos(towards + turn), y + _ARROW * math.sin(towards + turn))
        )
    shown = " ".join(f"{px:.1f},{py:.1f}" for px, py in points)
    return f'<polygon points="{shown}" fill="{DIMENSION}"/>'


def dimension(x1: float, y1: float, x2: float, y2: float, name: str, aside: float = 0.0) -> str:
    """Return an arrow with two heads and its letter, in the middle or so far aside of it."""
    along = math.atan2(y2 - y1, x2 - x1)
    middle = ((x1 + x2) / 2.0 - aside * math.sin(along), (y1 + y2) / 2.0 + aside * math.cos(along))
    return (
        line(x1, y1, x2, y2, 1.2, DIMENSION)
        + _head(x2, y2, along)
        + _head(x1, y1, along + math.pi)
        + letter(*middle, name)
    )


def pointer(x1: float, y1: float, x2: float, y2: float, name: str) -> str:
    """Return a letter at the first place with a thin line to the second."""
    return line(x1, y1, x2, y2, 1.0, DIMENSION) + letter(x1, y1, name)


def angle(x: float, y: float, radius: float, degrees: float, name: str) -> str:
    """Return the arc of an angle above level from a hinge, with an arrow and its letter."""
    end = math.radians(degrees)
    tip = (x + radius * math.cos(end), y - radius * math.sin(end))
    half = 0.62 * end
    return (
        f'<path d="M {x + radius:.1f} {y:.1f} A {radius:g} {radius:g} 0 0 0 {tip[0]:.1f} '
        f'{tip[1]:.1f}" fill="none" stroke="{DIMENSION}" stroke-width="1.2"/>'
        + _head(tip[0], tip[1], -end - math.pi / 2.0)
        + letter(x + radius * math.cos(half), y - radius * math.sin(half), name)
    )
