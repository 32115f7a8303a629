"""Steps of a millisecond, and the contacts of a control in each position."""

from collections.abc import Callable

from leafwinch.numbers import LOWER, RAISE
from leafwinch.signals import (
    ALL_CONTACTS,
    LOWER_OFF,
    LOWER_PATH,
    RAISE_OFF,
    RAISE_PATH,
    RESET,
)

NEUTRAL = ALL_CONTACTS & ~(RAISE_PATH | LOWER_PATH | RESET)
ASKS = {RAISE: NEUTRAL & ~RAISE_OFF | RAISE_PATH, LOWER: NEUTRAL & ~LOWER_OFF | LOWER_PATH}


def first_ms(step: Callable[[], object], longest: int = 20_000) -> int:
    """Return after how many passes of a millisecond a step answers, or -1."""
    for ms in range(1, longest):
        if step():
            return ms
    return -1
