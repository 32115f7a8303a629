"""Two copies of a small file, written in turn, so that a power cut spoils one at most.

A copy is little-endian words of 32 bits: tag, sequence, count of words that follow, those
words, and the CRC-32 of all that. The tag holds the letter L, the letter of the kind and
the version of the format. The newer good copy counts. A file may be torn at any byte.
"""

from array import array

from leafwinch.edge.crc import crc32
from leafwinch.numbers import NUMBER_MAX, TYPE_CHECKING, const

if TYPE_CHECKING:
    from typing import Protocol

    class Files(Protocol):
        """The board's files."""

        def read(self, name: str) -> "bytes | None":
            """Return the whole file, or None where there is none."""
            ...

        def write(self, name: str, data: "bytes | bytearray | array[int]") -> None:
            """Write the whole file anew; raises OSError."""
            ...

        def append(self, name: str, data: "bytes | bytearray | array[int]") -> None:
            """Append to the file; raises OSError."""
            ...

        def remove(self, name: str) -> None:
            """Remove the file, if there is one."""
            ...

        def size(self, name: str) -> int:
            """Return the size in bytes, or -1 where there is no such file."""
            ...

        def part(self, name: str, offset: int, buffer: bytearray) -> int:
            """Read into the buffer from that offset on; return how many bytes."""
            ...

        def program(self) -> "list[str]":
            """Return the sorted names of the program's files."""
            ...


HEAD = const(3)  # words before the contents
EXTRA = const(4)  # words beside the contents

# What was found when loading.
ABSENT = const(0)  # neither copy was ever written
GOOD = const(1)
ONE_BAD = const(2)  # one copy is damaged, the other counts
BAD = const(3)  # no good copy is left

_LETTER_L = const(0x4C)


def tag_of(kind: int, version: int) -> int:
    """Return the first word of a copy; kind: an ASCII letter, version: 1 to 16383."""
    return _LETTER_L | kind << 8 | version << 16


def seal(words: "array[int]", kind: int, version: int, sequence: int) -> None:
    """Fill in head and check sum of words whose contents stand from HEAD on."""
    words[0] = tag_of(kind, version)
    words[1] = sequence
    words[2] = len(words) - EXTRA
    words[len(words) - 1] = 0
    check = crc32(memoryview(words)[: len(words) - 1])
    words[len(words) - 1] = check - (1 << 32) if check >> 31 else check


def unsealed(raw: "bytes | None", kind: int, version: int) -> "array[int] | None":
    """Return the words of a copy, or None where it is damaged or of another kind or version."""
    if raw is None or len(raw) < 4 * EXTRA or len(raw) % 4:
        return None
    words = array("i", raw)
    if words[0] != tag_of(kind, version) or words[2] != len(words) - EXTRA:
        return None
    if not 0 <= words[1] <= NUMBER_MAX:
        return None
    if crc32(memoryview(raw)[: len(raw) - 4]) != words[len(words) - 1] & 0xFFFFFFFF:
        return None
    return words


class Slots:
    """The two copies NAME.a and NAME.b of one kind of contents.

    found: what load() met. behind: 1 while the two copies differ in their contents.
    """

    def __init__(self, files: "Files", name: str, kind: str, version: int) -> None:
        self.files = files
        self.names = (name + ".a", name + ".b")
        self.kind = ord(kind)
        self.version = version
        self.sequence = 0  # of the newest good copy
        self.newest = 1  # which copy that is
        self.found = ABSENT
        self.behind = 0

    def load(self) -> "array[int] | None":
        """Return the newer good copy, head included, or None; found tells why."""
        best = None
        good = 0
        damaged = 0
        sequence = 0
        for index in range(2):
            raw = self.files.read(self.names[index])
            if raw is None:
                continue
            words = unsealed(raw, self.kind, self.version)
            if words is None:
                damaged += 1
                continue
            good += 1
            if best is None or 0 < (words[1] - sequence) & NUMBER_MAX < 1 << 29:
                self.behind = 0 if best is not None and words[1] == sequence else 1
                best = words
                sequence = words[1]
                self.newest = index
            elif words[1] == sequence:
                self.behind = 0
        if best is None:
            self.found = BAD if damaged else ABSENT
            return None
        self.found = ONE_BAD if damaged else GOOD
        self.sequence = sequence
        return best

    def store(self, words: "array[int]") -> None:
        """Write words, whose contents stand from HEAD on, over the older copy; raises OSError."""
        sequence = (self.sequence + 1) & NUMBER_MAX
        older = 1 - self.newest
        seal(words, self.kind, self.version, sequence)
        self.files.write(self.names[older], words)
        self.newest = older
        self.sequence = sequence
        self.behind = 1

    def repeat(self, words: "array[int]") -> None:
        """Write what was just stored or loaded over the other copy as well; raises OSError."""
        self.files.write(self.names[1 - self.newest], words)
        self.behind = 0

    def mended(self) -> None:
        """Note that both copies are equal now, or that mending was tried."""
        self.found = GOOD
        self.behind = 0
