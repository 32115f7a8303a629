"""A board on a desk for the loop: virtual microseconds, pins, samples, and what is called when.

Runs under CPython and MicroPython alike. Time passes only where something is called, so that a test
says how long each part of a pass takes; contacts may change at any microsecond.
"""

from leafwinch import signals as sig
from leafwinch.controller import Controller
from leafwinch.edge.loop import Loop
from leafwinch.edge.meter import Meter
from leafwinch.edge.sampling import COUNT, RING, SUPPLY, new_ring, new_slots
from leafwinch.numbers import TICKS_MASK, TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

FULL_MV = 40_000
RANGE_MA = 20_000
REGISTER = 0xD0000004
CALL_US = 1  # what a look at the clock costs


def supply_reading(millivolts: int) -> int:
    """Return the 16-bit reading that stands for a supply."""
    return min(4095, (millivolts * 4096 + FULL_MV - 1) // FULL_MV) << 4


class Desk:
    """Everything that the loop takes from hardware.py.

    mask: period of the clocks less one. levels: contacts that are closed. calls: names of
    what was called in order, kept only while noting is True.
    """

    def __init__(self, start_us: int = 0, mask: int = TICKS_MASK) -> None:
        self.now_us = start_us
        self.mask = mask
        self.closed = 0
        self.register = REGISTER
        self.ring = new_ring()
        self.slots = new_slots()
        self.slots[SUPPLY] = supply_reading(24_000)
        self.code = 2048  # of each sample of the current
        self.pins = [0] * 6
        self.inputs = self
        self.beat: Callable[[int], object] | None = self.set_beat
        self.beats = 0
        self.feeds = 0
        self.fed_us = start_us
        self.collected = 0
        self.noting = False
        self.calls: list[str] = []
        self.samples_us = start_us
        self.at: list[tuple[int, int]] = []  # (microsecond, contacts closed from then on)
        self.off_us = -1  # when the last output that is wanted went off
        self.read_us = 2

    def spend(self, us: int) -> None:
        """Let time pass, with the contacts' changes and the samples on the way."""
        self.now_us += int(us)
        while self.at and self.at[0][0] <= self.now_us:
            self.closed = self.at.pop(0)[1]
        slots = self.slots
        while self.now_us - self.samples_us >= 1000:
            self.samples_us += 1000
            count = slots[COUNT]
            self.ring[count % RING] = self.code << 4
            slots[COUNT] = (count + 1) & 0xFFFF

    def note(self, name: str) -> None:
        """Note a call."""
        if self.noting:
            self.calls.append(name)

    def ticks_us(self) -> int:
        self.spend(CALL_US)
        return self.now_us & self.mask

    def ticks_ms(self) -> int:
        self.spend(CALL_US)
        return (self.now_us // 1000) & self.mask

    def sleep(self, us: int) -> None:
        if us < 0:
            raise ValueError("a sleep of a negative time")
        self.note("sleep")
        self.spend(us)

    def __getitem__(self, register: int) -> int:
        if register != REGISTER:
            raise ValueError("a register that is not the inputs'")
        self.note("inputs")
        levels: int = ~self.closed & sig.ALL_CONTACTS
        for bit in range(6):
            levels |= self.pins[bit] << 17 + bit
        self.spend(self.read_us)
        return levels

    def line(self, level: int) -> None:
        self.note("line")
        self.pins[0] = 1 if level else 0
        self.look()

    def write_outputs(self, changed: int, out: int) -> None:
        self.note("outputs")
        for bit in range(1, 6):
            if changed >> bit & 1:
                self.pins[bit] = out >> bit & 1
        self.look()

    def look(self) -> None:
        """Keep the time at which neither direction was commanded any more."""
        if self.pins[1] or self.pins[2]:
            self.off_us = -1
        elif self.off_us < 0:
            self.off_us = self.now_us

    def mask_of_pins(self) -> int:
        """Return the outputs as their pins show them."""
        out = 0
        for bit in range(6):
            out |= self.pins[bit] << bit
        return out

    def set_beat(self, level: int) -> None:
        self.note("beat")
        self.beats += 1

    def feed(self) -> None:
        self.note("feed")
        self.feeds += 1
        self.fed_us = self.now_us

    def collect(self) -> None:
        self.note("collect")
        self.collected += 1


class Quiet:
    """A keeper, a trace and a console in one that take time and do nothing else.

    files: how many are due. request: what the console asks for.
    """

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.watch_us = 0
        self.trace_us = 0
        self.console_us = 0
        self.write_us = 40_000
        self.files = 0
        self.record = 0  # 1: the next file is the core's record
        self.follow_record = False
        self.late = 0
        self.busy = 0
        self.request = 0
        self.written: list[int] = []
        self.wanted_while_writing = 0

    # the keeper
    def watch(self, controller: Controller) -> None:
        self.desk.note("watch")
        if self.watch_us:
            self.desk.spend(self.watch_us)
        if self.follow_record and controller.record_due:
            self.files = 1
            self.record = 1

    def due(self) -> bool:
        return self.files > 0

    def write(self, controller: Controller) -> int:
        self.desk.note("write")
        if controller.contactors.phase or self.desk.pins[1] or self.desk.pins[2]:
            self.wanted_while_writing += 1
        self.desk.spend(self.write_us)
        self.written.append(self.desk.now_us)
        self.files -= 1
        record = self.record
        self.record = 0
        return record

    def late_pass(self) -> None:
        self.late += 1


class QuietTrace:
    """The trace of a Quiet."""

    def __init__(self, quiet: Quiet) -> None:
        self.quiet = quiet

    def step(self, contacts: int, out: int, supply_mv: int) -> None:
        self.quiet.desk.note("trace")
        if self.quiet.trace_us:
            self.quiet.desk.spend(self.quiet.trace_us)


class QuietConsole:
    """The console of a Quiet."""

    def __init__(self, quiet: Quiet) -> None:
        self.quiet = quiet
        self.busy = 0

    def step(self) -> int:
        self.quiet.desk.note("console")
        if self.quiet.console_us:
            self.quiet.desk.spend(self.quiet.console_us)
        return self.quiet.request


class TimedCore(Controller):
    """The core, whose pass takes a time on the desk's clock."""

    desk: Desk
    step_us = 0

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        out = Controller.step(self, now_ms, contacts, current_ma, supply_mv)
        self.desk.note("step")
        self.desk.spend(self.step_us)
        return out


def loop_on(desk: Desk, core: Controller, quiet: Quiet, signed: int = 0) -> "Any":
    """Return a loop that runs a core on a desk."""
    meter = Meter(desk.ring, desk.slots, signed, RANGE_MA)
    trace: Any = QuietTrace(quiet)
    console: Any = QuietConsole(quiet)
    keeper: Any = quiet
    board: Any = desk
    return Loop(board, meter, core, keeper, trace, console, FULL_MV)


class EdgeCore:
    """A core for tests/firmware/drive.py whose every pass runs through the loop and the pins.

    The drive's script sets the time, the contacts, the current and the supply of each pass;
    what the pins show is the pass's outputs.
    """

    def __init__(self, core: Controller) -> None:
        self.core = core
        self.desk = Desk()
        self.quiet = Quiet(self.desk)
        self.loop = loop_on(self.desk, core, self.quiet)
        self.loop.meter = self
        self.current_ma = 0
        self.now_ms = 0
        self.desk.ticks_ms = self.time_given  # type: ignore[method-assign]
        self.passes = 0

    def time_given(self) -> int:
        return self.now_ms

    # the meter
    def read(self) -> int:
        return self.current_ma

    def track_zero(self) -> None:
        pass

    def restart(self) -> None:
        pass

    # the core
    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        self.now_ms = now_ms
        self.current_ma = current_ma
        self.desk.closed = contacts
        self.desk.slots[SUPPLY] = supply_reading(supply_mv)
        self.loop.run(1)
        self.passes += 1
        return self.desk.mask_of_pins()

    def __getattr__(self, name: str) -> "Any":
        return getattr(self.core, name)
