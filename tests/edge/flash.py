"""Files in memory whose supply may fail at any byte of any write, and a serial line.

Runs under CPython and MicroPython alike.
"""

from leafwinch.numbers import TYPE_CHECKING

if TYPE_CHECKING:
    from array import array
    from collections.abc import Callable

    Data = bytes | bytearray | array[int]


class PowerCut(BaseException):
    """The supply failed while a file was being written."""


class Flash:
    """Files by name. left: bytes until the supply fails, or -1 for never.

    noted: each write as (files before it, name, bytes, whether it appended).
    """

    def __init__(self, contents: "dict[str, bytes] | None" = None) -> None:
        self.contents: dict[str, bytes] = dict(contents) if contents else {}
        self.left = -1
        self.fails = ""  # writing of names with this in them is refused
        self.noted: list[tuple[dict[str, bytes], str, bytes, bool]] = []
        self.noting = False

    def read(self, name: str) -> "bytes | None":
        return self.contents.get(name)

    def write(self, name: str, data: "Data") -> None:
        self._change(name, data, False)

    def append(self, name: str, data: "Data") -> None:
        self._change(name, data, True)

    def _change(self, name: str, data: "Data", appended: bool) -> None:
        if self.fails and self.fails in name:
            raise OSError(28)
        raw = bytes(data)
        if self.noting:
            self.noted.append((dict(self.contents), name, raw, appended))
        before = self.contents.get(name, b"") if appended else b""
        if 0 <= self.left < len(raw):
            self.contents[name] = before + raw[: self.left]
            raise PowerCut
        if self.left >= 0:
            self.left -= len(raw)
        self.contents[name] = before + raw

    def remove(self, name: str) -> None:
        self.contents.pop(name, None)

    def size(self, name: str) -> int:
        return len(self.contents[name]) if name in self.contents else -1

    def part(self, name: str, offset: int, buffer: bytearray) -> int:
        piece = self.contents.get(name, b"")[offset : offset + len(buffer)]
        buffer[: len(piece)] = piece
        return len(piece)

    def program(self) -> "list[str]":
        return [name for name in sorted(self.contents) if name.endswith(".py")]


class Port:
    """A serial line that may be deaf; sent: the lines that are not a trace's, or all.

    allocates nothing while muted is True.
    """

    def __init__(self) -> None:
        self.typed = bytearray()
        self.at = 0
        self.sent: list[bytes] = []
        self.traced: list[bytes] = []
        self.deaf = False
        self.muted = False
        self.written = 0
        self.sized = True
        self.on_write: Callable[[bytearray], None] | None = None

    def type(self, text: "bytes") -> None:
        """Have characters typed."""
        self.typed = bytearray(bytes(self.typed[self.at :]) + text)
        self.at = 0

    def ready(self) -> bool:
        return not self.deaf

    def write(self, line: bytearray) -> None:
        self.written += 1
        if len(line) != 64:
            self.sized = False
        if self.muted:
            return
        if line[0] == 0x54:
            self.traced.append(bytes(line))
        else:
            self.sent.append(bytes(line))

    def receive(self) -> int:
        if self.at >= len(self.typed):
            return -1
        code = self.typed[self.at]
        self.at += 1
        return code
