"""The only place, with main.py, that touches the board itself.

Everything else of the edge is given the objects and bound functions made here, so that it runs on
a desk with other ones.
"""

# The stubs leave the parameters of os and select without a type.
# pyright: reportUnknownMemberType=false, reportUnknownVariableType=false

import gc
import io
import os
import select
import sys
import time

import machine
import micropython

from leafwinch.edge.pins import NO_PIN, ONE_READ, TIMER, Board, board_for
from leafwinch.edge.sampling import SUPPLY, WaitingSampler, new_ring, new_slots, timed_sampler
from leafwinch.numbers import TYPE_CHECKING, const

if TYPE_CHECKING:
    from array import array
    from collections.abc import Callable
    from typing import BinaryIO

    from leafwinch.edge.loop import Register

    _open: "Callable[[str, str], BinaryIO]"
else:
    _open = open

SAMPLE_MS = const(1)
# Modules that are needed now and then; they are loaded anew every time.
ON_DEMAND = (
    ("leafwinch.edge", "answers"),
    ("leafwinch.edge", "settings_words"),
    ("leafwinch.edge", "self_test"),
    ("leafwinch", "settings_schema"),
)
CTRL_C = const(3)


class PinByPin:
    """The contacts where no single register holds them; indexed like a register."""

    def __init__(self, numbers: "tuple[int, ...]") -> None:
        self.pins = [machine.Pin(n, machine.Pin.IN, machine.Pin.PULL_UP) for n in numbers]

    def __getitem__(self, _register: int) -> int:
        """Return the levels, the first pin in bit 0."""
        levels = 0
        bit = 1
        for pin in self.pins:
            if pin():
                levels |= bit
            bit += bit
        return levels


class Files:
    """The board's files, by names without a folder; a missing file is None or nothing."""

    def read(self, name: str) -> "bytes | None":
        """Return the whole content, or None where there is no such file."""
        try:
            with _open(name, "rb") as file:
                return file.read()
        except OSError:
            return None

    def write(self, name: str, data: "bytes | bytearray | array[int]") -> None:
        """Write the file anew. Raises OSError where the flash refuses."""
        with _open(name, "wb") as file:
            file.write(data)

    def append(self, name: str, data: "bytes | bytearray | array[int]") -> None:
        """Write at the end of the file. Raises OSError where the flash refuses."""
        with _open(name, "ab") as file:
            file.write(data)

    def remove(self, name: str) -> None:
        """Remove the file if it is there."""
        try:
            os.remove(name)
        except OSError:
            pass

    def size(self, name: str) -> int:
        """Return the file's size in bytes, -1 where there is none."""
        try:
            return os.stat(name)[6]
        except OSError:
            return -1

    def part(self, name: str, offset: int, buffer: bytearray) -> int:
        """Read from an offset into the buffer; return how many bytes were there."""
        try:
            with _open(name, "rb") as file:
                file.seek(offset)
                return file.readinto(buffer) or 0
        except OSError:
            return 0

    def program(self) -> "list[str]":
        """Return the names of the program's files, sorted."""
        found = ["main.py"]
        for folder in ("leafwinch", "leafwinch/edge"):
            for name in os.listdir(folder):
                if "." in name:
                    found.append(folder + "/" + name)
        found.sort()
        return found


class Port:
    """The serial line to a computer. Lines are written only after ready() was true."""

    def __init__(self) -> None:
        self._out = select.poll()
        self._out.register(sys.stdout, select.POLLOUT)
        self._in = select.poll()
        self._in.register(sys.stdin, select.POLLIN)
        self._one = bytearray(1)

    def begin(self) -> None:
        """Have the first looks, which allocate; a character that came before is dropped."""
        self.ready()
        self.receive()

    def ready(self) -> bool:
        """Tell whether a line of 64 bytes can be written without waiting."""
        for _ in self._out.ipoll(0):
            return True
        return False

    def write(self, line: "bytearray | bytes") -> None:
        """Send one line of 64 bytes."""
        sys.stdout.buffer.write(line)

    def receive(self) -> int:
        """Return the next byte, or -1 when none is there."""
        for _ in self._in.ipoll(0):
            sys.stdin.buffer.readinto(self._one)
            return self._one[0]
        return -1


def _reader(number: int) -> "Callable[[], int]":
    """Return what reads a pin's voltage, over the widest range where the chip has several."""
    widest = getattr(machine.ADC, "ATTN_11DB", None)
    make: "Callable[..., machine.ADC]" = machine.ADC
    pin = machine.Pin(number)
    return (make(pin) if widest is None else make(pin, atten=widest)).read_u16


def _nothing() -> None:
    """Feed no watchdog, since none was started."""


class Hardware:
    """One board: contacts, outputs, samples, time, watchdog, files and serial line.

    inputs[register]: the contacts' levels, low = closed. ring, slots: see sampling.py.
    sleep(us): waits. feed(): feeds the watchdog once it was started. outputs: pins in bit order.
    beat: the heartbeat pin or None.
    """

    def __init__(self, board: Board) -> None:
        Pin = machine.Pin
        self.board = board
        self.name = board.name
        self.outputs = [Pin(number, Pin.OUT, value=0) for number in board.outputs]
        self.line = self.outputs[0]
        self.others = self.outputs[1:]
        self.register = board.register
        self.inputs: "Register" = machine.mem32
        self.beat: "machine.Pin | None" = None
        # The stubs give ticks a type of their own; they are integers.
        ticks_us: "Callable[[], int]" = time.ticks_us  # pyright: ignore[reportAssignmentType]
        ticks_ms: "Callable[[], int]" = time.ticks_ms  # pyright: ignore[reportAssignmentType]
        self.ticks_us = ticks_us
        self.ticks_ms = ticks_ms
        self.sleep: "Callable[[int], None]" = time.sleep_us
        self.ring = new_ring()
        self.slots = new_slots()
        self.timer: "machine.Timer | None" = None
        self.watchdog: "machine.WDT | None" = None
        self.feed: "Callable[[], None]" = _nothing
        self.files = Files()
        self.port = Port()

    def set_up(self) -> None:
        """Make everything ready but the outputs, which are since this object exists."""
        Pin = machine.Pin
        board = self.board
        for number in board.unused:
            Pin(number, Pin.IN, Pin.PULL_DOWN)
        if board.heartbeat != NO_PIN:
            self.beat = Pin(board.heartbeat, Pin.OUT, value=0)
        by_pin = PinByPin(board.contacts)  # also gives them their pull-ups
        if board.reading != ONE_READ:
            self.inputs = by_pin
        read_current = _reader(board.current)
        read_supply = _reader(board.supply)
        self.slots[SUPPLY] = read_supply()
        if board.sampling == TIMER:
            sample = timed_sampler(read_current, read_supply, self.ring, self.slots)
            self.timer = machine.Timer(
                -1, mode=machine.Timer.PERIODIC, period=SAMPLE_MS, callback=sample, hard=True
            )
        else:
            self.sleep = WaitingSampler(
                read_current, read_supply, self.ring, self.slots, self.ticks_us, time.sleep_us
            ).sleep
        self.port.begin()

    def write_outputs(self, changed: int, out: int) -> None:
        """Set those outputs but the pulse whose bits changed, in bit order."""
        bit = 2
        for pin in self.others:
            if changed & bit:
                pin(out & bit)
            bit += bit

    def all_off(self) -> None:
        """Drive every output low. Allocates nothing."""
        for pin in self.outputs:
            pin(0)

    def low(self) -> bool:
        """Tell whether every output pin reads low."""
        high = 0
        for pin in self.outputs:
            high += 1 if pin() else 0
        return high == 0

    def start_watchdog(self) -> None:
        """Start the watchdog, which nothing can stop again, unless it was started before."""
        if self.watchdog is None:
            self.watchdog = machine.WDT(timeout=self.board.watchdog_ms)
            self.feed = self.watchdog.feed

    def collect(self) -> None:
        """Drop what was loaded for one thing only, and collect; at rest only.

        What is still under way goes on, since it holds what it needs.
        """
        for folder, name in ON_DEMAND:
            if folder + "." + name in sys.modules:
                del sys.modules[folder + "." + name]
                delattr(sys.modules[folder], name)
        gc.collect()

    def take_over(self) -> None:
        """From now on nothing is collected on demand, and no character stops the program."""
        gc.collect()
        gc.disable()
        micropython.kbd_intr(-1)

    def release(self) -> None:
        """Give the prompt its ways back, and stop the samples."""
        gc.enable()
        micropython.kbd_intr(CTRL_C)
        if self.timer is not None:
            self.timer.deinit()

    def watchdog_caused(self) -> bool:
        """Tell whether the watchdog restarted the board (a deliberate restart looks alike)."""
        return machine.reset_cause() == machine.WDT_RESET

    def cause(self) -> int:
        """Return the board's own number for what restarted it."""
        return machine.reset_cause()

    def described(self, error: BaseException) -> str:
        """Return what the interpreter prints of an error: where it was raised, and its words."""
        text = io.StringIO()
        sys.print_exception(error, text)  # pyright: ignore[reportArgumentType]
        return text.getvalue()  # pyright: ignore[reportAttributeAccessIssue]

    def restart(self) -> None:
        """Restart the board through its normal way of powering up. Does not return."""
        machine.reset()


def this_board() -> Hardware:
    """Return the board that this interpreter runs on."""
    return Hardware(board_for(sys.platform))
