"""The core's record and the counters in flash: record.a and record.b, written in turn."""

from array import array

from leafwinch.edge.counters import COUNTERS, new_counters
from leafwinch.edge.slots import BAD, EXTRA, HEAD, Slots
from leafwinch.kept import KEPT_NAMES, KEPT_VERSION
from leafwinch.numbers import TYPE_CHECKING, const

if TYPE_CHECKING:
    from leafwinch.edge.counters import Counts
    from leafwinch.edge.slots import Files

FORMAT = const(1)


def record_words(uptime_s: int, counters: "Counts", record: "tuple[int, ...]") -> "array[int]":
    """Return the words of a record, with room for head and check sum."""
    words = array("i", [0] * (len(record) + COUNTERS + 1 + EXTRA))
    words[HEAD] = uptime_s
    at = HEAD + 1
    for value in counters:
        words[at] = value
        at += 1
    for value in record:
        words[at] = value
        at += 1
    return words


class RecordStore:
    """The words: uptime of the hour begun in s, every counter, every entry of the record.

    found (of slots): BAD means that a record was there and is lost, which must not pass in silence.
    """

    def __init__(self, files: "Files") -> None:
        self.slots = Slots(files, "record", "R", FORMAT)
        self.counters = new_counters()
        self.uptime_s = 0  # 0 to 3599, of the hour that is not counted yet
        self.recorded: "tuple[int, ...] | None" = None

    def load(self) -> "tuple[int, ...] | None":
        """Read the newer good copy and return the core's record, or None where there is none."""
        words = self.slots.load()
        if words is None:
            return None
        at = HEAD + 1 + COUNTERS
        if len(words) != at + len(KEPT_NAMES) + 1 or words[at] != KEPT_VERSION:
            self.slots.found = BAD
            return None
        self.uptime_s = words[HEAD]
        for index in range(COUNTERS):
            self.counters[index] = words[HEAD + 1 + index]
        self.recorded = tuple(words[at : len(words) - 1])
        return self.recorded

    def words(self, record: "tuple[int, ...]") -> "array[int]":
        """Return the words of a record of the core."""
        return record_words(self.uptime_s, self.counters, record)
