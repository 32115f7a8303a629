"""Loads the board's whole program in MicroPython, runs it, and says what heap it takes.

Called as: micropython heap_inside.py <program folder> <folder for the board's files>
Prints lines "name<TAB>number": bytes of heap before anything of the program, at rest when it
runs, after an answer of the console was sent, and its lines.
"""

import gc
import os
import sys

# Every module keeps the path of its file: a long one of the folder would count as its own heap.
os.mount(os.VfsPosix(sys.argv[1]), "/p")  # type: ignore[attr-defined]
sys.path.insert(0, "/p")
os.chdir(sys.argv[2])

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

CLOSED = 0x3FF3  # what a deck at rest amid its travel shows, without the reset and the link
MIDDLE = 32768  # of the current's converter
SUPPLY = 24 * 65535 // 36


class Played:
    """The board's modules as far as the program needs them to come to rest."""

    def __init__(self) -> None:
        self.us = 0
        self.sample: Callable[[object], None] | None = None

    def ticks_us(self) -> int:
        self.us += 1
        return self.us & 0x3FFFFFFF

    def ticks_ms(self) -> int:
        return self.us // 1000 & 0x3FFFFFFF

    def sleep_us(self, us: int) -> None:
        for _ in range((self.us + us) // 1000 - self.us // 1000):
            if self.sample is not None:
                self.sample(None)
        self.us += us


played = Played()


class Module:
    """A module of the board."""


class Pin:
    """A pin that shows 0."""

    IN = 0
    OUT = 1
    PULL_UP = 1
    PULL_DOWN = 2

    def __init__(self, number: int, *_how: object, value: int = 0) -> None:
        self.number = number

    def __call__(self, _level: "int | None" = None) -> int:
        return 0


class ADC:
    """A converter."""

    def __init__(self, pin: Pin) -> None:
        self.code = MIDDLE if pin.number == 26 else SUPPLY

    def read_u16(self) -> int:
        return self.code


class Timer:
    """The timer of the samples."""

    PERIODIC = 1

    def __init__(self, _number: int, **how: "Any") -> None:
        played.sample = how["callback"]

    def deinit(self) -> None:
        played.sample = None


class WDT:
    """A watchdog."""

    def __init__(self, timeout: int) -> None:
        self.timeout = timeout

    def feed(self) -> None:
        return


class Register:
    """The input register: low = closed."""

    def __getitem__(self, _address: int) -> int:
        return ~CLOSED & 0x1FFFF


class Typing:
    """The serial line: types a command and counts the lines of its answer."""

    def __init__(self, command: bytes) -> None:
        self.command = command
        self.at = 0
        self.lines = 0
        self.ends = 0

    def ready(self) -> bool:
        return True

    def write(self, line: "bytearray | bytes") -> None:
        if line[0] == ord("A"):
            self.lines += 1
        elif line[0] == ord("Z"):
            self.ends += 1

    def receive(self) -> int:
        if self.at == len(self.command):
            return -1
        self.at += 1
        return self.command[self.at - 1]

    def begin(self) -> None:
        return


def install_modules() -> None:
    """Put the played modules where the program looks for them."""
    machine: Any = Module()
    machine.Pin = Pin
    machine.ADC = ADC
    machine.Timer = Timer
    machine.WDT = WDT
    machine.WDT_RESET = 3
    machine.mem32 = Register()
    machine.reset_cause = lambda: 1
    sys.modules["machine"] = machine
    time: Any = Module()
    time.ticks_us = played.ticks_us
    time.ticks_ms = played.ticks_ms
    time.sleep_us = played.sleep_us
    sys.modules["time"] = time


def used() -> int:
    gc.collect()
    return int(gc.mem_alloc())  # type: ignore[attr-defined]


def measure() -> None:
    """Load and run the program; print what it takes."""
    typing = Typing(b"counters\r")
    before = used()
    from leafwinch.edge import hardware, start
    from leafwinch.edge.keeper import Keeper
    from leafwinch.edge.settings_store import SettingsStore

    board = hardware.this_board()
    board.port = typing  # type: ignore[assignment]
    keeper = Keeper(board.files, SettingsStore(board.files))
    typed, typing.command = typing.command, b""
    loop = start.make_loop(board, keeper)
    gc.disable()
    loop.run(1000)
    board.collect()
    rest = used()
    typing.command = typed
    loop.run(1000)
    board.collect()
    for name, number in (
        ("before", before),
        ("rest", rest),
        ("answered", used()),
        ("lines", typing.lines),
        ("ends", typing.ends),
    ):
        print(name, number, sep="\t")


install_modules()
measure()
