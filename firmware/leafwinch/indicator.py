"""Lamp and buzzer patterns: readable without a PC, no effect on the drive.

White: dim glow = ready; bright = moving; bright and dim by turns, once a second =
locked out until released. Red with a fault: long flashes count the lamp group,
short flashes the item, then a pause. Buzzer: one second at a new fault, a chirp
at a warning.
"""

from leafwinch.faults import lamp_code
from leafwinch.numbers import const
from leafwinch.signals import OUT_BUZZER, OUT_LAMP_RED, OUT_LAMP_WHITE
from leafwinch.states import FAULT, IDLE, LOWERING, RAISING

DIM_TICKS = const(4)  # the dim glow is one pass in four
TURN_MS = const(500)
LONG_MS = const(700)
SHORT_MS = const(200)
DARK_MS = const(300)  # after each flash
BETWEEN_MS = const(700)  # between group and item
PAUSE_MS = const(2000)
CHIRP_MS = const(100)
FAULT_TONE_MS = const(1000)


class Indicator:
    """Produces the lamp and buzzer bits of one pass."""

    FIELDS = ("ticks", "phase_ms", "shown", "tone_ms")

    def __init__(self) -> None:
        self.ticks = 0
        self.phase_ms = 0
        self.shown = 0  # what the pattern shows: state, plus fault
        self.tone_ms = 0

    def chirp(self) -> None:
        """Sound a short chirp unless a longer tone is on."""
        if self.tone_ms < CHIRP_MS:
            self.tone_ms = CHIRP_MS

    def step(self, dt_ms: int, state: int, fault: int) -> int:
        """Return the lamp and buzzer output bits for this pass."""
        shown = state + (fault << 3)
        if shown != self.shown:
            self.shown = shown
            self.phase_ms = 0
            if state == FAULT:
                self.tone_ms = FAULT_TONE_MS
        else:
            self.phase_ms += dt_ms
        self.ticks = self.ticks + 1 if self.ticks < DIM_TICKS - 1 else 0
        out = 0
        if self.tone_ms > 0:
            self.tone_ms -= dt_ms
            out = OUT_BUZZER
        bright = state == RAISING or state == LOWERING
        if state == FAULT:
            code = lamp_code(fault)
            if self._red(code // 10, code % 10):
                out |= OUT_LAMP_RED
        elif state != IDLE and not bright:
            if self.phase_ms >= 2 * TURN_MS:
                self.phase_ms = 0
            bright = self.phase_ms < TURN_MS
        elif self.phase_ms > TURN_MS:
            self.phase_ms = TURN_MS
        if bright or self.ticks == 0:
            out |= OUT_LAMP_WHITE
        return out

    def _red(self, group: int, item: int) -> bool:
        """Tell whether the red lamp is lit at this phase of the two-part flash code."""
        group_ms = group * (LONG_MS + DARK_MS)
        item_ms = item * (SHORT_MS + DARK_MS)
        if self.phase_ms >= group_ms + BETWEEN_MS + item_ms + PAUSE_MS:
            self.phase_ms = 0
        phase_ms = self.phase_ms
        if phase_ms < group_ms:
            return phase_ms % (LONG_MS + DARK_MS) < LONG_MS
        phase_ms -= group_ms + BETWEEN_MS
        if 0 <= phase_ms < item_ms:
            return phase_ms % (SHORT_MS + DARK_MS) < SHORT_MS
        return False
