"""A port, a disk and a clock of tests, which fail when they are told to."""

import errno
from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta

import serial

from leafwinch_host.recording.recorder import Recorder
from leafwinch_host.recording.storage import Storage
from leafwinch_wiring.errors import BadInput


class FakeDisk:
    """Keeps what is written; `room` bytes fit, then it is full until there is more."""

    def __init__(self, room: int = 1 << 40) -> None:
        self.data = bytearray()
        self.synced = 0
        self.room = room
        self.broken = 0  # number of another error
        self.closed = False

    def write(self, data: memoryview) -> int:
        """Take as much as there is room for."""
        if self.broken:
            raise OSError(self.broken, "the disk broke")
        count = min(len(data), self.room)
        if not count:
            raise OSError(errno.ENOSPC, "No space left on device")
        self.room -= count
        self.data += data[:count]
        return count

    def sync(self) -> None:
        """All of it is safe now."""
        self.synced = len(self.data)

    def close(self) -> None:
        """Close it."""
        self.closed = True


class Clock:
    """Time that passes when it is told to."""

    def __init__(self) -> None:
        self.t = datetime(2025, 5, 1, 8, 0, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        """Return the time."""
        return self.t

    def passes(self, seconds: float) -> None:
        """Let time pass."""
        self.t += timedelta(seconds=seconds)


class FakePort:
    """A port that hands out pieces, then vanishes as a pulled cable does."""

    def __init__(self, pieces: Iterable[bytes]) -> None:
        self.pieces = list(pieces)
        self.is_open = True

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read at once."""
        if not self.pieces:
            raise OSError(errno.EIO, "Input/output error")
        return len(self.pieces[0])

    def read(self, size: int) -> bytes:
        """Return the next piece, or a part of it."""
        if not self.pieces:
            raise serial.SerialException("device reports readiness to read but returned no data")
        piece, self.pieces[0] = self.pieces[0][:size], self.pieces[0][size:]
        if not self.pieces[0]:
            self.pieces.pop(0)
        return piece

    def close(self) -> None:
        """Close it."""
        self.is_open = False


class Bus:
    """Ports by name as they are plugged in one after the other; None: nothing is there yet."""

    def __init__(self, plugs: list[dict[str, FakePort] | None]) -> None:
        self.plugs = plugs
        self.there: dict[str, FakePort] = self.plugs.pop(0) or {}
        self.opened: list[str] = []

    def opens(self, name: str) -> FakePort:
        """Open a port that is there."""
        port = self.there.get(name)
        if port is None or not port.pieces:
            raise BadInput(f"Port {name} can't be opened: it is not there.")
        self.opened.append(name)
        return port

    def finds(self) -> list[tuple[str, str]]:
        """Return the ports that are there."""
        return [(name, "board") for name in self.there]

    def next(self, _seconds: float = 0.0) -> None:
        """Let time pass: the next plug."""
        self.there = (self.plugs.pop(0) if self.plugs else None) or {}


def recorder_on(
    bus: Bus, name: str, disk: FakeDisk, clock: Clock | None = None
) -> tuple[Recorder, Storage]:
    """Return a recorder on a bus, and its storage, which writes only when told to."""
    clock = clock or Clock()
    storage = Storage(disk, threaded=False, clock=clock)
    waits: Callable[[float], None] = bus.next
    return Recorder(name, storage, bus.opens, bus.finds, clock, waits), storage
