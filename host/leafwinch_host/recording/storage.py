"""The file of a recording: appended to, on disk within a second, patient while a disk is full.

A thread of its own writes, since a slow disk must not keep the port from being read.
"""

import errno
import os
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol, Self

from leafwinch_sim.closing import Closing
from leafwinch_wiring.errors import BadInput

SYNC_S = 0.5  # so often what came is written and synced; twice as often as promised
RETRY_S = 1.0  # so often a full disk is tried again
WAITING_MAX = 16 << 20  # bytes kept while nothing can be written: 29 minutes of a moving deck
HURRY_BYTES = 1 << 18  # when so many wait they are written at once
FIRST_BYTES = 16
CUT_MARK = b" !cut\n"
FULL = (errno.ENOSPC, errno.EDQUOT)


class Disk(Protocol):
    """An open file."""

    def write(self, data: memoryview) -> int:
        """Append bytes and return how many were taken; raise OSError where none can be."""
        ...

    def sync(self) -> None:
        """Bring everything written safely to disk."""
        ...

    def close(self) -> None:
        """Close it."""
        ...


class RealDisk:
    """A file that is appended to without any buffer in this process.

    Raises:
        BadInput: it can't be opened, or it is there already and no recording.
    """

    def __init__(self, path: Path) -> None:
        try:
            flags = os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0)
            self._end = os.open(path, flags, 0o666)
        except OSError as error:
            raise BadInput(f"{path}: can't be written ({error.strerror}).") from None
        try:
            self._join(path)
        except BaseException:
            os.close(self._end)
            raise

    def _join(self, path: Path) -> None:
        """Make sure that what is there may be gone on with; end a line that was cut off."""
        size = os.fstat(self._end).st_size
        if size:
            os.lseek(self._end, 0, os.SEEK_SET)
            if not begins_like_recording(os.read(self._end, FIRST_BYTES)):
                raise BadInput(
                    f"{path}: there is a file of another kind, allowed is a new name or a "
                    "recording to go on with."
                )
            os.lseek(self._end, size - 1, os.SEEK_SET)
            if os.read(self._end, 1) != b"\n":
                os.write(self._end, CUT_MARK)
        elif os.name == "posix":
            # The name of a new file is only on disk once its folder is.
            folder = os.open(path.parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)

    def write(self, data: memoryview) -> int:
        """See Disk."""
        return os.write(self._end, data)

    def sync(self) -> None:
        """See Disk."""
        os.fsync(self._end)

    def close(self) -> None:
        """See Disk."""
        os.close(self._end)


def begins_like_recording(first: bytes) -> bool:
    """Tell whether the first bytes of a file are those of a recording, even one cut at once."""
    text = first.removeprefix(b"# ")
    form = b"0000-00-00T00:00"
    return all(
        chr(byte).isdigit() if chr(want) == "0" else byte == want
        for byte, want in zip(text, form, strict=False)
    ) or b"# ".startswith(first)


def stamp(moment: datetime) -> bytes:
    """Return a time in UTC as it stands in front of every line of a recording."""
    return moment.isoformat(timespec="milliseconds").encode("ascii")


def now() -> datetime:
    """Return the time of this machine in UTC."""
    return datetime.now(UTC)


class Storage(Closing):
    """Takes lines at any time and brings them to disk; use it as a context manager.

    While the disk is full it keeps up to WAITING_MAX bytes, counts the lines beyond that, tries
    again every second, and says in the file what happened once it goes on.

    Args:
        disk: open file.
        threaded: whether a thread writes; without one `work` must be called.
        clock: gives the time of notes.
    """

    def __init__(
        self, disk: Disk, threaded: bool = True, clock: Callable[[], datetime] = now
    ) -> None:
        self.full = False  # nothing can be written at present
        self.lost = 0  # lines that found no room, in all
        self.synced_bytes = 0  # on disk for certain
        self.error = ""  # the disk failed for good: why
        self._disk = disk
        self._clock = clock
        self._lock = threading.Lock()
        self._waiting = bytearray()
        self._skipped = 0  # lines lost since the last note
        self._full_since: datetime | None = None
        self._unsynced = 0
        self._wake = threading.Event()
        self._ending = False
        self._thread: threading.Thread | None = None
        if threaded:
            self._thread = threading.Thread(target=self._go_on, name="storage", daemon=True)

    def take(self, lines: list[bytes]) -> None:
        """Take whole lines, each with its end."""
        data = b"".join(lines)
        with self._lock:
            if self._skipped or len(self._waiting) + len(data) > WAITING_MAX:
                # Once one is lost all are until there is room, so that the gap is one and told.
                self._skipped += len(lines)
                self.lost += len(lines)
            else:
                self._waiting += data
                if len(self._waiting) > HURRY_BYTES and not self.full:
                    self._wake.set()

    @property
    def unwritten(self) -> int:
        """Lines that wait for the disk."""
        with self._lock:
            return self._waiting.count(b"\n")

    def work(self) -> bool:
        """Write and sync what waits; tell whether the disk took it.

        Raises:
            OSError: the disk fails for another reason than being full.
        """
        try:
            with self._lock:
                piece = memoryview(bytes(self._waiting))
            while piece:
                count = self._disk.write(piece)
                with self._lock:
                    del self._waiting[:count]
                piece = piece[count:]
                self._unsynced += count
            if self._unsynced:
                self._disk.sync()
                self.synced_bytes += self._unsynced
                self._unsynced = 0
        except OSError as error:
            if error.errno not in FULL:
                raise
            if not self.full:
                self.full = True
                self._full_since = self._clock()
            return False
        if self.full:
            self._goes_on()
            return self.work()
        return True

    def _goes_on(self) -> None:
        """Note in the file that the disk was full, since when, and what it cost."""
        since = self._full_since or self._clock()
        with self._lock:
            words = f"disk full since {stamp(since).decode()}, goes on, lost {self._skipped} lines"
            self._waiting += b"# " + stamp(self._clock()) + b" " + words.encode("ascii") + b"\n"
            self._skipped = 0
            self.full = False

    def _go_on(self) -> None:
        while not self._ending:
            self._wake.wait(RETRY_S if self.full else SYNC_S)
            self._wake.clear()
            try:
                self.work()
            except OSError as error:
                self.error = error.strerror or str(error)
                return

    def __enter__(self) -> Self:
        if self._thread is not None:
            self._thread.start()
        return self

    def close(self) -> None:
        """Write and sync what is left, once, and close the file."""
        self._ending = True
        self._wake.set()
        if self._thread is not None and self._thread.is_alive():
            self._thread.join()
        try:
            if not self.error:
                self.work()
        except OSError as error:
            self.error = error.strerror or str(error)
        finally:
            self._disk.close()
