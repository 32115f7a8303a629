"""The reset button: a deliberate press of 2 s to 10 s that acts on release."""

from leafwinch.numbers import const
from leafwinch.signals import RESET

PRESS_MIN_MS = const(2000)
PRESS_MAX_MS = const(10000)

NOTHING = const(0)
PRESSED = const(1)  # a valid press has just ended
STUCK = const(2)  # the press has just become too long


class ResetButton:
    """Times one press; a press that began before the inputs settled never counts."""

    FIELDS = ("pressed_ms", "armed")

    def __init__(self) -> None:
        self.pressed_ms = 0
        self.armed = 0  # 1: the button was seen released

    def forget(self) -> None:
        """A press must begin anew."""
        self.pressed_ms = 0
        self.armed = 0

    def step(self, dt_ms: int, c: int) -> int:
        """Follow the button for one pass; return NOTHING, PRESSED or STUCK."""
        if not c & RESET:
            pressed_ms = self.pressed_ms
            valid = self.armed and PRESS_MIN_MS <= pressed_ms <= PRESS_MAX_MS
            self.pressed_ms = 0
            self.armed = 1
            return PRESSED if valid else NOTHING
        if self.pressed_ms > PRESS_MAX_MS:
            return NOTHING
        self.pressed_ms += dt_ms
        return STUCK if self.pressed_ms > PRESS_MAX_MS else NOTHING
