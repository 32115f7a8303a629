"""The board's flash in a file, for MicroPython's own littlefs.

Erasing a sector and programming a page take the board's time, with interrupts off, and happen
in two pieces, so that a power cut finds each of them half done.
"""

# There is no pathlib in MicroPython.
# ruff: noqa: PTH123

from leafwinch_sim.stand_in import words
from leafwinch_sim.stand_in.world import Gone, World

TYPE_CHECKING = False  # type checkers read this name as true; nothing runs with it
if TYPE_CHECKING:
    from typing import Any

SECTOR = 4096
PAGE = 256
SECTORS = 352  # what the RP2 port leaves for files of 2 MiB
ERASE_US = 45_000  # typical of such flash, from memory
PAGE_US = 400
PIECES = 8  # of each, between which power may fail

COUNT = 4  # questions of the file system
SIZE = 5
ERASE = 6


class Flash:
    """A block device; world: whose time it takes, or None while an image is made."""

    def __init__(self, name: str, world: "World | None") -> None:
        self.file: Any = open(name, "r+b")  # noqa: SIM115 (open as long as the board lives)
        self.world = world
        self.erased = b"\xff" * SECTOR

    def readblocks(self, block: int, buffer: "Any", offset: int = 0) -> None:
        """Read from a block."""
        self.file.seek(block * SECTOR + offset)
        self.file.readinto(buffer)

    def writeblocks(self, block: int, buffer: "Any", offset: int = 0) -> None:
        """Program a part of an erased block, page by page."""
        view = memoryview(buffer)
        for start in range(0, len(view), PAGE):
            self._in_pieces(block * SECTOR + offset + start, view[start : start + PAGE], PAGE_US)

    def ioctl(self, question: int, argument: int) -> "int | None":
        """Answer the file system's questions; erase a block."""
        if question == COUNT:
            return SECTORS
        if question == SIZE:
            return SECTOR
        if question == ERASE:
            self._in_pieces(argument * SECTOR, self.erased, ERASE_US)
        return 0

    def _in_pieces(self, place: int, data: "Any", us: int) -> None:
        view = memoryview(data)
        size = len(view) // PIECES
        for start in range(0, size * PIECES, size):
            self._put(place + start, view[start : start + size], us // PIECES)

    def _put(self, place: int, data: "Any", us: int) -> None:
        world = self.world
        if world is None:
            self.file.seek(place)
            self.file.write(data)
            return
        if world.gone:
            raise Gone  # what the program does about that must not be kept
        if not world.told[words.FLAGS] & words.FLASH_DEAD:
            self.file.seek(place)
            self.file.write(data)
        world.masked = True
        world.telling[words.DOING] |= words.WRITING
        world.advance(us)
        world.telling[words.PIECES] += 1
        if world.telling[words.PIECES] == world.told[words.CUT_AFTER]:
            world.end(words.END_CUT)
        world.telling[words.DOING] &= ~words.WRITING
        world.masked = False
