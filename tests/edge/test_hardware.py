"""hardware.py against modules of the board that are played: pins, pulls, order, serial line."""

import importlib.util
import sys
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from leafwinch.edge.pins import Board, esp32, pico
from leafwinch.edge.sampling import COUNT, SUPPLY

SOURCE = Path(__file__).resolve().parents[2] / "firmware/leafwinch/edge/hardware.py"


def named(name: str, **contents: Any) -> types.ModuleType:
    """Return a module with these contents."""
    module = types.ModuleType(name)
    module.__dict__.update(contents)
    return module


class Played:
    """The modules machine, micropython, time, select, gc, and what was done with them."""

    def __init__(self) -> None:
        self.done: list[tuple[Any, ...]] = []
        self.levels: dict[int, int] = {}
        self.now_us = 0
        self.readings: dict[int, int] = {}
        self.writable = True
        self.typed = bytearray()
        self.sent = bytearray()
        self.timers: list[Any] = []
        self.fed = 0
        self.cause = 1

    def modules(self) -> dict[str, types.ModuleType]:
        """Return the played modules by name."""
        return {
            "machine": self.machine(),
            "micropython": named(
                "micropython",
                kbd_intr=lambda code: self.done.append(("interrupts", code)),
            ),
            "time": named(
                "time",
                ticks_us=lambda: self.now_us,
                ticks_ms=lambda: self.now_us // 1000,
                sleep_us=self.sleep_us,
            ),
            "select": named("select", poll=self.poll(), POLLIN=1, POLLOUT=4),
            "gc": named(
                "gc",
                collect=lambda: self.done.append(("collect",)),
                enable=lambda: self.done.append(("enable",)),
                disable=lambda: self.done.append(("disable",)),
            ),
        }

    def sleep_us(self, us: int) -> None:
        assert us > 0
        self.now_us += us

    def poll(self) -> type:
        played = self

        class Poll:
            def register(self, stream: object, mask: int) -> None:
                self.mask = mask

            def ipoll(self, wait_ms: int) -> Iterator[object]:
                assert wait_ms == 0
                ready = played.writable if self.mask == 4 else bool(played.typed)
                return iter([self] if ready else [])

        return Poll

    def machine(self) -> types.ModuleType:
        played = self

        class Pin:
            IN, OUT, PULL_UP, PULL_DOWN = 0, 1, 1, 2

            def __init__(
                self, number: int, mode: int = -1, pull: int = -1, value: int | None = None
            ) -> None:
                self.number = number
                played.done.append(("pin", number, mode, pull, value))
                if value is not None:
                    played.levels[number] = value

            def __call__(self, level: int | None = None) -> int:
                if level is not None:
                    played.levels[self.number] = 1 if level else 0
                return played.levels.get(self.number, 1)

        class ADC:
            def __init__(self, pin: Pin, atten: int = -1) -> None:
                self.pin = pin
                played.done.append(("converter", pin.number, atten))

            def read_u16(self) -> int:
                return played.readings.get(self.pin.number, 0)

        class Timer:
            PERIODIC = 1

            def __init__(self, number: int, **given: Any) -> None:
                self.given = given
                played.timers.append(self)

            def deinit(self) -> None:
                played.timers.remove(self)

        class WDT:
            def __init__(self, timeout: int) -> None:
                played.done.append(("watchdog", timeout))

            def feed(self) -> None:
                played.fed += 1

        return named(
            "machine",
            Pin=Pin,
            ADC=ADC,
            Timer=Timer,
            WDT=WDT,
            mem32={0xD0000004: 0x3FFFFFFF},
            WDT_RESET=3,
            reset_cause=lambda: self.cause,
            reset=lambda: self.done.append(("reset",)),
        )


class Stream:
    """stdin and stdout of the board in one."""

    def __init__(self, played: Played) -> None:
        self.played = played
        self.buffer = self

    def write(self, line: bytes) -> None:
        assert self.played.writable
        self.played.sent += line

    def readinto(self, into: bytearray) -> None:
        assert len(into) == 1
        into[0] = self.played.typed.pop(0)


@pytest.fixture
def played() -> Played:
    return Played()


@pytest.fixture
def module(played: Played, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Return a fresh hardware.py on the played modules."""
    with monkeypatch.context() as patch:
        for name, made in played.modules().items():
            patch.setitem(sys.modules, name, made)
        spec = importlib.util.spec_from_file_location("hardware_on_desk", SOURCE)
        assert spec is not None
        assert spec.loader is not None
        loaded: Any = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(loaded)
    stream = Stream(played)
    loaded.sys = types.SimpleNamespace(
        platform="rp2", stdin=stream, stdout=stream, print_exception=lambda error, text: None
    )
    return loaded


def pins(played: Played) -> dict[int, tuple[int, int, int | None]]:
    return {row[1]: row[2:] for row in played.done if row[0] == "pin"}


@pytest.mark.parametrize("make", [pico, esp32])
def test_every_pin_gets_its_direction_pull_and_level(
    make: Any, module: Any, played: Played
) -> None:
    board: Board = make()
    made = module.Hardware(board)
    made.set_up()
    assert [row[1] for row in played.done[:6]] == list(board.outputs)  # outputs before all else
    set_up = pins(played)
    for number in board.outputs:
        assert set_up[number] == (1, -1, 0)
    for number in board.contacts:
        assert set_up[number] == (0, 1, None)
    for number in board.unused:
        assert set_up[number] == (0, 2, None)
    assert (made.beat is None) == (board.heartbeat < 0)


def test_levels_of_both_boards_read_alike(module: Any, played: Played) -> None:
    made = module.Hardware(esp32())
    made.set_up()
    for bit, number in enumerate(esp32().contacts):
        played.levels = dict.fromkeys(esp32().contacts, 1)
        played.levels[number] = 0
        assert ~made.inputs[made.register] & 0x1FFFF == 1 << bit
    made = module.Hardware(pico())
    made.set_up()
    assert made.inputs[made.register] == 0x3FFFFFFF


def test_the_pico_samples_by_a_hard_timer_at_a_kilohertz(module: Any, played: Played) -> None:
    made = module.Hardware(pico())
    made.set_up()
    (timer,) = played.timers
    assert timer.given["period"] == 1
    assert timer.given["hard"] is True
    played.readings = {26: 0x8000, 27: 0x9000}
    for _ in range(8):
        timer.given["callback"](timer)
    assert made.slots[COUNT] == 8
    assert made.ring[3] == 0x8000
    assert made.slots[SUPPLY] == 0x9000
    made.release()
    assert played.timers == []


def test_the_esp32_samples_while_it_waits(module: Any, played: Played) -> None:
    made = module.Hardware(esp32())
    made.set_up()
    played.readings = {1: 0x7000, 2: 0x6000}
    made.sleep(4_000)
    assert played.timers == []
    assert made.slots[COUNT] == 5
    assert made.slots[SUPPLY] == 0x6000
    made.release()


def test_outputs_change_alone_and_go_off_together(module: Any, played: Played) -> None:
    made = module.Hardware(pico())
    made.set_up()
    for bit, number in enumerate(pico().outputs):
        if bit:
            made.write_outputs(1 << bit, 0x3F)
        else:
            made.line(1)
        assert {n for n in pico().outputs if played.levels[n]} == {number}
        assert not made.low()
        made.all_off()
        assert made.low()
    made.write_outputs(0x3E, 0x3F)
    made.write_outputs(0x0A, 0x35)
    assert [played.levels[n] for n in pico().outputs] == [0, 0, 1, 0, 1, 1]


def test_the_watchdog_starts_once_and_is_fed_only_then(module: Any, played: Played) -> None:
    made = module.Hardware(pico())
    made.set_up()
    made.feed()
    assert played.fed == 0
    made.start_watchdog()
    made.start_watchdog()
    made.feed()
    assert [row for row in played.done if row[0] == "watchdog"] == [("watchdog", 2000)]
    assert played.fed == 1
    assert not made.watchdog_caused()
    played.cause = 3
    assert made.watchdog_caused()


def test_interrupts_and_collection_are_off_from_taking_over_to_release(
    module: Any, played: Played
) -> None:
    made = module.Hardware(pico())
    made.set_up()
    made.take_over()
    assert played.done[-3:] == [("collect",), ("disable",), ("interrupts", -1)]
    made.release()
    assert played.done[-2:] == [("enable",), ("interrupts", 3)]


def test_the_port_never_waits(module: Any, played: Played) -> None:
    port = module.Hardware(pico()).port
    played.writable = False
    assert port.ready() is False
    played.writable = True
    assert port.ready() is True
    port.write(b"x" * 64)
    assert len(played.sent) == 64
    assert port.receive() == -1
    played.typed += b"\x03a"
    assert [port.receive(), port.receive(), port.receive()] == [3, 97, -1]


def test_files(module: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    files = module.Files()
    assert files.read("a") is None
    assert files.size("a") == -1
    files.remove("a")
    files.append("a", b"one")
    files.append("a", b"two")
    assert files.read("a") == b"onetwo"
    assert files.size("a") == 6
    buffer = bytearray(4)
    assert files.part("a", 4, buffer) == 2
    assert buffer[:2] == b"wo"
    assert files.part("none", 0, buffer) == 0
    files.write("a", b"new")
    assert files.read("a") == b"new"
    with pytest.raises(OSError, match="none"):
        files.write("none/a", b"")
    (tmp_path / "leafwinch" / "edge").mkdir(parents=True)
    for name in ("leafwinch/b.mpy", "leafwinch/a.mpy", "leafwinch/edge/c.mpy"):
        (tmp_path / name).write_text("")
    assert files.program() == [
        "leafwinch/a.mpy",
        "leafwinch/b.mpy",
        "leafwinch/edge/c.mpy",
        "main.py",
    ]


@pytest.mark.parametrize("widest", [None, 3])
def test_converters_take_their_widest_range(
    widest: int | None, module: Any, played: Played
) -> None:
    # The ESP32's converter starts with a range of less than 1 V (port's manual, from memory).
    if widest is not None:
        module.machine.ADC.ATTN_11DB = widest
    board = pico() if widest is None else esp32()
    module.Hardware(board).set_up()
    found = [row[1:] for row in played.done if row[0] == "converter"]
    range_ = -1 if widest is None else widest
    assert found == [(board.current, range_), (board.supply, range_)]
