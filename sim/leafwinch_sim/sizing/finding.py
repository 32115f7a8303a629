"""A finding: what, why, what to change; and the order in which findings are told."""

from dataclasses import dataclass
from typing import Literal

Level = Literal["blocks", "amend", "note"]
LEVELS: tuple[Level, ...] = ("blocks", "amend", "note")
LEVEL_WORDS: dict[Level, str] = {
    "blocks": "do not build it so",
    "amend": "change it, or live with what is said",
    "note": "keep in mind",
}

ORDER = (
    "load_not_held",
    "kicker_too_short",
    "winch_too_weak",
    "does_not_start",
    "rope_too_thin",
    "does_not_come_down",
    "end_beyond_buffer",
    "rope_runs_out",
    "limit_misplaced",
    "trip_window_empty",
    "part_too_weak",
    "cable_too_thin",
    "breaker_trips",
    "holds_one_way",
    "start_reserve",
    "small_reserve",
    "stays_at_final",
    "buffer_too_weak",
    "overrun_long",
    "motor_overloaded",
    "travel_too_long",
    "leaving_too_slow",
    "voltage_drop",
    "breaker_too_small",
    "cable_resistance",
    "motor_differs",
    "motor_warm",
    "boards_vary",
    "rope_certificate",
    "held_by_brake",
    "drum_too_small",
    "drum_overfull",
    "sheave_too_small",
    "fleet_angle",
    "sensor_range",
    "current_not_told",
    "trip_no_protection",
    "sheave_friction",
    "mass_differs",
    "not_judged",
)
"""Codes of all findings, those of the greatest hazard first within a level."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding.

    Attributes:
        code: one of ORDER.
        level: whether it forbids to build so, should be changed, or is to be known.
        what, why, change: one or two plain sentences each.
    """

    code: str
    level: Level
    what: str
    why: str
    change: str


def sort_findings(found: list[Finding]) -> list[Finding]:
    """Return the findings worst first."""
    return sorted(found, key=lambda f: (LEVELS.index(f.level), ORDER.index(f.code)))
