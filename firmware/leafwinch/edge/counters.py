"""What the board counts over its whole life; stored with the record of the core.

Their names are in answers.py, which is loaded only for an answer.
"""

from array import array

from leafwinch.numbers import NUMBER_MAX, TYPE_CHECKING, const

if TYPE_CHECKING:
    from typing import TypeAlias

    Counts: TypeAlias = "array[int]"

RAISES = const(0)  # travels: the line contactor was commanded
LOWERINGS = const(1)
RAISE_S = const(2)  # energised seconds
LOWER_S = const(3)
STARTS = const(4)  # the state raising or lowering was entered
LINE_OPERATIONS = const(5)  # of the contactors
RAISE_OPERATIONS = const(6)
LOWER_OPERATIONS = const(7)
FAULTS = const(8)
BOOTS = const(9)
WATCHDOG_BOOTS = const(10)
LATE_PASSES = const(11)
DROPPED_LINES = const(12)
UPTIME_H = const(13)
LOST_EVENTS = const(14)  # the queue was full
FLASH_TROUBLE = const(15)  # damaged copies met, writes that failed

COUNTERS = const(16)


def new_counters() -> "Counts":
    """Return all counters at zero."""
    return array("i", [0] * COUNTERS)


def count(counters: "Counts", which: int, more: int = 1) -> None:
    """Count on, up to 2^30 - 1, where a counter stays."""
    value = counters[which] + more
    counters[which] = value if value < NUMBER_MAX else NUMBER_MAX
