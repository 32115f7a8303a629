"""What went before the last fault: 4 s of samples every 10 ms, frozen when a fault latches.

A sample is two words: contacts | outputs << 17 | state << 23, and
(current in mA + 2^19) | (supply in mV >> 7) << 20.
"""

from array import array

from leafwinch.edge.slots import Slots
from leafwinch.numbers import TYPE_CHECKING, const

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leafwinch.edge.slots import Files

FORMAT = const(1)
SAMPLES = const(400)
INTERVAL_MS = const(10)

# Words behind the head, which has three.
FAULT = const(3)
BOOT = const(4)  # number of the boot
UPTIME_S = const(5)  # when it froze, since that boot
TAKEN = const(6)  # samples taken, at most SAMPLES
OLDEST = const(7)  # index of the oldest sample
FIRST = const(8)  # word of sample 0
END = const(FIRST + 2 * SAMPLES)

CURRENT_BIAS = const(1 << 19)
SUPPLY_MAX_MV = const((1 << 15) - 1)


class FaultTrace:
    """A ring of samples which is also the file's contents, so that storing copies nothing."""

    def __init__(self, files: "Files") -> None:
        self.slots = Slots(files, "fault", "F", FORMAT)
        self.words = array("i", bytes(4 * (END + 1)))  # no long list on the way
        self.at = FIRST  # word of the next sample
        self.frozen = 0

    def freeze(self, fault: int, boot: int, uptime_s: int) -> bool:
        """Keep what was sampled so far; False where that was nothing, or a trace is kept."""
        words = self.words
        if self.frozen or not words[TAKEN]:
            return False
        self.frozen = 1
        words[FAULT] = fault
        words[BOOT] = boot
        words[UPTIME_S] = uptime_s
        words[OLDEST] = (self.at - FIRST) >> 1 if words[TAKEN] >= SAMPLES else 0
        return True

    def thaw(self) -> None:
        """Sample anew."""
        self.words[TAKEN] = 0
        self.at = FIRST
        self.frozen = 0

    def sample(self, signals: int, values: int) -> None:
        """Take a sample, already packed."""
        if self.frozen:
            return
        words = self.words
        at = self.at
        words[at] = signals
        words[at + 1] = values
        at += 2
        self.at = at if at < END else FIRST
        if words[TAKEN] < SAMPLES:
            words[TAKEN] += 1


def samples_of(words: "array[int]") -> "Iterator[tuple[int, int]]":
    """Yield the packed samples of a stored trace, the oldest first."""
    index = words[OLDEST]
    for _ in range(words[TAKEN]):
        at = FIRST + 2 * index
        yield words[at], words[at + 1]
        index = index + 1 if index + 1 < SAMPLES else 0
