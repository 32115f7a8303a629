"""Which port is meant, how it is opened, and what is said where none answers."""

from dataclasses import dataclass
from typing import Any

import pytest
import serial
from serial.tools import list_ports

from leafwinch_host.board import link as link_module
from leafwinch_host.board import ports
from leafwinch_host.board.link import BoardLink, Refused
from leafwinch_host.board.loader import Interpreter, target_for
from leafwinch_wiring.errors import BadInput
from tests.host.command import assert_one_sentence, leafwinch
from tests.host.test_serial_lines import trace_line


@dataclass
class Found:
    """A port as the library lists it."""

    device: str
    description: str = "Board CDC"
    vid: int | None = 0x1234


def list_these(monkeypatch: pytest.MonkeyPatch, *found: Found) -> None:
    monkeypatch.setattr(list_ports, "comports", lambda: list(found))


@pytest.mark.parametrize(
    "name", ["COM3", "COM12", "/dev/ttyACM0", "/dev/ttyUSB1", "/dev/cu.usbmodem101", "/dev/pts/4"]
)
def test_names_of_every_system_are_taken_as_they_are(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    list_these(monkeypatch)
    assert ports.chosen_port(name) == name


@pytest.mark.parametrize("name", ["COM3", "/dev/ttyACM0", "/dev/cu.usbmodem101"])
def test_the_only_board_is_found(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    list_these(monkeypatch, Found(name), Found("/dev/ttyS0", vid=None))
    assert ports.chosen_port(None) == name


def test_none_and_several_are_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    list_these(monkeypatch)
    with pytest.raises(BadInput, match="No board was found"):
        ports.chosen_port(None)
    list_these(monkeypatch, Found("COM4"), Found("COM3"))
    with pytest.raises(BadInput, match=r"2 ports were found \(COM3, COM4\)"):
        ports.chosen_port(None)


def test_ports_are_listed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    list_these(monkeypatch, Found("COM3"))
    assert leafwinch(capsys, "board", "ports").out == "COM3  Board CDC\n"


def test_a_port_that_is_not_there_is_one_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    said = leafwinch(capsys, "board", "counters", "--port", "/dev/no-such-port")
    assert_one_sentence(said, "/dev/no-such-port")


class Played:
    """A port whose other end says what the test wants; `opened` notes how it was opened."""

    def __init__(self) -> None:
        self.port: str | None = None
        self.timeout: float | None = None
        self.write_timeout: float | None = None
        self.exclusive: bool | None = None
        self.dtr = False
        self.rts = False
        self.opened: dict[str, object] = {}
        self.sent = b""
        self.says = b""
        self.answers: dict[bytes, bytes] = {}
        self.broken = False
        self.busy = 0  # so often somebody else has the port

    def open(self) -> None:
        if self.busy:
            self.busy -= 1
            raise serial.SerialException("Could not exclusively lock port COM3")
        self.opened = dict(vars(self))

    def close(self) -> None:
        self.opened = {}

    @property
    def in_waiting(self) -> int:
        if self.broken:
            raise serial.SerialException("device disconnected")
        return len(self.says)

    def read(self, count: int) -> bytes:
        data, self.says = self.says[:count], self.says[count:]
        return data

    def write(self, data: bytes) -> None:
        self.sent += data
        self.says += self.answers.get(data, b"")


@pytest.fixture
def played(monkeypatch: pytest.MonkeyPatch) -> Played:
    port = Played()
    monkeypatch.setattr(serial, "Serial", lambda: port)
    monkeypatch.setattr(link_module, "QUIET_S", 0.1)
    return port


def line(kind: str, text: str) -> bytes:
    """A line as the board makes it."""
    from leafwinch.edge.lines import fixed

    return bytes(fixed(kind, text))


def test_a_port_is_opened_alone_with_time_outs_and_both_control_lines_alike(
    played: Played,
) -> None:
    with BoardLink("COM3"):
        how: Any = played.opened
        assert (how["dtr"], how["rts"], how["exclusive"]) == (True, True, True)
        assert 0 < how["timeout"] < 1
        assert 0 < how["write_timeout"] < 10


def test_a_port_that_another_program_lets_go_of_is_opened_then(played: Played) -> None:
    played.busy = 3
    with BoardLink("COM3"):
        assert played.opened


def test_a_port_that_another_program_keeps_is_one_sentence(
    played: Played, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ports, "BUSY_S", 0.1)
    played.busy = 1000
    with pytest.raises(BadInput, match="COM3 can't be opened: another program has it"):
        BoardLink("COM3")


def test_nothing_is_sent_before_something_is_asked(played: Played) -> None:
    played.says = trace_line(1)
    with BoardLink("COM3") as link:
        assert link.runs(0.1)
    assert played.sent == b""


def test_an_answer_is_taken_out_of_the_trace(played: Played) -> None:
    heard: list[str] = []
    played.answers[b"counters\r\n"] = (
        trace_line(1)
        + line("A", "raises 3")
        + trace_line(2)
        + line("A", "boots 4")
        + line("Z", "2")
    )
    with BoardLink("COM3", lambda found: heard.append(found.kind)) as link:
        assert link.ask("counters") == ["raises 3", "boots 4"]
    assert heard == ["T", "T"]


def test_an_answer_with_a_line_lost_is_asked_for_again_and_given_up(played: Played) -> None:
    played.answers[b"counters\r\n"] = line("A", "raises 3") + line("Z", "2")
    with BoardLink("COM3") as link, pytest.raises(BadInput, match="no whole answer to 'counters'"):
        link.ask("counters")
    assert played.sent == 3 * b"counters\r\n"


def test_a_refusal_is_told_in_the_boards_words(played: Played) -> None:
    played.answers[b"load\r\n"] = line("E", "refused: service link not fitted")
    with BoardLink("COM3") as link, pytest.raises(Refused, match="service link not fitted"):
        link.ask("load")


@pytest.mark.parametrize(
    ("says", "answer", "found"),
    [
        (b"", b"", "nothing came"),
        (b"hello\r\nworld\r\n", b"", "not the speech of a leafwinch board"),
        (b"", b"\r\n>>> ", "prompt answers, but no leafwinch program runs"),
    ],
)
def test_silence_strangers_and_prompts_are_told_apart(
    played: Played, says: bytes, answer: bytes, found: str, capsys: pytest.CaptureFixture[str]
) -> None:
    played.says = says
    played.answers[b"\r\n"] = answer
    assert_one_sentence(leafwinch(capsys, "board", "counters", "--port", "COM3"), found)


def test_an_unplugged_board_is_one_sentence(
    played: Played, capsys: pytest.CaptureFixture[str]
) -> None:
    played.broken = True
    said = leafwinch(capsys, "board", "counters", "--port", "COM3")
    assert_one_sentence(said, "COM3", "was lost")


def test_an_answer_of_another_version_is_one_sentence(
    played: Played, capsys: pytest.CaptureFixture[str]
) -> None:
    played.says = trace_line(1)
    played.answers[b"counters\r\n"] = line("A", "raises many") + line("Z", "1")
    said = leafwinch(capsys, "board", "counters", "--port", "COM3")
    assert_one_sentence(said, "COM3", "counters", "not that of this version")


def mpy(arch: int, version: int = 6, sub: int = 3) -> int:
    return arch << 10 | sub << 8 | version


@pytest.mark.parametrize(
    ("platform", "arch", "target"),
    [("rp2", 4, "rp2040"), ("rp2", 7, "rp2350"), ("esp32", 10, "esp32"), ("linux", 2, "desktop")],
)
def test_the_board_says_what_to_compile_for(platform: str, arch: int, target: str) -> None:
    assert target_for("COM3", Interpreter(platform, (1, 29, 0), mpy(arch))).name == target


@pytest.mark.parametrize(
    ("version", "number", "found"),
    [
        ((1, 20, 0), mpy(4), r"MicroPython 1\.20\.0 runs there, allowed is 1\.28 or newer"),
        ((1, 29, 0), mpy(4, version=5), r"reads compiled files of version 5\.3"),
        ((1, 29, 0), mpy(9), r"architecture 9\) is none that leafwinch knows"),
    ],
)
def test_an_unsuitable_interpreter_is_refused(
    version: tuple[int, int, int], number: int, found: str
) -> None:
    with pytest.raises(BadInput, match=found):
        target_for("COM3", Interpreter("rp2", version, number))
