"""Runs the board's edge inside MicroPython: fast functions, sampling, and the loop's heap.

Called as: micropython edge_inside.py <project folder> meter|interrupt|scenarios|passes <number>
Prints lines of tab-separated words, which the test compares and judges.
"""

import gc
import sys
from array import array

sys.path.insert(0, sys.argv[1])
sys.path.insert(0, sys.argv[1] + "/firmware")

import micropython

from leafwinch.controller import Controller
from leafwinch.edge.console import Console
from leafwinch.edge.counters import LOWERINGS, RAISES
from leafwinch.edge.keeper import Keeper
from leafwinch.edge.loop import Loop
from leafwinch.edge.meter import Meter
from leafwinch.edge.sampling import COUNT, RING, new_ring, new_slots, timed_sampler
from leafwinch.edge.settings_store import SettingsStore
from leafwinch.edge.trace import Trace
from leafwinch.numbers import TYPE_CHECKING
from tests.edge.cycling import Cycling, cool_core, cycling_loop
from tests.edge.desk import FULL_MV, RANGE_MA, supply_reading
from tests.edge.meter_walk import meter_sum
from tests.edge.whole import Memory, Whole
from tests.firmware.drive import Drive, make_controller
from tests.firmware.scenarios_edges import EDGE_SCENARIOS
from tests.firmware.scenarios_faults import FAULT_SCENARIOS
from tests.firmware.scenarios_states import STATE_SCENARIOS
from tests.firmware.scenarios_traps import TRAP_SCENARIOS

if TYPE_CHECKING:
    from typing import Any

    Part = tuple[tuple[int, ...] | None, int, array[int]]

heap: "Any" = gc
ALL = FAULT_SCENARIOS + STATE_SCENARIOS + TRAP_SCENARIOS + EDGE_SCENARIOS
STORED = -1
ROW = 5  # time, contacts, current, supply, outputs


class Recorder(Drive):
    """Notes what the core is given and returns, from one power-up to the next."""

    def power_up(self, boot: int) -> None:
        super().power_up(boot)
        rows = array("i", [])
        if not hasattr(self, "parts"):
            self.parts: list[Part] = []
        self.parts.append((self.kept, boot, rows))
        core = self.core
        step = core.step
        stored = core.stored

        def noted_step(now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
            out = step(now_ms, contacts, current_ma, supply_mv)
            for value in (now_ms, contacts, current_ma, supply_mv, out):
                rows.append(value)
            return out

        def noted_stored(now_ms: int) -> None:
            for value in (now_ms, STORED, 0, 0, 0):
                rows.append(value)
            stored(now_ms)

        core.step = noted_step  # type: ignore[method-assign]
        core.stored = noted_stored  # type: ignore[method-assign]


class NoNotes(Whole):
    """A whole board that notes no calls and lets no virtual time pass but for its sleep."""

    def spend(self, us: int) -> None:
        self.now_us = (self.now_us + us) & self.mask


class RowBoard(NoNotes):
    """A board whose clock, contacts, current and supply are the next recorded row's.

    The heap is locked from the first pass's sleep to the end of the rows.
    """

    def __init__(self, files: Memory, core: Controller, rows: "array[int]") -> None:
        Whole.__init__(self, files)
        self.port.keep = False
        self.core = core
        self.rows = rows
        self.place = 0
        self.current_ma = 0
        self.wrong = 0
        self.seen = bytearray(8)
        self.locked = False
        self.passes = 0

    def sleep(self, us: int) -> None:
        if not self.locked:
            self.locked = True
            micropython.heap_lock()
        rows = self.rows
        self.compare()
        at = self.place
        while rows[at + 1] == STORED:
            self.core.stored(rows[at])
            at += ROW
        self.closed = rows[at + 1]
        self.current_ma = rows[at + 2]
        self.slots[1] = supply_reading(rows[at + 3])
        self.passes += 1
        self.place = at + ROW

    def compare(self) -> None:
        """Compare the pins with the outputs of the row before."""
        if self.place and self.rows[self.place - ROW + 1] != STORED:
            if self.mask_of_pins() != self.rows[self.place - 1]:
                self.wrong += 1
            self.seen[self.core.state] = 1

    def ticks_ms(self) -> int:
        return self.rows[self.place - ROW]

    # the meter
    def read(self) -> int:
        return self.current_ma

    def track_zero(self) -> None:
        pass

    def restart_meter(self) -> None:
        pass


class LockedKeeper(Keeper):
    """Nothing is due: the rows say when the record was stored."""

    def due(self) -> bool:
        return False


class Greedy(LockedKeeper):
    """Makes one list in each pass: the proof that the heap lock finds it."""

    def watch(self, controller: Controller) -> None:
        self.made = [controller]


def loop_for(board: "Any", core: Controller, keeper_class: "type[Keeper]" = Keeper) -> Loop:
    """Return a loop with the real keeper, trace and console."""
    store = SettingsStore(board.files)
    keeper = keeper_class(board.files, store)
    trace = Trace(core, keeper, board.port, "desk")
    console = Console(core, keeper, store, board.port, board.files, trace)
    meter = Meter(board.ring, board.slots, 0, RANGE_MA)
    return Loop(board, meter, core, keeper, trace, console, FULL_MV)


def locked(
    values: "dict[str, int]",
    part: "Part",
    keeper_class: "type[Keeper]",
    seen: bytearray,
) -> "tuple[int, int]":
    """Play recorded rows through the loop with the heap locked; return passes and differences."""
    kept, boot, rows = part
    count = 0
    for index in range(0, len(rows), ROW):
        count += 1 if rows[index + 1] != STORED else 0
    core = make_controller(values, kept, boot)
    board: Any = RowBoard(Memory(), core, rows)
    board.collect = board.track_zero  # no collection with the heap locked
    loop = loop_for(board, core, keeper_class)
    loop.meter = board
    gc.collect()
    try:
        if count:
            loop.run(count)
    finally:
        if board.locked:
            micropython.heap_unlock()
    board.compare()
    for index in range(len(seen)):
        seen[index] |= board.seen[index]
    return board.passes, board.wrong


def scenarios() -> None:
    """Print each scenario's passes, and 'ok', 'differs' or 'allocates'."""
    seen = bytearray(8)
    passes = 0
    last: Any = None
    for name, values, script in ALL:
        drive = Recorder(values)
        drive.play(script)
        result = "ok"
        for part in drive.parts:
            last = values, part
            try:
                done, wrong = locked(values, part, LockedKeeper, seen)
                passes += done
                if wrong:
                    result = "differs"
            except MemoryError:
                result = "allocates"
        print(name, passes, result, sep="\t")
    try:
        locked(last[0], last[1], Greedy, seen)
        print("an allocating pass", 0, "not caught", sep="\t")
    except MemoryError:
        print("an allocating pass", 0, "caught", sep="\t")
    for index in range(5):
        print("used", index, seen[index], sep="\t")


def interrupts(number: int) -> None:
    """Take samples as the timer's callback does, with the heap locked."""
    ring = new_ring()
    slots = new_slots()
    value = [0]

    def read_current() -> int:
        value[0] = (value[0] + 1) & 0xFFFF
        return value[0]

    def read_supply() -> int:
        return 40_000

    sample = timed_sampler(read_current, read_supply, ring, slots)
    meter = Meter(ring, slots, 0, RANGE_MA)
    micropython.heap_lock()
    try:
        for index in range(number):
            sample(None)
            if index % 5 == 0:
                meter.read()
                meter.track_zero()
        meter.learn_zero()
        meter.restart()
    finally:
        micropython.heap_unlock()
    at = (slots[COUNT] - 1) % RING
    print("samples", slots[COUNT], ring[at], slots[1], sep="\t")


class Nowhere(Memory):
    """Files that take everything and keep nothing, so that only the program's heap is measured."""

    def write(self, name: str, data: object) -> None:
        self.writes = getattr(self, "writes", 0) + 1

    def append(self, name: str, data: object) -> None:
        self.write(name, data)


def passes(number: int) -> None:
    """Run so many passes with the real parts, files written too; print the heap before and after.

    A sixth of them, more than two travels, runs before the first measurement.
    """
    core = cool_core()
    board: Any = Cycling(Nowhere())
    loop = cycling_loop(board, core)
    board.collect = gc.collect
    gc.collect()
    gc.disable()
    used = []
    for legs in (number // 6, number):
        loop.run(legs)
        gc.collect()
        used.append(heap.mem_alloc())
    gc.enable()
    counters = loop.keeper.counters
    print("heap", used[0], used[1], counters[RAISES], counters[LOWERINGS], core.fault, sep="\t")


job = sys.argv[2]
if job == "meter":
    for signed in (0, 1):
        for seed in range(int(sys.argv[3])):
            print(signed, seed, meter_sum(signed, seed, 400), sep="\t")
elif job == "interrupt":
    interrupts(int(sys.argv[3]))
elif job == "passes":
    passes(int(sys.argv[3]))
else:
    scenarios()
