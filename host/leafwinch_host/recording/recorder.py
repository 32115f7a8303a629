"""Records what a board sends, over cables pulled and disks full; sends nothing itself."""

import time
from collections.abc import Callable
from datetime import datetime
from typing import Any

import serial

from leafwinch_host.board.link import PROMPT, QUIET_S
from leafwinch_host.board.ports import found_ports, open_port, plain
from leafwinch_host.board.serial_lines import END
from leafwinch_host.recording.storage import Storage, now, stamp
from leafwinch_host.recording.stream import Stream, Tally, escaped
from leafwinch_sim.closing import Closing
from leafwinch_wiring.errors import BadInput

PIECE = 1 << 16  # bytes read at once at most
STALE_S = 0.25
LOOK_S = 0.5  # so often a lost port is looked for
NOTE_MARK = b"# "

OpenPort = Callable[[str], Any]
FindPorts = Callable[[], list[tuple[str, str]]]


def at_a_fresh_line(port: Any, clock: Callable[[], float] = time.monotonic) -> Any:
    """Read away what was kept for a reader of an earlier time; return the port at a line's begin.

    Board and system keep lines while nobody reads, and drop what comes after: a recording that
    began with them would begin with a gap.
    """
    until = clock() + STALE_S
    data = b""
    try:
        while clock() < until or not data.endswith(END):
            if clock() > until + STALE_S:
                break
            data = port.read(port.in_waiting or 1) or data
    except (serial.SerialException, OSError):
        pass  # the recorder meets the same and says so
    return port


class Recorder(Closing):
    """Reads a port in pieces and hands every line to a storage; `step` does one piece.

    A line is kept as it came, the time in UTC at which it came in front of it; notes begin
    with '# '. A port that vanishes is waited for: the same one, or the only board there is.

    Args:
        name: port.
        storage: where the lines go.
        opens, finds: make and find ports; of another kind in tests.
        clock: time in UTC. waits: sleeps for so many seconds.
        port: the port of that name, if it is open already.

    Raises:
        BadInput: the port can't be opened.
    """

    def __init__(
        self,
        name: str,
        storage: Storage,
        opens: OpenPort = open_port,
        finds: FindPorts = found_ports,
        clock: Callable[[], datetime] = now,
        waits: Callable[[float], None] = time.sleep,
        port: Any = None,
    ) -> None:
        self.name = name
        self.storage = storage
        self.stream = Stream()
        self.pulled = 0  # how often the port was lost
        self.at_prompt = False  # MicroPython's prompt was seen
        self._opens = opens
        self._finds = finds
        self._clock = clock
        self._waits = waits
        self._port: Any = opens(name) if port is None else port
        self._lost_at: datetime | None = None
        self._others = self._found() - {name}
        self.note(f"start: port {name}")

    @property
    def tally(self) -> Tally:
        """What came so far."""
        return self.stream.tally

    @property
    def connected(self) -> bool:
        """Tell whether the port is there."""
        return self._port is not None

    def step(self) -> int:
        """Read one piece, or look once for a lost port; return how many lines were kept.

        Raises:
            BadInput: the file can't be written any more, for another reason than a full disk.
        """
        if self.storage.error:
            raise BadInput(f"The recording can't be written any more ({self.storage.error}).")
        if self._port is None:
            self._waits(LOOK_S)
            self._look()
            return 0
        try:
            data = self._port.read(min(self._port.in_waiting or 1, PIECE))
        except (serial.SerialException, OSError) as error:
            self._lose(error)
            return 0
        if not data:
            return 0
        if PROMPT in data:
            self.at_prompt = True
        kept = self.stream.feed(data)
        if kept:
            self._keep(kept)
        return len(kept)

    def must_hear(self) -> None:
        """Record until a good line has come.

        Raises:
            BadInput: none came within QUIET_S.
        """
        until = time.monotonic() + QUIET_S
        while not self.tally.lines:
            self.step()
            if time.monotonic() < until:
                continue
            if self.at_prompt:
                raise BadInput(
                    f"Port {self.name}: MicroPython's prompt is there, but no leafwinch program "
                    "runs; 'leafwinch board load' loads one."
                )
            if self.tally.bad:
                raise BadInput(
                    f"Port {self.name}: what comes is not the speech of a leafwinch board."
                )
            raise BadInput(
                f"Port {self.name}: nothing came for {QUIET_S:g} s: not the board's port, no "
                "power, or no program on the board."
            )

    def note(self, words: str) -> None:
        """Put a note into the recording."""
        self._keep([NOTE_MARK + escaped(words.encode("utf-8"))])

    def _keep(self, kept: list[bytes]) -> None:
        moment = stamp(self._clock())
        front = moment + b" "
        lines = []
        for line in kept:
            if line.startswith(NOTE_MARK):
                lines.append(NOTE_MARK + front + line[len(NOTE_MARK) :] + b"\n")
            else:
                lines.append(front + line + b"\n")
        self.storage.take(lines)

    def _lose(self, error: Exception) -> None:
        self._close_port()
        rest = self.stream.broken_off()
        if rest:
            self._keep(rest)
        self.pulled += 1
        self._lost_at = self._clock()
        self.note(f"port lost: {self.name} ({plain(error)})")

    def _look(self) -> None:
        for name in self._candidates():
            try:
                self._port = self._opens(name)
            except BadInput:
                continue
            away_s = (self._clock() - (self._lost_at or self._clock())).total_seconds()
            self.name = name
            self._others = self._found() - {name}
            self.note(f"port back: {name} after {away_s:.1f} s")
            return

    def _candidates(self) -> list[str]:
        """The same port, else the only one that is new; never another board that was there."""
        new = self._found() - self._others - {self.name}
        return [self.name, *new] if len(new) == 1 else [self.name]

    def _found(self) -> set[str]:
        return {name for name, _ in self._finds()}

    def _close_port(self) -> None:
        try:
            if self._port is not None:
                self._port.close()
        except (serial.SerialException, OSError):
            pass  # it is gone already
        self._port = None

    def close(self) -> None:
        """Keep what is left, note the end with the counts, and close the port."""
        rest = self.stream.broken_off()
        if rest:
            self._keep(rest)
        tally = self.tally
        self.note(
            f"end: {tally.lines} lines, {tally.missing} trace lines missing, {tally.bad} bad, "
            f"port lost {self.pulled} times"
        )
        self._close_port()
