"""What every number in the core's state may be: flags, ways, and times that stop growing."""

from typing import Any

from leafwinch.controller import Controller
from leafwinch.settings import Settings
from leafwinch.states import LOWERING, RAISING

_FLAGS = (
    *("stepped", "record_due", "pulse", "halfway_said", "new_demand", "top_doubted"),
    *("bottom_doubted", "drifted", "known", "full", "up_extra_used", "down_extra_used"),
    *("is_open", "armed", "park_high"),
)
_WAYS = ("way", "top_final_way", "bottom_final_way", "asked", "eased_way", "run_way", "away")

# Longest a time grows: up to here, and beyond by less than one pass.
_LIMITS_MS = {
    "settle_ms": 100,
    "key_ms": 100,
    "top_left_ms": 200,
    "bottom_left_ms": 200,
    "both_ms": 500,
    "rest_ms": 1000,
    "neutral_ms": 300,
    "halfway_ms": 3000,
    "off_ms": 5000,
    "run_ms": 5000,
    "quiet_ms": 5000,
    "stalled_ms": 61,
    "rest_over_ms": 200,
    "band_ms": 60,
    "blocked_ms": 2000,
    "taut_ms": 100,
    "window_ms": 40,
    "pressed_ms": 10001,
    "demand_ms": 301,
    "eased_ms": 100,
    "tone_ms": 1000,
    "kept_actuated_ms": 10001,
}
# These stop exactly at their limit.
_EXACT_MS = {
    "raise_stuck_ms": 50,
    "lower_stuck_ms": 50,
    "disagree_ms": 50,
    "wrong_ms": 100,
    "missing_ms": 200,
}


def _highest(name: str, settings: Settings, pass_ms: int) -> int | None:
    """Return the most that this number may be, or None where anything goes."""
    if name in _FLAGS:
        return 1
    if name in _EXACT_MS:
        return _EXACT_MS[name]
    if name in _LIMITS_MS:
        return _LIMITS_MS[name] - 1 + pass_ms
    of_settings = {
        "over_ms": settings.trip_ms,
        "jam_ms": settings.jam_ms,
        "under_ms": settings.under_ms,
        "up_leave_ms": settings.leave_bottom_ms - 1 + pass_ms,
        "down_leave_ms": settings.leave_top_ms - 1 + pass_ms,
        "slack_ms": max(settings.slack_top_ms, settings.slack_allow_ms) - 1 + pass_ms,
        "duty_ms100": settings.duty_allow_ms * 100,
    }
    return of_settings.get(name)


def out_of_range(core: Any, pass_ms: int = 5) -> str:
    """Return the first number in the core's state that may not be so, or ''.

    pass_ms: longest pass so far.
    """
    if not isinstance(core, Controller):
        return ""
    if core.state in (RAISING, LOWERING) and core.demand_ms:
        return f"demand_ms is {core.demand_ms} while moving"
    for part in core.parts():
        for name in part.FIELDS:
            value = getattr(part, name)
            lowest = -1 if name in _WAYS else -pass_ms if name == "start_free_ms" else 0
            highest = 1 if name in _WAYS else _highest(name, core.settings, pass_ms)
            if name == "tone_ms":
                lowest = -pass_ms
            if name in ("carry", "value_ma"):
                continue
            if value < lowest or (highest is not None and value > highest):
                return f"{name} is {value}"
    return ""
