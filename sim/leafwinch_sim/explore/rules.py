"""The requirements as the core alone can keep them, judged in every pass.

The limits of R1 to R11 hold for the whole drive. Here each is read at the core's edge, from
the contacts it was given and the outputs it answered with, so a rule needs neither the core's
internals nor its timers: it filters, counts and remembers by itself. R1 and R2 are read more
strictly than their limits: outputs must be off in the very pass in which the filtered contacts
stop asking, which leaves the rest of R1's 200 ms to pump, contactor and brake.
"""

from typing import Any

from leafwinch.requirement_limits import R3_PAUSE_MS
from leafwinch.settings import Settings
from leafwinch.signals import (
    BOTTOM_END,
    BOTTOM_FINAL,
    CHAIN_OK,
    LINE_RELEASED,
    LOWER_OFF,
    LOWER_PATH,
    LOWER_RELEASED,
    OUT_LINE_PULSE,
    OUT_LOWER,
    OUT_RAISE,
    RAISE_OFF,
    RAISE_PATH,
    RAISE_RELEASED,
    RECOVERY_OFF,
    RESET,
    SERVICE_LINK,
    STOP_OK,
    TOP_END,
    TOP_FINAL,
)
from leafwinch_sim.explore.accounts import BLOCKED_MS, LONG_MS, WINDOW_MAX_MS, Accounts
from leafwinch_sim.explore.evidence import Evidence
from leafwinch_sim.explore.violations import (
    AT_FINAL,
    BOTH,
    CONTRADICTION,
    CRASHED,
    DOWN_LATE,
    LATE,
    NO_EVIDENCE,
    NO_PAUSE,
    NO_PRESS,
    NO_SUPPLY,
    NOT_ASKED,
    NOT_NEUTRAL,
    NOT_READY,
    NOTHING,
    OTHER_PULLED,
    PULSE_ALONE,
    PULSE_LONG,
    REPLACED,
    SLACK,
    TOO_EARLY,
    TOWARDS_END,
    UNPROVEN,
    UNTOLD,
    UP_LATE,
    UPSTREAM,
)

# These belong to the rules, not to the core: written down anew so that a change there is noticed.
NEUTRAL_MS = 300
PULSE_MS = 500
PRESS_MIN_MS = 2000
PRESS_MAX_MS = 10000
WINDOW_MIN_MS = 30
LATE_MS = 15
RAISING = 2  # states of the core
LOWERING = 3
FAULT_STATE = 4
PROGRAM_ERROR = 43

_CONTROL = RAISE_OFF | LOWER_OFF | RAISE_PATH | LOWER_PATH | CHAIN_OK
_NEUTRAL = RAISE_OFF | LOWER_OFF | CHAIN_OK
_UP = LOWER_OFF | RAISE_PATH | CHAIN_OK
_DOWN = RAISE_OFF | LOWER_PATH | CHAIN_OK
_FINALS = TOP_FINAL | BOTTOM_FINAL
_MIRRORS = LINE_RELEASED | RAISE_RELEASED | LOWER_RELEASED
_READY = STOP_OK | TOP_FINAL | BOTTOM_FINAL | CHAIN_OK | RECOVERY_OFF


RULES_FIELDS = (
    "before",
    "before_that",
    "seen",
    "low",
    "out",
    "fault",
    "neutral_ms",
    "armed",
    "up_gap_ms",
    "down_gap_ms",
    "off_gap_ms",
    "alone",
    "moving",
    "run_ms",
    "press_ms",
    "press_armed",
    "up_ms",
    "down_ms",
    "up_link",
    "down_link",
    "band_ms",
    "blocked_ms",
    "slack_ms",
    "taut_ms",
    "rest_ms",
    "rest_limits",
    "drifts",
    "drift_ms",
    "fault_ms",
)


class Rules(Accounts):
    """Judges one control core pass by pass; the whole state is the integers in RULES_FIELDS."""

    def __init__(self, settings: Settings) -> None:
        super().__init__(settings)
        self.evidence = Evidence(settings)
        self.reset()

    def reset(self) -> None:
        """Begin before the first power-up."""
        self.out = 0
        self.fault = 0
        self.up_gap_ms = LONG_MS
        self.down_gap_ms = LONG_MS
        self.off_gap_ms = LONG_MS
        self.up_link = 0
        self.down_link = 0
        self.blocked_ms = 0
        self.slack_ms = 0
        self.drifts = 0
        self.fault_ms = 0
        self.power_up(0, True)

    def power_up(self, fault: int, blank: bool) -> None:
        """Note that the core began anew, with this fault latched; contactors are released.

        blank: there was no stored record, as in a drive that is new.
        """
        if blank:
            self.up_link = 0
            self.down_link = 0
            self.blocked_ms = 0
        self.blind()
        self.low = 2
        self.out = 0
        self.fault = fault
        self.alone = 0
        self.moving = 0
        self.run_ms = 0
        self.band_ms = 0
        self.taut_ms = 0
        self.fault_ms = 0
        self.owed_ms = 0
        # Unknown position: the budgets count as spent, the extra allowance if it was used.
        self.up_ms = self.up_max_ms + (self.extra_ms if self.up_link else 0)
        self.down_ms = self.down_max_ms + (self.extra_ms if self.down_link else 0)
        self.blocked_ms = max(self.blocked_ms, self.boot_ms)
        self.slack_ms = 0
        self.drifts = 0  # the record is written after travels, so it may not know of them
        self.evidence.reset()

    def blind(self) -> None:
        """Forget what the contacts showed: at power-up, without supply, after a flash write."""
        self.before = 0
        self.before_that = 0
        self.seen = 0
        self.neutral_ms = 0
        self.armed = 0
        self.press_ms = 0
        self.press_armed = 0
        self.rest_ms = 0
        self.rest_limits = 0
        self.drift_ms = 0

    def step(
        self, dt_ms: int, raw: int, current_ma: int, supply_mv: int, out: int, core: Any
    ) -> int:
        """Judge one pass and return the number of what it broke, or NOTHING.

        raw, current_ma, supply_mv: what the core was given. out: its answer. core: asked only
        for its state and its fault.
        """
        state: int = core.state
        fault: int = core.fault
        if supply_mv < self.s.supply_low_mv:
            if self.low < 2:
                self.low += 1
        else:
            self.low = 0
        way = out & (OUT_RAISE | OUT_LOWER)
        toggled = (out ^ self.out) & OUT_LINE_PULSE
        if self.low >= 2:
            self.blind()
            broken = NO_SUPPLY if way or (toggled and self.alone) else NOTHING
            seen = 0
        else:
            # A contact reads open after two open samples, closed after three closed ones.
            seen = (self.seen & (raw | self.before)) | (raw & self.before & self.before_that)
            self.seen = seen
            self.before_that = self.before
            self.before = raw
            broken = NOTHING
        self._neutral(dt_ms, seen)
        pressed = self._press(dt_ms, seen)
        line = 1 if way and toggled else 0
        self.evidence.step(dt_ms, seen, self.low, current_ma, way, line, self.moving)
        if way:
            if not broken:
                broken = self._commanded(dt_ms, seen, way, line)
        elif toggled and not (self.out & (OUT_RAISE | OUT_LOWER)):
            if self.alone:
                broken = broken or PULSE_ALONE
            self.alone = 1
        else:
            self.alone = 0
        if not broken:
            broken = self._timed(dt_ms, seen, current_ma, way, line)
        if not broken and (fault != self.fault or (state == FAULT_STATE) != (fault != 0)):
            broken = self._latch(seen, state, fault, pressed)
        if not broken:
            broken = self._told(dt_ms, fault)
        moving = 1 if state in (RAISING, LOWERING) else 0
        if moving and not self.moving and seen & SERVICE_LINK:
            if state == RAISING:
                self.up_link = 1
            else:
                self.down_link = 1
        self.moving = moving
        if fault:
            self.armed = 0
            if not way and not line and self.fault_ms < LONG_MS:
                self.fault_ms += dt_ms
        self.fault = fault
        if dt_ms > LATE_MS and self.out & (OUT_RAISE | OUT_LOWER) and way and not broken:
            broken = LATE
        self.out = out & (OUT_LINE_PULSE | OUT_RAISE | OUT_LOWER)
        return broken

    def _told(self, dt_ms: int, fault: int) -> int:
        """A travel that a lost supply has ended owes a fault, once its cause window is over."""
        if fault:
            self.owed_ms = 0
        elif self.owed_ms or (self.moving and self.low >= 2):
            self.owed_ms += dt_ms
            if self.owed_ms > WINDOW_MAX_MS + 3 * dt_ms:
                return UNTOLD
        return NOTHING

    def _neutral(self, dt_ms: int, seen: int) -> None:
        if seen & _CONTROL == _NEUTRAL:
            if self.neutral_ms < NEUTRAL_MS:
                self.neutral_ms += dt_ms
            if self.neutral_ms >= NEUTRAL_MS:
                self.armed = 1
        else:
            self.neutral_ms = 0
            if not seen & STOP_OK:
                self.armed = 0

    def _press(self, dt_ms: int, seen: int) -> bool:
        """Follow the reset button; True in the pass in which a valid press ended."""
        if seen & RESET:
            if self.press_ms <= PRESS_MAX_MS:
                self.press_ms += dt_ms
            return False
        valid = self.press_armed == 1 and PRESS_MIN_MS <= self.press_ms <= PRESS_MAX_MS
        self.press_ms = 0
        self.press_armed = 1
        return valid

    def _commanded(self, dt_ms: int, seen: int, way: int, line: int) -> int:
        """Judge a pass in which a direction is commanded: R1, R2, R3, R4."""
        if way == OUT_RAISE:
            asks, towards, own, other = _UP, TOP_END, RAISE_RELEASED, LOWER_RELEASED
            gap_ms = self.down_gap_ms
        elif way == OUT_LOWER:
            asks, towards, own, other = _DOWN, BOTTOM_END, LOWER_RELEASED, RAISE_RELEASED
            gap_ms = self.up_gap_ms
        else:
            return BOTH
        if seen & _CONTROL != asks:
            return NOT_ASKED
        if not seen & towards:
            return TOWARDS_END
        if seen & _FINALS != _FINALS:
            away = BOTTOM_FINAL if way == OUT_RAISE else TOP_FINAL
            if seen & RECOVERY_OFF or ~seen & _FINALS != away:
                return AT_FINAL
            if self.run_ms > PULSE_MS:
                return PULSE_LONG
        if line:
            if seen & own:
                return UNPROVEN
            if not seen & other:
                return OTHER_PULLED
            self.run_ms += dt_ms
        if gap_ms < R3_PAUSE_MS:
            return NO_PAUSE
        if not self.out & way and not self.armed:
            return NOT_NEUTRAL
        return NOTHING

    def _timed(self, dt_ms: int, seen: int, current_ma: int, way: int, line: int) -> int:
        """Keep every account of energised time and of rest: R2's slack, R7, drift."""
        if not way:
            if self.out & (OUT_RAISE | OUT_LOWER):
                self.armed = 0  # a travel has ended: neutral must be seen again
                self.off_gap_ms = 0
            self.run_ms = 0
            self.band_ms = 0
            # A full account still takes a pass or two of the next start to trip.
            self.blocked_ms = min(self.blocked_ms, BLOCKED_MS)
        if self.up_gap_ms < LONG_MS:
            self.up_gap_ms += dt_ms
        if self.down_gap_ms < LONG_MS:
            self.down_gap_ms += dt_ms
        if self.off_gap_ms < LONG_MS:
            self.off_gap_ms += dt_ms
        if not line:
            if not seen & LINE_RELEASED:
                self._running_on(dt_ms, seen)
            self._at_ends(seen)
            return self._at_rest(dt_ms, seen)
        self.rest_ms = 0
        if way == OUT_RAISE:
            self.up_gap_ms = 0
            self.up_ms += dt_ms
            self.down_ms = max(0, self.down_ms - dt_ms)
            if self.up_ms > self.up_max_ms + self.extra_ms * self.up_link + dt_ms:
                return UP_LATE
        else:
            self.down_gap_ms = 0
            self.down_ms += dt_ms
            self.up_ms = max(0, self.up_ms - dt_ms)
            if self.down_ms > self.down_max_ms + self.extra_ms * self.down_link + dt_ms:
                return DOWN_LATE
        if not self._rope_allows(dt_ms, seen, way):
            return SLACK
        return self._band(dt_ms, current_ma, way)

    def _latch(self, seen: int, state: int, fault: int, pressed: bool) -> int:
        """Judge a change of the latched fault: R5."""
        if (state == FAULT_STATE) != (fault != 0):
            return CONTRADICTION
        if fault == PROGRAM_ERROR:
            return CRASHED
        if fault and self.fault:
            return REPLACED
        if fault:
            self.fault_ms = 0
            self.drifts = 0
            return self._named(seen, fault)
        if not pressed:
            return NO_PRESS
        if seen & SERVICE_LINK and self.blocked_ms > self.boot_ms:
            self.blocked_ms = self.boot_ms
        self.drifts = 0
        self.evidence.reset()
        return NOTHING if self._may_leave(seen) else NOT_READY

    def _may_leave(self, seen: int) -> bool:
        if seen & _CONTROL != _NEUTRAL or seen & _MIRRORS != _MIRRORS or not seen & STOP_OK:
            return False
        if not seen & RECOVERY_OFF:
            return seen & _FINALS in (TOP_FINAL, BOTTOM_FINAL)
        return seen & _READY == _READY and self.neutral_ms >= NEUTRAL_MS

    def _named(self, seen: int, fault: int) -> int:
        """Judge which fault was latched, and when."""
        if self.off_gap_ms < WINDOW_MIN_MS:
            return TOO_EARLY
        if self.low < 2 and not seen & CHAIN_OK:
            if not seen & STOP_OK and fault > 2:
                return UPSTREAM
            if seen & RECOVERY_OFF and not seen & TOP_FINAL and fault > 3:
                return UPSTREAM
            if seen & RECOVERY_OFF and not seen & BOTTOM_FINAL and fault > 4:
                return UPSTREAM
        return NOTHING if self.evidence.speaks_for(fault) else NO_EVIDENCE
