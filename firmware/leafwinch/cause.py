"""From candidates to one latched cause: the resolution window."""

from leafwinch.faults import NO_FAULT
from leafwinch.numbers import const

WINDOW_MS = const(40)  # contacts of one cause may open this far apart


class Cause:
    """Collects candidates for 40 ms and picks the most upstream one.

    Fault numbers are ordered by cause, so the lowest candidate wins. A window is
    opened by the first candidate or by any stop of a travel, since the contact
    that names the cause may open after the one that stopped the motor.
    """

    FIELDS = ("window_ms", "is_open", "candidate")

    def __init__(self) -> None:
        self.window_ms = 0
        self.is_open = 0
        self.candidate = NO_FAULT

    def open(self) -> None:
        """Open the window unless it is open."""
        if not self.is_open:
            self.is_open = 1
            self.window_ms = 0

    def close(self) -> None:
        """Forget the window: a fault was latched from it, or nothing was found."""
        self.is_open = 0
        self.window_ms = 0
        self.candidate = NO_FAULT

    def add(self, fault: int) -> None:
        """Add a candidate; it opens the window."""
        self.open()
        if not self.candidate or fault < self.candidate:
            self.candidate = fault

    def due(self, dt_ms: int) -> bool:
        """Let the open window grow; True in the pass in which it is over."""
        if not self.is_open:
            return False
        if self.window_ms < WINDOW_MS:
            self.window_ms += dt_ms
            return False
        return True
