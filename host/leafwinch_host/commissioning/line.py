"""The board's line during commissioning: every line kept in the trace file, samples handed on."""

import binascii
import contextlib
import os
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import Any

from leafwinch_host.board.link import BoardLink
from leafwinch_host.board.serial_lines import (
    CRC_START,
    TEXT_CHARACTERS,
    Line,
    Listener,
    Sample,
    sample_of,
)
from leafwinch_host.recording.storage import now, stamp
from leafwinch_sim.closing import Closing
from leafwinch_wiring.errors import BadInput

FLUSH_S = 1.0
BACK_S = 30.0  # a port that vanishes while its board restarts comes back in this time
RETRY_S = 0.3
SAMPLE_S = 5.0
TIME_MASK = (1 << 30) - 1
CUT = b" !cut\n"  # how readers of recordings know a line that a crash cut short
STALE_S = 0.1  # a board that was waited for sends what it kept within this time
READS = 50  # until what was kept is read
FRESH = 2  # lines in one reading that are no more than the newest
KEPT = 4096  # samples that nobody has looked at

Open = Callable[[Listener], BoardLink]


class TraceFile(Closing):
    """The file with all lines as they came; notes of the tool begin with '#'.

    Lines are handed to the system every second, so that a crash of this program loses no more.
    They are forced to disk at the end of a step only: a slow disk would hold up the reading, and
    what the board says meanwhile would be lost.

    Raises:
        BadInput: the file can't be written.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._flushed = time.monotonic()
        try:
            self._file = path.open("a+b")
            if self._file.seek(0, os.SEEK_END):
                self._file.seek(-1, os.SEEK_END)
                if self._file.read(1) != b"\n":
                    self._file.write(CUT)
        except OSError as error:
            raise BadInput(f"{path}: can't be written ({error.strerror}).") from None

    def line(self, line: Line) -> None:
        """Keep one line, with the check sum that it came with."""
        text = line.text.ljust(TEXT_CHARACTERS).encode("ascii")
        code = b"%04X" % binascii.crc_hqx(text, CRC_START)
        self._write(stamp(now()) + b" " + text + code + b"\n")

    def note(self, words: str) -> None:
        """Keep a note of the tool, with its time."""
        text = " ".join(words.split()).encode("ascii", "backslashreplace")
        self._write(b"# " + stamp(now()) + b" " + text + b"\n")

    def _write(self, data: bytes) -> None:
        try:
            self._file.write(data)
            if time.monotonic() - self._flushed >= FLUSH_S:
                self._file.flush()
                self._flushed = time.monotonic()
        except OSError as error:
            raise BadInput(f"{self.path}: can't be written ({error.strerror}).") from None

    def sync(self) -> None:
        """Bring it safely to disk."""
        self._file.flush()
        os.fsync(self._file.fileno())
        self._flushed = time.monotonic()

    def close(self) -> None:
        """Close the file, safely on disk."""
        if self._file.closed:
            return
        try:
            self.sync()
        finally:
            self._file.close()


class CommissionLine(Closing):
    """A board's line that survives restarts of the board and keeps its trace.

    Args:
        open_link: opens the line with a listener; called again when the port was lost.
        trace: where every line is kept.
        now_s: a clock that never goes back, in seconds.
        pause: waits for so many seconds.
    """

    def __init__(
        self,
        open_link: Open,
        trace: TraceFile,
        now_s: Callable[[], float] = time.monotonic,
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        self.open_link = open_link
        self.trace = trace
        self.now_s = now_s
        self.pause = pause
        self._samples: deque[Sample] = deque(maxlen=KEPT)
        self.heard_s = now_s()
        self.heard = 0  # lines so far
        self.away = False  # the port was lost while nobody looked
        self.link: Any = open_link(self._hear)

    def _hear(self, line: Line) -> None:
        self.trace.line(line)
        self.heard_s = self.now_s()
        self.heard += 1
        if line.kind == "T":
            sample = sample_of(line)
            if sample is not None:
                self._samples.append(sample)

    def must_run(self) -> None:
        """Raise BadInput unless a program of ours is heard."""
        self.link.must_run()

    def forget(self) -> None:
        """Drop samples that came before now, all that the system has kept of them as well.

        What is left of an old time would look like a gap before the new one.
        """
        until = self.now_s() + STALE_S
        for _ in range(READS):
            before = self.heard
            self._read()
            if self.heard - before <= FRESH and self.now_s() >= until:
                break
        self._samples.clear()
        self.heard_s = self.now_s()

    def idle(self) -> None:
        """Keep the trace going while nobody looks; a port that is away is tried again quietly."""
        try:
            self.link.read()
        except BadInput:
            if not self.away:
                self.trace.note("port away")
            self.away = True
            self.pause(RETRY_S)
            with contextlib.suppress(BadInput):
                self.link.close()
                self.link = self.open_link(self._hear)
                self.trace.note("port back")
                self.away = False
        self._samples.clear()

    def read(self) -> list[Sample]:
        """Return the samples that came, after a short wait at most."""
        self._read()
        rows = list(self._samples)
        self._samples.clear()
        return rows

    def silent_s(self) -> float:
        """Return for how many seconds no line has come."""
        return self.now_s() - self.heard_s

    def _read(self) -> None:
        try:
            self.link.read()
        except BadInput as error:
            self.trace.note(f"port lost: {error}")
            self._again()

    def _again(self) -> None:
        """Open the port again; a board that restarts over USB takes its port away for a while."""
        self.link.close()
        until = self.now_s() + BACK_S
        while True:
            try:
                self.link = self.open_link(self._hear)
                self.trace.note("port back")
                self.away = False
                return
            except BadInput:
                if self.now_s() > until:
                    raise
            self.pause(RETRY_S)

    def wait_restart(self, before_ms: int, at_most_s: float = BACK_S) -> None:
        """Wait until a board that restarts speaks again.

        Args:
            before_ms: board time of a sample before the restart, which begins it anew.
            at_most_s: longest time without a line of the restarted board.

        Raises:
            BadInput: it does not come back.
        """
        until = self.now_s() + at_most_s
        while self.now_s() < until:
            for sample in self.read():
                if (sample.t_ms - before_ms) & TIME_MASK > TIME_MASK // 2:
                    return
        raise BadInput(f"Port {self.link.name}: the board did not come back after its restart.")

    def time_ms(self, at_most_s: float = SAMPLE_S) -> int:
        """Return the board's time out of the newest sample.

        Raises:
            BadInput: no sample comes.
        """
        until = self.now_s() + at_most_s
        while self.now_s() < until:
            rows = self.read()
            if rows:
                return rows[-1].t_ms
        raise BadInput(f"Port {self.link.name}: the board's lines stopped coming.")

    def close(self) -> None:
        """Close the port."""
        self.link.close()
