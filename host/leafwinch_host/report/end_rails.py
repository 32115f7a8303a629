"""Draws the limits that work at the bottom: each on a line of what it senses."""

import math
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from leafwinch_host.look import INK, QUIET, TRIP
from leafwinch_host.report.place_words import (
    NAMES,
    SENSES,
    allowed_words,
    measured,
    overrun_words,
)
from leafwinch_host.report.size_plots import MARK, WINDOW
from leafwinch_sim.sizing.end_places import EndPlace
from leafwinch_sim.sizing.parts import Parts

RAIL_X, RAIL_WIDTH, WORDS_X = 152.0, 168.0, 346.0
LONGEST_BOTTOM_DEG = 3.0


@dataclass(frozen=True, slots=True)
class Rail:
    """One limit on a line from `first` to `last` in its unit, with words for both ends.

    `run_on` is how far it goes after the limit opened, in its unit; below 0 to the left.
    """

    place: EndPlace
    first: float
    last: float
    first_words: str
    last_words: str
    run_on: float

    def x(self, value: float) -> float:
        """Return where a value lies across the drawing, kept on the line."""
        share = (value - self.first) / (self.last - self.first)
        return RAIL_X + RAIL_WIDTH * min(max(share, 0.0), 1.0)


def rails_of(parts: Parts) -> list[Rail]:
    """Return the line of every limit that works at the bottom, or that senses slack."""
    return [_rail(parts, place) for place in parts.places if not place.key.startswith("top")]


def _rail(parts: Parts, place: EndPlace) -> Rail:
    site = parts.worked.site
    if place.senses == "leaf_angle":
        last = max(LONGEST_BOTTOM_DEG, 1.2 * place.given)
        return Rail(place, 0.0, last, "flat", f"{last:.0f}°", 0.0)
    if place.senses == "drum_turns":
        flat = site.drum.turns_at_flat
        wraps = site.drum.dead_wraps
        circumference_mm = 2000.0 * math.pi * float(parts.worked.geometry.radius_m[0])
        run_on = -place.overrun_rope_mm / circumference_mm
        first = min(wraps, place.given + run_on)
        return Rail(
            place,
            first,
            max(flat, place.given) + 0.05,
            f"{wraps:g} dead wraps" if first == wraps else f"{first:.2g} turns",
            f"{flat:g} turns: flat",
            run_on,
        )
    allowed = site.allowed.bottom_slack * 1000.0
    return Rail(
        place,
        0.0,
        max(allowed, place.given, 1.0),
        "taut",
        f"{allowed:.0f} mm allowed",
        place.overrun_rope_mm,
    )


def draw_rails(axes: Axes, rails: list[Rail], height: float, lowest: float) -> None:
    """Draw the lines from the top down, each `height` points high, above `lowest`."""
    upper = lowest + height * len(rails)
    for row, rail in enumerate(rails):
        _draw_rail(axes, rail, upper - (row + 0.5) * height)
    _draw_key(axes, lowest - 22.0)


def _draw_rail(axes: Axes, rail: Rail, middle: float) -> None:
    place = rail.place
    ends = [RAIL_X, RAIL_X + RAIL_WIDTH]
    axes.plot(ends, [middle, middle], color=QUIET, lw=1.2, marker="|", ms=7)
    if place.exists:
        low, high = rail.x(place.lowest), rail.x(place.highest)
        axes.add_patch(
            Rectangle(
                (low, middle - 3), high - low, 6, facecolor=WINDOW, edgecolor="none", alpha=0.55
            )
        )
        axes.plot([rail.x(place.proposed)], [middle], marker="D", ms=4.5, color=MARK, mec="none")
    at = rail.x(place.given)
    axes.plot([at, at], [middle - 7, middle + 7], color=INK if place.good else TRIP, lw=2.0)
    if rail.run_on:
        axes.annotate(
            "",
            (rail.x(place.given + rail.run_on), middle + 7),
            (at, middle + 7),
            arrowprops={"arrowstyle": "-|>", "color": TRIP, "lw": 1.2, "shrinkA": 0, "shrinkB": 0},
        )
    for x, words, side in (
        (ends[0], rail.first_words, "left"),
        (ends[1], rail.last_words, "right"),
    ):
        axes.text(x, middle - 9, words, fontsize=6.5, ha=side, va="top", color=INK)
    axes.text(
        20,
        middle + 5.5,
        f"{place.part} {NAMES[place.key]}",
        fontsize=8,
        weight="bold",
        va="center",
        color=INK if place.good else TRIP,
    )
    axes.text(20, middle - 5.5, f"senses {SENSES[place.senses]}", fontsize=7.5, va="center")
    mark = "" if place.good else " (wrong)"
    proposed = f", proposed {measured(place, place.proposed)}" if place.exists else ""
    for line, words in enumerate(
        (
            f"yours {measured(place, place.given)}{mark}{proposed}",
            f"allowed: {allowed_words(place)}",
            f"then runs on: {overrun_words(place)}",
        )
    ):
        axes.text(WORDS_X, middle + 10 - 10.5 * line, words, fontsize=7.5, va="center")


def _draw_key(axes: Axes, middle: float) -> None:
    at = 20.0
    for words, width, kind in (
        ("where it may operate", 118.0, "range"),
        ("yours", 52.0, "given"),
        ("proposed", 68.0, "proposed"),
        ("runs on so far, worn brake", 150.0, "run-on"),
    ):
        if kind == "range":
            axes.add_patch(
                Rectangle((at, middle - 3), 14, 6, facecolor=WINDOW, edgecolor="none", alpha=0.55)
            )
        elif kind == "given":
            axes.plot([at + 7] * 2, [middle - 6, middle + 6], color=INK, lw=2.0)
        elif kind == "proposed":
            axes.plot([at + 7], [middle], marker="D", ms=4.5, color=MARK, mec="none")
        else:
            axes.annotate(
                "",
                (at + 14, middle),
                (at, middle),
                arrowprops={"arrowstyle": "-|>", "color": TRIP, "lw": 1.2},
            )
        axes.text(at + 19, middle, words, fontsize=7.5, va="center")
        at += width + 10.0
