"""Draws the deck to scale from the side: flat, at both top limits, at the buffer, with the limits.

One unit of the drawing is one point, so that a place in metres can be read back from the file.
"""

import math
from dataclasses import dataclass

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Arc, Circle, Rectangle

from leafwinch_host.look import INK, QUIET, ROPE, STYLE, TRIP
from leafwinch_host.report.end_rails import draw_rails, rails_of
from leafwinch_host.report.place_words import NAMES, card_lines
from leafwinch_host.report.size_plots import MARK, WIDTH_IN, WINDOW, new_figure
from leafwinch_sim.mechanism import Mechanism
from leafwinch_sim.plant_parts import drum_of, mechanism_of
from leafwinch_sim.sizing.end_places import EndPlace, site_angles
from leafwinch_sim.sizing.parts import Parts

POINTS_PER_IN = 72.0
WIDTH = WIDTH_IN * POINTS_PER_IN
WALL_X, HINGE_X = 36.0, 48.0
DECK_WIDTH = 500.0  # of the flat deck
TOP_MARGIN, FLOOR_LEAST, RAIL_HEIGHT, RAILS_MARGIN = 14.0, 78.0, 40.0, 42.0
CARD_X, CARD_LINE, CARD_GAP = 290.0, 11.0, 13.0
KICKER_WORDS_X, LONGEST_BAR = 196.0, 120.0
BARS_M = (0.1, 0.2, 0.5, 1.0)
RINGS = {"top_end": 1.10, "top_final": 1.18, "buffer": 1.26}  # radius over that of the mid hinge
TONES = ("#b3bec7", "#8496a4", "#566c7c", "#24343f")
"""Of the four silhouettes: flat, top end, top final, buffer."""
DRAWING_COLOURS = {
    **{f"deck{number}": tone for number, tone in enumerate(TONES)},
    "ink": INK,
    "quiet": QUIET,
    "rope": ROPE,
    "trip": TRIP,
    "window": WINDOW,
    "mark": MARK,
}


@dataclass(frozen=True, slots=True)
class Scale:
    """Turns metres from the wall hinge into points of the drawing, upwards."""

    per_m: float
    floor_y: float

    def x(self, metres: float) -> float:
        """Return the place across, away from the wall."""
        return HINGE_X + self.per_m * metres

    def y(self, metres: float) -> float:
        """Return the place above the drawing's lower edge."""
        return self.floor_y + self.per_m * metres


def end_drawing(parts: Parts) -> Figure:
    """Return the drawing; its silhouettes carry ids that begin with `silhouette-`."""
    site = parts.worked.site
    mechanism = mechanism_of(site)
    per_m = DECK_WIDTH / (site.deck.leaf_a.length + site.deck.leaf_b.length)
    rails = rails_of(parts)
    below = max(FLOOR_LEAST, per_m * site.deck.kicker_depth + 38.0)
    floor_y = RAILS_MARGIN + RAIL_HEIGHT * len(rails) + below
    scale = Scale(per_m, floor_y)
    height = scale.y(RINGS["buffer"] * site.deck.leaf_a.length) + TOP_MARGIN
    with mpl.rc_context(STYLE):
        figure = new_figure(height / POINTS_PER_IN)
        figure.set_layout_engine(None)
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_axis_off()
        axes.set_xlim(0.0, WIDTH)
        axes.set_ylim(0.0, height)
        _draw_surroundings(axes, scale, parts, mechanism, height)
        for number, (name, angle_deg) in enumerate(silhouettes(parts)):
            _draw_silhouette(axes, scale, mechanism, name, angle_deg, TONES[number])
        _draw_cards(axes, scale, parts, height)
        draw_rails(axes, rails, RAIL_HEIGHT, RAILS_MARGIN)
    return figure


def silhouettes(parts: Parts) -> list[tuple[str, float]]:
    """Return name and angle in degrees of each silhouette, light to dark."""
    angles = site_angles(parts.worked.site, parts.worked)
    return [
        ("flat", 0.0),
        ("top_end", angles["top_end"]),
        ("top_final", angles["top_final"]),
        ("buffer", angles["buffer"]),
    ]


def points_of(mechanism: Mechanism, angle_deg: float) -> list[tuple[float, float]]:
    """Return wall hinge, mid hinge and free end in metres from the wall hinge."""
    angle = math.radians(angle_deg)
    mechanism.update(angle)
    length = mechanism.length_a_m
    return [
        (0.0, 0.0),
        (length * math.cos(angle), length * math.sin(angle)),
        (mechanism.free_end_m, 0.0),
    ]


def _draw_silhouette(
    axes: Axes, scale: Scale, mechanism: Mechanism, name: str, angle_deg: float, tone: str
) -> None:
    points = points_of(mechanism, angle_deg)
    across = [scale.x(x) for x, _ in points]
    up = [scale.y(y) for _, y in points]
    order = 3.0 + 0.01 * angle_deg
    foot = up[1] - scale.per_m * mechanism.kicker_depth_m
    axes.plot([across[1]] * 2, [up[1], foot], color=tone, lw=1.2, zorder=order)
    if mechanism.kicker_depth_m > 0.0:
        axes.plot([across[1]], [foot], color=tone, marker="o", ms=4.0, zorder=order)
    (leaves,) = axes.plot(
        across, up, color=tone, lw=3.4, zorder=order, solid_joinstyle="round", gid=None
    )
    leaves.set_gid(f"silhouette-{name}")
    axes.plot(
        across,
        up,
        color=tone,
        ls="none",
        marker="o",
        ms=5.5,
        mec=INK,
        mew=0.6,
        zorder=order + 0.005,
    )


def _draw_surroundings(
    axes: Axes, scale: Scale, parts: Parts, mechanism: Mechanism, height: float
) -> None:
    site = parts.worked.site
    floor = scale.floor_y
    axes.add_patch(
        Rectangle(
            (WALL_X - 16, floor - 66),
            16,
            height - floor + 54,
            facecolor="none",
            edgecolor=QUIET,
            hatch="////",
            lw=0.0,
        )
    )
    axes.plot([WALL_X, WALL_X], [floor - 66, height - 12], color=QUIET, lw=1.0)
    axes.text(WALL_X - 22, floor + 60, "wall", fontsize=7.5, rotation=90, ha="center", va="center")
    axes.plot([WALL_X, WIDTH - 8], [floor - 5.5] * 2, color=QUIET, lw=0.7, ls=(0, (2, 2)))
    _draw_rope(axes, scale, parts, mechanism)
    _draw_buffer(axes, scale, parts, mechanism)
    row = _lowest_row(scale, parts)
    middle = scale.x(site.deck.leaf_a.length)
    if site.deck.kicker_depth > 0.0:
        words = f"kicker's roller, {site.deck.kicker_depth * 1000:.0f} mm below the mid hinge"
    else:
        words = "no kicker"
    axes.text(max(middle - 90.0, KICKER_WORDS_X), row, words, fontsize=7.5, va="center")
    free = scale.x(site.deck.leaf_a.length + site.deck.leaf_b.length)
    axes.text(free, floor + 9, "flat deck, free end with wheels", fontsize=7.5, ha="right")
    length = max(size for size in BARS_M if size * scale.per_m <= LONGEST_BAR or size == BARS_M[0])
    bar = length * scale.per_m
    axes.plot([free - bar, free], [row - 3] * 2, color=INK, lw=1.2, marker="|", ms=5)
    axes.text(free - 0.5 * bar, row + 1, f"{length:g} m", fontsize=7.5, ha="center")


def _lowest_row(scale: Scale, parts: Parts) -> float:
    """Return the place of the words below the deck, clear of the rope."""
    depth = scale.per_m * parts.worked.site.deck.kicker_depth
    return scale.floor_y - max(56.0, depth + 18.0)


def _draw_rope(axes: Axes, scale: Scale, parts: Parts, mechanism: Mechanism) -> None:
    """Draw the two parts as one line, flat and at the top end, and the way to the drum."""
    site = parts.worked.site
    floor = scale.floor_y
    wall, mid, end = points_of(mechanism, 0.0)
    flat_x = [scale.x(wall[0]), scale.x(mid[0]), scale.x(end[0])]
    flat_y = [floor, floor - scale.per_m * site.deck.kicker_depth, floor]
    axes.plot(flat_x, flat_y, color=ROPE, lw=1.3, zorder=2.5)
    top = points_of(mechanism, silhouettes(parts)[1][1])[2]
    axes.plot([scale.x(0.0), scale.x(top[0])], [floor, floor], color=ROPE, lw=1.3, zorder=3.0)
    slope = math.degrees(math.atan2(flat_y[1] - floor, flat_x[1] - flat_x[0]))
    axes.text(
        0.5 * (flat_x[1] + flat_x[2]) + 16,
        # Clear of the deck where there is hardly a kicker.
        min(0.5 * (flat_y[1] + floor) - 9, floor - 16),
        "rope, two parts",
        fontsize=7.5,
        color=ROPE,
        rotation=-slope,
        ha="center",
        va="center",
    )
    drum_m = drum_of(site).radius_m(site.drum.turns_at_flat)
    radius = max(3.0, scale.per_m * drum_m)
    centre = (HINGE_X + 6.0, _lowest_row(scale, parts))
    axes.plot([HINGE_X, centre[0] - radius], [floor, centre[1]], color=ROPE, lw=1.3, zorder=2.5)
    axes.add_patch(Circle(centre, radius, facecolor=QUIET, edgecolor=INK, lw=0.8, zorder=2.6))
    axes.text(
        centre[0] + radius + 5,
        centre[1],
        "drum (only its size is to scale)",
        fontsize=7.5,
        va="center",
    )


def _draw_buffer(axes: Axes, scale: Scale, parts: Parts, mechanism: Mechanism) -> None:
    buffer = parts.worked.site.buffer
    near = scale.x(points_of(mechanism, buffer.place)[2][0])
    far = scale.x(points_of(mechanism, buffer.wall)[2][0])
    axes.add_patch(
        Rectangle(
            (far, scale.floor_y - 5),
            near - far,
            10,
            facecolor=MARK,
            edgecolor="none",
            alpha=0.35,
            zorder=2.0,
        )
    )


def _draw_cards(axes: Axes, scale: Scale, parts: Parts, height: float) -> None:
    """Write what is to be known of buffer and top limits, each led to its place on the ring."""
    site = parts.worked.site
    places = {place.key: place for place in parts.places}
    leaf = scale.per_m * site.deck.leaf_a.length
    angles = dict(silhouettes(parts))
    upper = height - TOP_MARGIN
    for key in ("buffer", "top_final", "top_end"):
        tone = TONES[[name for name, _ in silhouettes(parts)].index(key)]
        ring = leaf * RINGS[key]
        angle = math.radians(angles[key])
        tip = (HINGE_X + ring * math.cos(angle), scale.floor_y + ring * math.sin(angle))
        hinge = (HINGE_X + leaf * math.cos(angle), scale.floor_y + leaf * math.sin(angle))
        axes.plot([hinge[0], tip[0]], [hinge[1], tip[1]], color=tone, lw=0.8)
        place = places.get(key)
        if place is None:
            lines = [
                "Buffer",
                f"met by the free end at {site.buffer.place:g}°, rated for "
                f"{site.buffer.rated_force / 1000:g} kN",
                f"the wall ends it at {site.buffer.wall:g}°",
            ]
        else:
            lines = card_lines(place)
            _draw_range(axes, scale, parts, place, ring)
        good = place is None or place.good
        _draw_card(axes, tip, upper, lines, tone, good)
        upper -= CARD_LINE * len(lines) + CARD_GAP
    mechanism = mechanism_of(site)
    clear = max(
        points_of(mechanism, angle)[2][0] for name, angle in angles.items() if name != "flat"
    )
    bottom = places["bottom_end"]
    axes.text(
        scale.x(clear) + 9,
        scale.floor_y + 9,
        f"{bottom.part} {NAMES[bottom.key]}: see below",
        fontsize=7.5,
    )


def _draw_card(
    axes: Axes, tip: tuple[float, float], upper: float, lines: list[str], tone: str, good: bool
) -> None:
    middle = upper - 0.5 * CARD_LINE
    axes.plot(
        [tip[0], CARD_X - 40, CARD_X - 18, CARD_X - 4],
        [tip[1], tip[1], middle, middle],
        color=tone,
        lw=0.8,
    )
    axes.add_patch(Rectangle((CARD_X - 2, middle - 3.5), 7, 7, facecolor=tone, edgecolor="none"))
    for number, line in enumerate(lines):
        first = number == 0
        axes.text(
            CARD_X + (9 if first else 0),
            upper - number * CARD_LINE,
            line,
            fontsize=8 if first else 7.5,
            weight="bold" if first else "normal",
            color=INK if good or not first else TRIP,
            va="top",
        )


def _draw_range(axes: Axes, scale: Scale, parts: Parts, place: EndPlace, ring: float) -> None:
    """Draw on a ring where a limit may operate, where it does, and where it is proposed."""
    low, high, proposed = (
        _as_angle(parts, place, value) for value in (place.lowest, place.highest, place.proposed)
    )
    given = dict(silhouettes(parts))[place.key]
    if low is not None and high is not None and place.exists:
        axes.add_patch(
            Arc(
                (HINGE_X, scale.floor_y),
                2 * ring,
                2 * ring,
                theta1=low,
                theta2=high,
                color=WINDOW,
                lw=5.0,
                alpha=0.55,
            )
        )
    for angle_deg, marker, colour in (
        (proposed if place.exists else None, "D", MARK),
        (given, "|", INK if place.good else TRIP),
    ):
        if angle_deg is None:
            continue
        angle = math.radians(angle_deg)
        across, up = math.cos(angle), math.sin(angle)
        if marker == "|":
            axes.plot(
                [HINGE_X + (ring - 6) * across, HINGE_X + (ring + 6) * across],
                [scale.floor_y + (ring - 6) * up, scale.floor_y + (ring + 6) * up],
                color=colour,
                lw=2.0,
            )
        else:
            axes.plot(
                [HINGE_X + ring * across],
                [scale.floor_y + ring * up],
                marker=marker,
                ms=4.5,
                color=colour,
                mec="none",
            )


def _as_angle(parts: Parts, place: EndPlace, value: float) -> float | None:
    """Return the angle in degrees at which a limit of the top senses a value, None where none."""
    if place.senses == "leaf_angle":
        return value
    geometry = parts.worked.geometry
    if place.senses == "drum_turns":
        return float(np.interp(value, geometry.turns, geometry.angle_deg))
    return None
