"""What speaks for a fault: the contacts, currents and gaps that may be its cause.

A fault that is latched without any evidence names a wrong cause (R5). Accounts (budget, drift,
duty, thermal level) and what is known only at power-up need none here: others judge them.
"""

from leafwinch.contactors import MIRRORS
from leafwinch.settings import Settings
from leafwinch.signals import (
    BOTTOM_END,
    BOTTOM_FINAL,
    CHAIN_OK,
    LINE_RELEASED,
    LOWER_OFF,
    LOWER_PATH,
    LOWER_RELEASED,
    NO_SAMPLE,
    OUT_LOWER,
    OUT_RAISE,
    RAISE_OFF,
    RAISE_PATH,
    RAISE_RELEASED,
    RECOVERY_OFF,
    ROPE_TAUT,
    STOP_OK,
    TOP_END,
    TOP_FINAL,
)

_HEALTHY = TOP_FINAL | BOTTOM_FINAL | STOP_OK | CHAIN_OK | RECOVERY_OFF
_OFFS = RAISE_OFF | LOWER_OFF
_PATHS = RAISE_PATH | LOWER_PATH
_ENDS = TOP_END | BOTTOM_END
SINCE_MS = 1000  # counters of time since a command end here
LATE_MS = 15
AGE_MAX_MS = 60  # older evidence is no cause: a cause window lasts 40 ms
LOOP_LATE = 39
# Bit n stands for fault n. Every other fault is an account or belongs to power-up.
JUDGED = sum(1 << n for n in (*range(1, 8), *range(9, 25), 26, 27, 28, 32, 39))


EVIDENCE_FIELDS = ("found", "age_ms", "line_ms", "up_ms", "down_ms", "on_ms", "was")


class Evidence:
    """Collects evidence as a mask, bit n for fault n, until the drive is ready or reset."""

    def __init__(self, settings: Settings) -> None:
        self.s = settings
        self.begin()

    def begin(self) -> None:
        """Begin before the first power-up: nothing was ever commanded."""
        self.reset()
        self.line_ms = SINCE_MS
        self.up_ms = SINCE_MS
        self.down_ms = SINCE_MS

    def reset(self) -> None:
        """Forget all evidence; times since the last commands stay."""
        self.found = 0
        self.age_ms = 0  # since something was found last
        self.on_ms = 0
        self.was = 0  # direction commanded in the last pass

    def step(
        self, dt_ms: int, seen: int, low: int, current_ma: int, way: int, line: int, moving: int
    ) -> None:
        """Look at one pass.

        seen: filtered contacts. low: passes without supply, at most 2. moving: 1 if the core was
        raising or lowering in the last pass.
        """
        found = 0
        if dt_ms > LATE_MS and moving:
            found |= 1 << LOOP_LATE
        if low >= 2:
            found |= 1 << 1
        else:
            if seen & _HEALTHY != _HEALTHY:
                found |= self._chain(seen)
            if not seen & _ENDS:
                found |= 1 << 9
            if seen & _OFFS != _OFFS or seen & _PATHS:
                found |= self._control(seen)
            if seen & MIRRORS != MIRRORS or way or self.was:
                found |= self._mirrors(dt_ms, seen, way, line)
            if way == OUT_LOWER and not seen & ROPE_TAUT:
                found |= 1 << 32
        found |= self._current(current_ma, way, line)
        if found:
            self.found |= found
            self.age_ms = 0
        elif self.age_ms < AGE_MAX_MS:
            self.age_ms += dt_ms
        else:
            self.found = 0
        self._count(dt_ms, way, line)
        self.was = way

    def _count(self, dt_ms: int, way: int, line: int) -> None:
        if line:
            self.line_ms = 0
        elif self.line_ms < SINCE_MS:
            self.line_ms += dt_ms
        if way & OUT_RAISE:
            self.up_ms = 0
        elif self.up_ms < SINCE_MS:
            self.up_ms += dt_ms
        if way & OUT_LOWER:
            self.down_ms = 0
        elif self.down_ms < SINCE_MS:
            self.down_ms += dt_ms
        self.on_ms = self.on_ms + dt_ms if way else 0
        if self.on_ms > SINCE_MS:
            self.on_ms = SINCE_MS

    def _chain(self, seen: int) -> int:
        found = 0
        if not seen & STOP_OK:
            found |= 1 << 2
        if not seen & TOP_FINAL:
            found |= 1 << 3
        if not seen & BOTTOM_FINAL:
            found |= 1 << 4
        if not seen & CHAIN_OK:
            found |= 1 << 5
        elif found:
            found |= 1 << 6
        if not seen & RECOVERY_OFF:
            found |= 1 << 7
        return found

    def _control(self, seen: int) -> int:
        found = 0
        if not seen & RAISE_OFF and bool(seen & RAISE_PATH) != bool(seen & TOP_END):
            found |= 1 << 10
        if not seen & LOWER_OFF and bool(seen & LOWER_PATH) != bool(seen & BOTTOM_END):
            found |= 1 << 11
        if seen & RAISE_OFF and seen & RAISE_PATH:
            found |= 1 << 12
        if seen & LOWER_OFF and seen & LOWER_PATH:
            found |= 1 << 13
        if not seen & _OFFS or seen & _PATHS == _PATHS:
            found |= 1 << 14
        return found

    def _mirrors(self, dt_ms: int, seen: int, way: int, line: int) -> int:
        """Find contactors pulled without a command, not let go in time, or not pulled in time."""
        found = 0
        late_ms = self.s.release_ms - 2 * dt_ms
        if not seen & LINE_RELEASED and not line and self.line_ms >= late_ms:
            found |= 1 << 15 | 1 << 18
        if not seen & RAISE_RELEASED and not way & OUT_RAISE and self.up_ms >= late_ms:
            found |= 1 << 16 | 1 << 19
        if not seen & LOWER_RELEASED and not way & OUT_LOWER and self.down_ms >= late_ms:
            found |= 1 << 17 | 1 << 20
        # The pass that sees a contactor drop out is the one that takes the command away.
        way |= self.was
        if way and seen & LINE_RELEASED and self.on_ms > 0:
            found |= 1 << 21
        if way & OUT_RAISE and seen & RAISE_RELEASED and self.on_ms > 2 * dt_ms:
            found |= 1 << 22
        if way & OUT_LOWER and seen & LOWER_RELEASED and self.on_ms > 2 * dt_ms:
            found |= 1 << 23
        return found

    def _current(self, current_ma: int, way: int, line: int) -> int:
        if current_ma == NO_SAMPLE:
            return 0
        s = self.s
        size = current_ma if current_ma >= 0 else -current_ma
        found = 0
        if size > s.rest_ma and not line:
            found |= 1 << 24
        if size > s.trip_ma:
            found |= 1 << 26
        if line:
            value = -current_ma if s.current_signed and way == OUT_LOWER else current_ma
            if s.current_signed and value < 0:
                found |= 1 << 27
            if value < (s.missing_raise_ma if way == OUT_RAISE else s.missing_lower_ma):
                found |= 1 << 28
        return found

    def speaks_for(self, fault: int) -> bool:
        """Tell whether this fault may be named: there is evidence, or none is needed."""
        bit = 1 << fault
        return not JUDGED & bit or bool(self.found & bit)
