"""Plays passes of the core and of the whole board program, times them and counts their calls.

Runs inside MicroPython, where it times, and under CPython, where it counts the functions that a
pass calls. Called as: benchmark_pass.py <program folder> time|count|core|whole; prints lines
"name<TAB>number". Only numbers come from the hand-written board here, no decision.
"""

import gc
import sys
from array import array

sys.path.insert(0, sys.argv[1])

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from types import FrameType
    from typing import Any

try:
    from time import ticks_us  # type: ignore[attr-defined]
except ImportError:  # CPython only counts
    ticks_us = int

heap: "Any" = gc  # CPython knows no mem_alloc
MASK = (1 << 30) - 1
STEP_MS = 5
SUPPLY_MV = 24_000
RUNNING_MA = 5000
IDLE, RAISING, FAULT = "at rest", "raising", "with a fault"
WHAT = (IDLE, RAISING, FAULT)
ROUNDS = 12
PASSES = 100  # of one round
TIMES = 20_000  # of what is timed by itself

# Contacts by the bits of leafwinch.signals.
REST = 0x7FF3  # deck amid its travel, control in the middle, everything healthy
BOTTOM_END = 1 << 5
ASKED = REST & ~1 | 1 << 2  # raise: its NC contact open, its path live
STOP_OK = 1 << 8
LINE_MIRROR, RAISE_MIRROR = 1 << 10, 1 << 11
MOVING = ASKED & ~LINE_MIRROR & ~RAISE_MIRROR

# One period of 50 Hz at 1 kHz, sine times 2^10; 5 A of a converter for 30 A.
SINE = (0, 316, 602, 828, 974, 1024, 974, 828, 602, 316)
PEAK = 483


def used() -> int:
    """Return the bytes of heap in use; 0 under CPython."""
    gc.collect()
    return int(heap.mem_alloc()) if hasattr(heap, "mem_alloc") else 0


def tell(name: str, number: float) -> None:
    """Print one figure."""
    print(name, number, sep="\t")


class Board:
    """What the loop takes from a board, as far as it can be had without functions in Python."""

    def __init__(self) -> None:
        from leafwinch.edge.sampling import new_ring, new_slots, timed_sampler

        self.ring = new_ring()
        self.slots = new_slots()
        self.register = 0
        self.inputs = array("i", [0])
        self.moving = 0
        self.sample = timed_sampler(
            self.wave().__next__, self.supply().__next__, self.ring, self.slots
        )
        self.now = 0
        self.ticks_us = ticks_us
        self.ticks_ms = self.clock().__next__
        self.sleep = self.line = self.beat = abs
        self.feed = gc.isenabled
        self.collect = gc.isenabled

    def wave(self) -> "Iterator[int]":
        """Give the readings of the current, one after the other."""
        while True:
            for value in SINE:
                yield 2048 + (value * PEAK >> 10) * self.moving << 4
            for value in SINE:
                yield 2048 - (value * PEAK >> 10) * self.moving << 4

    def supply(self) -> "Iterator[int]":
        """Give the readings of the supply."""
        while True:
            yield SUPPLY_MV * 4096 // 40_000 + 1 << 4

    def clock(self) -> "Iterator[int]":
        """Give the time of each pass, and take the samples before it."""
        sample = self.sample
        while True:
            sample(None)
            sample(None)
            sample(None)
            sample(None)
            sample(None)
            self.now = (self.now + STEP_MS) & MASK
            yield self.now

    def write_outputs(self, changed: int, out: int) -> None:
        """Set outputs."""


class Files:
    """Files that are not there and forget what is written."""

    def read(self, _name: str) -> None:
        """Return None: there is no such file."""
        return

    def write(self, _name: str, _data: object) -> None:
        """Forget it."""
        return

    append = write
    remove = read

    def size(self, _name: str) -> int:
        """Return -1: there is no such file."""
        return -1


class Port:
    """A serial line that somebody reads and on which nobody types."""

    def __init__(self) -> None:
        self.write = len

    def ready(self) -> bool:
        """Tell that a line fits."""
        return True

    def receive(self) -> int:
        """Return -1: nothing is typed."""
        return -1

    def begin(self) -> None:
        """Get ready for a new pass."""


def cold_core() -> "Any":
    """Return a core that was commissioned and has cooled down."""
    from leafwinch.controller import Controller
    from leafwinch.settings_schema import settings_from

    core = Controller(settings_from({"sensor_range_ma": 30_000, "supply_full_mv": 40_000}))
    core.thermal.level = 0
    core.current.blocked_ms = 0
    return core


def bring(what: str, play: "Callable[[int, int, int], None]", stored: "Callable[[], None]") -> None:
    """Bring a drive at the bottom end into what is to be timed.

    play: runs so many passes with contacts and current. stored: notes the stored record.
    """
    play(200, REST & ~BOTTOM_END, 0)
    stored()
    play(300, REST & ~BOTTOM_END, 0)
    if what == RAISING:
        play(18, ASKED & ~BOTTOM_END, 0)
        play(5, ASKED & ~BOTTOM_END & ~RAISE_MIRROR, 0)
        play(5, MOVING & ~BOTTOM_END, RUNNING_MA)
        play(300, MOVING, RUNNING_MA)
    elif what == FAULT:
        play(300, REST & ~BOTTOM_END & ~STOP_OK, 0)
        play(300, REST & ~BOTTOM_END, 0)


CONTACTS = {IDLE: REST & ~BOTTOM_END, RAISING: MOVING, FAULT: REST & ~BOTTOM_END}


class CorePlayer:
    """The core by itself."""

    def __init__(self, what: str) -> None:
        self.core = cold_core()
        bring(what, self.play, self.stored)
        self.contacts = CONTACTS[what]
        self.current = RUNNING_MA if what == RAISING else 0

    def play(self, passes: int, contacts: int, current_ma: int) -> None:
        """Run passes with these contacts and this current."""
        step = self.core.step
        now = self.core.last_ms
        for _ in range(passes):
            now = (now + STEP_MS) & MASK
            step(now, contacts, current_ma, SUPPLY_MV)

    def stored(self) -> None:
        """Note that the record was stored."""
        self.core.stored(self.core.last_ms)

    def run(self, passes: int) -> None:
        """Run what is timed."""
        self.play(passes, self.contacts, self.current)

    def around(self, passes: int) -> None:
        """Do what run() does besides the passes."""
        now = self.core.last_ms
        for _ in range(passes):
            now = (now + STEP_MS) & MASK


class WholePlayer:
    """Core and edge, as the loop runs them."""

    def __init__(self, what: str) -> None:
        from leafwinch.edge.console import Console
        from leafwinch.edge.keeper import Keeper
        from leafwinch.edge.loop import Loop
        from leafwinch.edge.meter import Meter
        from leafwinch.edge.settings_store import SettingsStore
        from leafwinch.edge.trace import Trace

        files: Any = Files()
        port: Any = Port()
        self.board = board = Board()
        any_board: Any = board
        self.core = core = cold_core()
        store = SettingsStore(files)
        keeper = Keeper(files, store)
        trace = Trace(core, keeper, port, "benchmark")
        console = Console(core, keeper, store, port, files, trace)
        meter = Meter(board.ring, board.slots, 0, 30_000)
        self.loop = Loop(any_board, meter, core, keeper, trace, console, 40_000)
        bring(what, self.play, self.stored)
        self.keeper = keeper

    def play(self, passes: int, contacts: int, current_ma: int) -> None:
        """Run passes with these contacts and this current."""
        self.board.inputs[0] = ~contacts
        self.board.moving = 1 if current_ma else 0
        self.loop.run(passes)

    def stored(self) -> None:
        """Note that the record was stored."""
        self.core.record_due = 0

    def run(self, passes: int) -> None:
        """Run what is timed."""
        self.loop.run(passes)

    def around(self, passes: int) -> None:
        """Do what run() does besides the passes: the samples, which are interrupts on a board."""
        clock = self.board.ticks_ms
        for _ in range(passes):
            clock()


PLAYERS = (("core", CorePlayer), ("whole", WholePlayer))


def spent(run: "Callable[[int], None]", times: int) -> int:
    """Return the time of one call in us."""
    begin = ticks_us()
    run(times)
    return int(ticks_us() - begin)


def best(run: "Callable[[int], None]", times: int) -> float:
    """Return the shortest time of one of `times`, in us."""
    return min(spent(run, times) for _ in range(ROUNDS)) / times


def bytes_of(run: "Callable[[int], None]", times: int) -> int:
    """Return the heap that a run takes, in bytes."""
    before = int(heap.mem_alloc())
    run(times)
    return int(heap.mem_alloc()) - before


def state_name(core: "Any") -> str:
    """Return what a core does, in this program's words."""
    return (IDLE, IDLE, RAISING, "lowering", FAULT)[core.state]


def time_passes() -> None:
    """Time passes, and say what memory they take."""
    gc.disable()
    for kind, make in PLAYERS:
        for what in WHAT:
            player = make(what)
            least = best(player.run, PASSES) - best(player.around, PASSES)
            if state_name(player.core) != what:
                raise ValueError("the drive is not " + what)
            tell(kind + " " + what, least)
            player = make(what)  # from the start, before the travel is over
            # What run() itself takes is in both.
            more = bytes_of(player.run, PASSES * 2) - bytes_of(player.run, PASSES)
            tell(kind + " bytes " + what, more / PASSES)
            gc.collect()


# --- the measures by which this interpreter is compared with a board's -------------------------


def nothing() -> None:
    """Do nothing."""


def turns(times: int) -> None:
    """Turn a loop."""
    for _ in range(times):
        pass


def calls(times: int) -> None:
    """Call a function."""
    for _ in range(times):
        nothing()


# Twenty conditions on a local, none of them true, as they were timed on the emulated processor.
IFS = "def twenty_ifs(times, x=0):\n    for _ in range(times):\n"
IFS += "".join(["        if x == " + str(number) + ": pass\n" for number in range(1, 21)])


def time_measures() -> None:
    """Time a call, a turn and twenty conditions by themselves."""
    turn = best(turns, TIMES)
    tell("turn of a loop", turn)
    tell("empty call", best(calls, TIMES) - turn)
    made: dict[str, Any] = {}
    exec(IFS, made)
    tell("20 ifs", best(made["twenty_ifs"], TIMES) - turn)


# --- counting, under CPython --------------------------------------------------------------------


def calls_of(run: "Callable[[int], None]") -> int:
    """Return how many functions of the program a pass calls, but for the sampling."""
    setprofile: Any = sys.setprofile
    found = 0

    def profile(frame: "FrameType", event: str, _given: object) -> None:
        nonlocal found
        name = frame.f_code.co_filename
        if event == "call" and name.startswith(sys.argv[1]) and "sampling" not in name:
            found += 1

    setprofile(profile)
    run(1)
    setprofile(None)
    return found


def count_passes() -> None:
    """Count the calls of functions of the program in a pass: the mean and the most."""
    for kind, make in PLAYERS:
        for what in WHAT:
            player = make(what)
            counts = [calls_of(player.run) for _ in range(PASSES)]
            extra = 1 if kind == "whole" else 0  # run() itself
            tell(kind + " " + what, sum(counts) / PASSES - extra)
            tell(kind + " most " + what, max(counts) - extra)


# --- the heap --------------------------------------------------------------------------------


class NoMachine:
    """Stands for a board's module `machine`, of which nothing is used here."""


def tell_heap(whole: bool) -> None:
    """Tell the bytes that the core, or the whole program, takes at rest."""
    if whole:
        sys.modules["machine"] = NoMachine()  # type: ignore[assignment]
    before = used()
    if whole:
        from leafwinch.edge import hardware, start

        player = WholePlayer(IDLE)
        loaded: Any = (hardware, start, player.loop)
        dropped: Any = hardware.ON_DEMAND
    else:
        loaded = cold_core()
        dropped = (("leafwinch", "settings_schema"),)
    # The board loads these only when they are needed, and drops them again.
    for folder, name in dropped:
        if folder + "." + name in sys.modules:
            del sys.modules[folder + "." + name]
            delattr(sys.modules[folder], name)
    tell("heap", used() - before)
    del loaded


if sys.argv[2] == "count":
    count_passes()
elif sys.argv[2] == "time":
    time_measures()
    time_passes()
else:
    tell_heap(sys.argv[2] == "whole")
