"""Runs firmware/main.py itself inside MicroPython on played modules, and breaks it everywhere.

Called as: micropython main_inside.py <project folder> <empty folder>
Once the motor runs, the n-th call of the board raises, for n from 0 on; then the same in power-up.
Prints one line a run: where, n, what main.py raised, sum of the output levels, watchdog and Ctrl-C.
"""

import os
import sys

sys.path.insert(0, sys.argv[1])
sys.path.insert(0, sys.argv[1] + "/firmware")

from leafwinch.edge.pins import pico
from leafwinch.edge.record_store import RecordStore
from leafwinch.numbers import TYPE_CHECKING
from tests.edge.cycling import CYCLE, VALUES
from tests.edge.whole import Memory, install
from tests.firmware.drive import cold_record

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from typing import Any

PULL_UP = 1
RUNS = 40
LIMIT = 3000  # passes after which a run that did not break ends
OUTPUTS = pico().outputs
REGISTER = pico().register


class Broken(BaseException):
    """What a broken call raises: no Exception, as an interrupt is none."""


class Ended(BaseException):
    """The played board has run long enough."""


class Bench:
    """Levels, time and contacts of the played board."""

    def __init__(self) -> None:
        self.power_up(-1, False)

    def power_up(self, break_at: int, in_motion: bool) -> None:
        self.levels = dict.fromkeys(OUTPUTS, 1)  # as a soft restart may leave them
        self.break_at = break_at
        self.in_motion = in_motion
        self.now_us = 0
        self.sleeps = 0
        self.row = 0
        self.closed = 0
        self.code = 2048
        self.calls = 0
        self.timer: Callable[[object], None] | None = None
        self.watchdog = 0
        self.feeds = 0

    def call(self) -> None:
        """Count a call; raise in the one that was asked for."""
        moving = self.levels[OUTPUTS[1]] and self.levels[OUTPUTS[0]] >= 0 and self.row > 4
        if self.break_at >= 0 and (moving or not self.in_motion):
            if self.calls == self.break_at:
                self.break_at = -1
                raise Broken
            self.calls += 1

    def sleep_us(self, us: int) -> None:
        self.call()
        self.now_us += us
        self.sleeps += 1
        if self.sleeps > LIMIT:
            raise Ended
        if self.sleeps >= CYCLE[self.row][0]:
            self.closed = CYCLE[self.row][1]
            self.code = CYCLE[self.row][2]
            self.row += 1
        if self.timer is not None:
            for _ in range(5):
                self.timer(None)


bench = Bench()


class Pin:
    IN = 0
    OUT = 1
    PULL_UP = 1
    PULL_DOWN = 2

    def __init__(
        self, number: int, mode: int = -1, pull: int = -1, value: "int | None" = None
    ) -> None:
        self.number = number
        if value is not None:
            bench.levels[number] = value

    def __call__(self, level: "int | None" = None) -> int:
        if level is None:
            return bench.levels.get(self.number, 1)
        if level:  # taking an output off always works
            bench.call()
        bench.levels[self.number] = 1 if level else 0
        return 0


class ADC:
    def __init__(self, pin: Pin) -> None:
        self.number = pin.number

    def read_u16(self) -> int:
        return bench.code << 4 if self.number == 26 else 2458 << 4


class Timer:
    PERIODIC = 1

    def __init__(self, number: int, mode: int, period: int, callback: "Any", hard: bool) -> None:
        bench.timer = callback

    def deinit(self) -> None:
        bench.timer = None


class WDT:
    def __init__(self, timeout: int) -> None:
        bench.watchdog = timeout

    def feed(self) -> None:
        bench.call()
        bench.feeds += 1


class Inputs:
    def __getitem__(self, register: int) -> int:
        bench.call()
        return ~bench.closed & 0x1FFFF if register == REGISTER else 0


class Poll:
    def register(self, stream: object, mask: int) -> None:
        pass

    def ipoll(self, wait_ms: int) -> "Iterator[object]":
        bench.call()
        return iter(())


class Module:
    """A module: its attributes."""


def reset_cause() -> int:
    return 1


def ticks_us() -> int:
    bench.call()
    return bench.now_us


def ticks_ms() -> int:
    bench.call()
    return bench.now_us // 1000


def played(**attributes: object) -> "Any":
    made = Module()
    for name in attributes:
        setattr(made, name, attributes[name])
    return made


sys.modules["machine"] = played(
    Pin=Pin,
    ADC=ADC,
    Timer=Timer,
    WDT=WDT,
    mem32=Inputs(),
    reset_cause=reset_cause,
    WDT_RESET=3,
)
sys.modules["time"] = played(ticks_us=ticks_us, ticks_ms=ticks_ms, sleep_us=bench.sleep_us)
sys.modules["select"] = played(poll=Poll, POLLIN=1, POLLOUT=4)


from leafwinch.edge.hardware import Files  # noqa: E402 - on the played modules

files = Files()


def put_files() -> None:
    """Install settings and the record of a board that has rested, as files of this folder."""
    memory = Memory()
    install(memory, VALUES)
    records = RecordStore(memory)
    records.slots.store(records.words(cold_record(VALUES)))
    for name in memory.contents:
        files.write(name, memory.contents[name])


def run(source: str, where: str, number: int) -> None:
    """Run main.py once with the n-th call broken, and print how it ended."""
    files.remove("journal.00")
    raised = "nothing"
    try:
        exec(source, {"__name__": "__main__"})
    except BaseException as error:
        raised = type(error).__name__
    levels = 0
    for pin in OUTPUTS:
        levels += bench.levels[pin]
    told = 1 if b"Broken" in (files.read("journal.00") or b"") else 0
    print(where, number, raised, levels, bench.watchdog, told, sep="\t")


os.chdir(sys.argv[2])
put_files()
text = (files.read(sys.argv[1] + "/firmware/main.py") or b"").decode()
for in_motion in (True, False):
    for number in range(RUNS):
        bench.power_up(number, in_motion)
        run(text, "moving" if in_motion else "start", number)
bench.power_up(-1, False)
run(text, "whole", 0)
