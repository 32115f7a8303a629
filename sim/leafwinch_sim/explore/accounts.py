"""Accounts of the rules: travel budget, running band, slack rope, limits that move at rest.

They are kept from the contacts and commands alone, and count what is commanded, never less.
"""

from leafwinch.settings import Settings
from leafwinch.signals import (
    BOTTOM_END,
    BOTTOM_FINAL,
    LOWER_RELEASED,
    NO_SAMPLE,
    OUT_LOWER,
    OUT_RAISE,
    RAISE_RELEASED,
    ROPE_TAUT,
    TOP_END,
    TOP_FINAL,
)
from leafwinch_sim.explore.violations import BLOCKED_LATE, DRIFTED, NOTHING

BLOCKED_MS = 2000
BAND_MS = 60
TAUT_MS = 100
REST_MS = 1300  # longer than the core's own second, which it may begin later
DRIFTS_MAX = 2
WINDOW_MAX_MS = 50
LONG_MS = 1000  # counters of time since something end here

_LIMITS = TOP_END | BOTTOM_END | TOP_FINAL | BOTTOM_FINAL


class Accounts:
    """Keeps the accounts; the rules decide when they are asked."""

    def __init__(self, settings: Settings) -> None:
        self.s = settings
        free_ms = settings.start_allow_total_ms
        self.up_max_ms = settings.budget_raise_ms + free_ms
        self.down_max_ms = settings.budget_lower_ms + free_ms
        self.up_travel_ms = settings.travel_raise_ms + free_ms
        self.down_travel_ms = settings.travel_lower_ms + free_ms
        self.extra_ms = settings.extra_ms
        self.boot_ms = max(0, BLOCKED_MS - settings.inrush_ms - 200)
        self.fault = 0
        self.moving = 0
        self.up_gap_ms = LONG_MS  # since up was commanded
        self.down_gap_ms = LONG_MS
        self.up_ms = 0
        self.down_ms = 0
        self.up_link = 0  # 1: started up with the service link fitted since the bottom end
        self.down_link = 0
        self.band_ms = 0
        self.blocked_ms = 0
        self.slack_ms = 0
        self.taut_ms = 0
        self.rest_ms = 0
        self.rest_limits = 0
        self.drifts = 0
        self.drift_ms = 0

    def _running_on(self, dt_ms: int, seen: int) -> None:
        """Give back what the motor still runs the other way while its contactor lets go."""
        if seen & RAISE_RELEASED == 0 and self.up_gap_ms < LONG_MS:
            self.down_ms = max(0, self.down_ms - dt_ms)
        elif seen & LOWER_RELEASED == 0 and self.down_gap_ms < LONG_MS:
            self.up_ms = max(0, self.up_ms - dt_ms)

    def _at_ends(self, seen: int) -> None:
        """At rest one actuated end tells the position: this way nothing, that way a full travel."""
        ends = seen & (TOP_END | BOTTOM_END)
        if ends == TOP_END:
            self.up_ms = 0
            self.up_link = 0
            self.down_ms = min(self.down_ms, self.down_travel_ms)
        elif ends == BOTTOM_END:
            self.down_ms = 0
            self.down_link = 0
            self.up_ms = min(self.up_ms, self.up_travel_ms)

    def _at_rest(self, dt_ms: int, seen: int) -> int:
        """Count limits that move although the drive has rested for a second: twice is a fault."""
        limits = seen & _LIMITS
        if self.fault or not seen or self.moving:
            self.rest_ms = 0
            self.drift_ms = 0
            if self.moving:
                self.drifts = 0  # a travel settles earlier drifts, at the latest at its end
            return NOTHING
        if self.rest_ms < REST_MS:
            self.rest_ms += dt_ms
            self.rest_limits = limits
        elif limits != self.rest_limits:
            self.rest_limits = limits
            self.drifts += 1
        if self.drifts < DRIFTS_MAX:
            return NOTHING
        self.drift_ms += dt_ms
        return DRIFTED if self.drift_ms > WINDOW_MAX_MS + 3 * dt_ms else NOTHING

    def _rope_allows(self, dt_ms: int, seen: int, way: int) -> bool:
        s = self.s
        if not s.slack_fitted:
            return True
        if seen & ROPE_TAUT:
            if self.taut_ms < TAUT_MS:
                self.taut_ms += dt_ms
            else:
                self.slack_ms = 0
            return True
        self.taut_ms = 0
        if way != OUT_LOWER or not seen & BOTTOM_END:
            return True
        self.slack_ms += dt_ms
        return self.slack_ms <= s.slack_top_ms + 2 * dt_ms

    def _band(self, dt_ms: int, current_ma: int, way: int) -> int:
        """Keep the account of energised time outside the running band."""
        if current_ma == NO_SAMPLE:
            return NOTHING
        value = -current_ma if self.s.current_signed and way != OUT_RAISE else current_ma
        missing = self.s.missing_raise_ma if way == OUT_RAISE else self.s.missing_lower_ma
        if missing <= value <= self.s.run_max_ma:
            if self.band_ms < BAND_MS:
                self.band_ms += dt_ms
            else:
                self.blocked_ms = 0
                return NOTHING
        else:
            self.band_ms = 0
        self.blocked_ms += dt_ms
        return BLOCKED_LATE if self.blocked_ms > BLOCKED_MS + 2 * dt_ms else NOTHING
