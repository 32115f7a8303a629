"""One played board: the firmware's whole program in a real MicroPython with a flash of its own."""

import json
import os
import select
import struct
import subprocess
from dataclasses import dataclass
from pathlib import Path

from leafwinch.edge.counters import DROPPED_LINES
from leafwinch.settings_schema import settings_from
from leafwinch_sim.lockstep import micropython_command
from leafwinch_sim.site_schema import Site
from leafwinch_sim.stand_in import words

STAND_IN = Path(words.__file__).parent
ANSWER_S = 20.0  # longest wait for one slice; a real one takes less than a millisecond
UNREAD_S = 0.5  # a program that only prints waits so long for a reader, then its text is lost
INSTALL_S = 60.0
# A board with an RP2040 has about 192 KiB (from memory). Here objects are twice as large, and
# what plays the board takes 34 KiB itself.
HEAP = "256k"
INSTALL_HEAP = "2m"
LINE_BYTES = 8192  # the smallest pipe of which one page is always free while it is ready
SERIAL_BYTES = 4096  # read at once
SET_PIPE_SIZE = 1031  # F_SETPIPE_SZ of Linux

_IN = struct.Struct(f"<{words.IN_WORDS}i")
_OUT = struct.Struct(f"<{words.OUT_WORDS}i")


class BoardGone(Exception):  # noqa: N818 - it says what happened to the process
    """The board's process ended or stood still though nothing told it to; the message says how."""


@dataclass(frozen=True, slots=True)
class BoardPlan:
    """What a played board is made of.

    Attributes:
        flash: file of its flash, as `make_flash` makes it.
        frequency: of the motor's current in Hz, 0 for direct current.
        range_ma, full_mv: full scale of current sensor and supply divider.
        seed: of the converter's noise.
        heap: heap of the interpreter.
    """

    flash: Path
    frequency: int
    range_ma: int
    full_mv: int
    seed: int = 1
    heap: str = HEAP


def plan_for(site: Site, flash: Path, seed: int = 1, heap: str = HEAP) -> BoardPlan:
    """Return the plan of a board that is wired as the site's settings say."""
    settings = settings_from(site.settings)
    return BoardPlan(
        flash,
        round(site.supply.frequency),
        settings.sensor_range_ma,
        settings.supply_full_mv,
        seed,
        heap,
    )


def make_flash(flash: Path, contents: Path | None) -> None:
    """Make a file that is a board's empty flash, and copy a folder's contents into it.

    Raises:
        BadInput: where there is no desktop MicroPython.
        OSError: where the file can't be written.
        subprocess.CalledProcessError: where the contents do not fit.
    """
    flash.write_bytes(b"")
    extra = [] if contents is None else [str(contents)]
    subprocess.run(
        [*micropython_command(INSTALL_HEAP), str(STAND_IN / "installer.py"), str(flash), *extra],
        check=True,
        capture_output=True,
        timeout=INSTALL_S,
    )


class BoardProcess:
    """The process, its pipes and its serial line, over restarts and power cuts.

    `sent` collects what the board wrote; `reading` says whether anybody takes it. `words` are the
    board's last ones.
    """

    def __init__(self, plan: BoardPlan) -> None:
        self.plan = plan
        self.words: tuple[int, ...] = (0,) * words.OUT_WORDS
        self.sent = bytearray()
        self.typed = bytearray()
        self.reading = True
        self.pid = 0
        self._process: subprocess.Popen[bytes] | None = None
        self._to_board, self._from_bench = -1, -1
        self._line_in, self._type = os.pipe()
        self._line, self._line_out = os.pipe()
        for end in (self._type, self._line):
            os.set_blocking(end, False)
        self._limit_pipe()

    def _limit_pipe(self) -> None:
        """Give the line a short queue, so that an unread one is noticed soon."""
        try:
            import fcntl

            fcntl.fcntl(self._line_out, SET_PIPE_SIZE, LINE_BYTES)
        except (ImportError, OSError):
            return  # elsewhere the queue is longer, no more

    @property
    def running(self) -> bool:
        """Whether there is a process."""
        return self._process is not None

    def start(self, cause: int, gpio: int = 0, raw: bool = False) -> None:
        """Start the board after a reset of that cause; gpio: levels of the output pins."""
        plan = self.plan
        told = json.dumps(
            {
                "frequency": plan.frequency,
                "range_ma": plan.range_ma,
                "full_mv": plan.full_mv,
                "seed": plan.seed,
                "dropped_at": DROPPED_LINES,
                "gpio": gpio,
                "cause": cause,
                "raw": raw,
            }
        )
        board_reads, self._to_board = os.pipe()
        self._from_board, board_writes = os.pipe()
        arguments = [str(plan.flash), str(board_reads), str(board_writes), told]
        self._process = subprocess.Popen(
            [*micropython_command(plan.heap), str(STAND_IN / "launcher.py"), *arguments],
            stdin=self._line_in,
            stdout=self._line_out,
            pass_fds=(board_reads, board_writes),
            process_group=0,  # Ctrl-C in a terminal is meant for the bench, not for the board
        )
        self.pid = self._process.pid
        os.close(board_reads)
        os.close(board_writes)

    def exchange(self, told: tuple[int, ...]) -> tuple[int, ...]:
        """Let the board run for one slice with these inputs; return its words.

        Raises:
            BoardGone: the process ended by itself or stands still.
        """
        self._type_on()
        try:
            os.write(self._to_board, _IN.pack(*told))
        except BrokenPipeError:
            raise BoardGone(self._how_ended()) from None
        data = b""
        while len(data) < _OUT.size:
            watched = [self._from_board]
            if self.reading:
                watched.append(self._line)
            ready, _, _ = select.select(watched, [], [], ANSWER_S if self.reading else UNREAD_S)
            if not ready:
                if self.reading:
                    raise BoardGone("The virtual board's process stands still.")
                # From now on as if somebody read, so that the program is not stopped by us.
                self.reading = True
            if self._line in ready:
                self._take_line()
            if self._from_board in ready:
                more = os.read(self._from_board, _OUT.size - len(data))
                if not more:
                    raise BoardGone(self._how_ended())
                data += more
        if self.reading:
            self._take_line()
        self.words = _OUT.unpack(data)
        return self.words

    def _take_line(self) -> None:
        try:
            while True:
                data = os.read(self._line, SERIAL_BYTES)
                self.sent += data
                if len(data) < SERIAL_BYTES:
                    return
        except BlockingIOError:
            return

    def _type_on(self) -> None:
        if self.typed:
            try:
                count = os.write(self._type, self.typed[:SERIAL_BYTES])
                del self.typed[:count]
            except BlockingIOError:
                return

    def take(self) -> bytes:
        """Return what the board sent since the last call."""
        data = bytes(self.sent)
        self.sent.clear()
        return data

    def type(self, data: bytes) -> None:
        """Send characters to the board, from its next slice on."""
        self.typed += data

    def _how_ended(self) -> str:
        code = self._process.wait(ANSWER_S) if self._process is not None else 0
        return f"The virtual board's process ended by itself with code {code}."

    def kill(self) -> None:
        """End the process at once, wherever it is, as a power cut does."""
        if self._process is None:
            return
        self._process.kill()
        self._process.wait()
        self._process = None
        os.close(self._to_board)
        os.close(self._from_board)

    def forget_line(self) -> None:
        """Empty the queues of the serial line, as they are after power came back."""
        self.typed.clear()
        self._take_line()
        self.sent.clear()
        os.set_blocking(self._line_in, False)
        try:
            while os.read(self._line_in, SERIAL_BYTES):
                pass
        except BlockingIOError:
            pass
        os.set_blocking(self._line_in, True)

    def close(self) -> None:
        """End the process and give the pipes back."""
        self.kill()
        for end in (self._line_in, self._type, self._line, self._line_out):
            os.close(end)
