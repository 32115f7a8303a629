"""A whole board on a desk: files in memory, a serial line, a watchdog, and how it restarts."""

from leafwinch.edge.settings_store import installed_words
from leafwinch.edge.settings_words import settings_words
from leafwinch.edge.slots import seal
from leafwinch.settings_schema import settings_from
from tests.edge.desk import FULL_MV, RANGE_MA, Desk

SITE = 0x1234567
NETLIST = 0x0ABCDEF
FORMAT = 1


class Restarted(BaseException):
    """The board restarts."""


class Memory:
    """Files that stay when the board restarts. fails: names whose writing is refused."""

    def __init__(self) -> None:
        self.contents: dict[str, bytes] = {}
        self.fails = ""

    def read(self, name: str) -> "bytes | None":
        return self.contents.get(name)

    def write(self, name: str, data: "object") -> None:
        if self.fails and self.fails in name:
            raise OSError(5)
        self.contents[name] = bytes(memoryview(data))  # type: ignore[arg-type]

    def append(self, name: str, data: "object") -> None:
        if self.fails and self.fails in name:
            raise OSError(5)
        added = bytes(memoryview(data))  # type: ignore[arg-type]
        self.contents[name] = self.contents.get(name, b"") + added

    def remove(self, name: str) -> None:
        self.contents.pop(name, None)

    def size(self, name: str) -> int:
        return len(self.contents[name]) if name in self.contents else -1

    def part(self, name: str, offset: int, buffer: bytearray) -> int:
        piece = self.contents.get(name, b"")[offset : offset + len(buffer)]
        buffer[: len(piece)] = piece
        return len(piece)

    def program(self) -> "list[str]":
        return []


class Line:
    """A serial line: what is typed, and what was sent."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.typed = bytearray()
        self.sent: list[bytes] = []
        self.unread = False
        self.keep = True

    def ready(self) -> bool:
        self.desk.note("ready")
        return not self.unread

    def write(self, line: "bytes | bytearray") -> None:
        self.desk.note("send")
        if self.keep:
            self.sent.append(bytes(line))

    def receive(self) -> int:
        if not self.typed:
            return -1
        code = self.typed[0]
        self.typed = self.typed[1:]
        return code


class Whole(Desk):
    """What start.py takes from hardware.py."""

    def __init__(self, files: Memory, start_us: int = 0) -> None:
        Desk.__init__(self, start_us)
        self.name = "desk"
        self.files = files
        self.port = Line(self)
        self.watchdog_started = 0
        self.taken = 0
        self.released = 0
        self.restarts = 0
        self.reset_cause = 1
        self.watchdog_reset = False
        self.stuck_high = -1  # an output pin that reads high

    def set_up(self) -> None:
        self.note("set_up")

    def low(self) -> bool:
        self.note("low")
        return not self.mask_of_pins() and self.stuck_high < 0

    def all_off(self) -> None:
        for index in range(6):
            self.pins[index] = 0
        self.look()

    def start_watchdog(self) -> None:
        self.watchdog_started += 1

    def take_over(self) -> None:
        self.note("take_over")
        self.taken += 1

    def release(self) -> None:
        self.released += 1

    def watchdog_caused(self) -> bool:
        return self.watchdog_reset

    def cause(self) -> int:
        return self.reset_cause

    def described(self, error: BaseException) -> str:
        return 'File "x/loop.py", line 123, in run\n' + type(error).__name__

    def restart(self) -> None:
        self.restarts += 1
        raise Restarted


def install(files: Memory, values: "dict[str, int]", site: int = SITE) -> None:
    """Put settings for a site into the files, and what site the board belongs to."""
    given = {
        "sensor_range_ma": RANGE_MA,
        "supply_full_mv": FULL_MV,
        "inrush_trip_ma": RANGE_MA - 1000,
    }
    given.update(values)
    words = settings_words(settings_from(given), site, NETLIST)
    belongs = installed_words(SITE, NETLIST)
    seal(words, ord("S"), FORMAT, 1)
    seal(belongs, ord("I"), FORMAT, 1)
    for copy in "ab":
        files.write("settings." + copy, words)
        files.write("installed." + copy, belongs)
