"""What is said of a limit's place, for drawing and table alike."""

import math

from leafwinch_sim.sizing.end_places import EndPlace
from leafwinch_sim.sizing.findings_places import NAMES

SENSES = {
    "leaf_angle": "the angle of leaf A",
    "drum_turns": "turns on the drum",
    "rope_slack": "slack rope",
}
UNITS = {"deg": "°", "turn": " turns", "mm": " mm"}
NO_PLACE = "no place for it"

__all__ = ["NAMES", "NO_PLACE", "SENSES", "allowed_words", "card_lines", "measured"]


def measured(place: EndPlace, value: float) -> str:
    """Return a value that the limit senses, with its unit and no more digits than matter."""
    if not math.isfinite(value):
        return "without end"
    digits = {"deg": ".2f", "turn": ".2f", "mm": ".0f"}[place.unit]
    number = f"{value:{digits}}"
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    return f"{number}{UNITS[place.unit]}"


def allowed_words(place: EndPlace) -> str:
    """Return between which values the limit may operate."""
    if not place.exists:
        return NO_PLACE
    return f"{measured(place, place.lowest)} to {measured(place, place.highest)}"


def overrun_words(place: EndPlace) -> str:
    """Return how far rope and deck go after the limit opened, at worst."""
    words = f"{place.overrun_rope_mm:.0f} mm of rope"
    if place.overrun_point_mm > 0.0:
        words += f", {place.overrun_point_mm:.0f} mm of the fastest point"
    return words


def card_lines(place: EndPlace) -> list[str]:
    """Return the lines of a limit's label."""
    mark = "" if place.good else " (wrong)"
    proposed = f", proposed {measured(place, place.proposed)}" if place.exists else ""
    return [
        f"{place.part} {NAMES[place.key]}",
        f"senses {SENSES[place.senses]}; yours {measured(place, place.given)}{mark}",
        f"allowed: {allowed_words(place)}{proposed}",
        f"then runs on: {overrun_words(place)}",
    ]
