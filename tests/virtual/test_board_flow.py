"""The board commands against a virtual board: load, verify, read, log, and what goes wrong."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from leafwinch.states import FAULT, HELD, IDLE, RAISING
from leafwinch_host.board import answers, loader
from leafwinch_host.board.commissioned import commissioned_files, netlist_hash, site_hash
from leafwinch_host.board.link import BoardLink
from leafwinch_host.firmware_build import Program, built
from leafwinch_host.virtual_run import VirtualBoard, VirtualRun
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist
from tests.host.command import assert_one_sentence, leafwinch

SITE = "workshop-pit"
SPEED = 20.0  # simulated seconds in a second: the console gives up after 3 of them unread


def started(flash: Path, blank: bool = False) -> VirtualBoard:
    site = load_site(SITE)
    return VirtualBoard(VirtualRun(site, load_netlist(site.wiring), flash, blank=blank), SPEED)


@pytest.fixture
def board(tmp_path: Path) -> Iterator[VirtualBoard]:
    """A board with its program, ready."""
    with started(tmp_path / "flash") as running:
        assert running.wait_state(IDLE, 10)
        yield running


@pytest.fixture
def blank(tmp_path: Path) -> Iterator[VirtualBoard]:
    """A board at its prompt, with an empty flash."""
    with started(tmp_path / "flash", blank=True) as waiting:
        assert waiting.wait(lambda _bench, edge: edge.at_prompt, 10)
        yield waiting


@pytest.fixture(scope="module")
def program() -> Program:
    return built("desktop")


def test_a_blank_board_is_loaded_verified_and_drives(
    blank: VirtualBoard, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    port = ("--port", blank.port)
    said = leafwinch(capsys, "board", "load", "--site", SITE, "--motor-cold", *port)
    assert said.code == 0, said
    assert "Settings of workshop-pit were written." in said.out
    assert "Verified: leafwinch" in said.out
    assert blank.wait_state(IDLE, 20)
    said = leafwinch(capsys, "board", "verify", *port)
    assert said.code == 0, said
    assert "equal to a fresh build" in said.out

    read = json.loads(leafwinch(capsys, "board", "settings", "--json", *port).out)
    site = load_site(SITE)
    assert read["settings"]["trip_ma"] == site.settings["trip_ma"]
    assert read["settings"]["sensor_range_ma"] == site.settings["sensor_range_ma"]
    assert {len(row) for row in read["envelope"].values()} == {16}

    looked = json.loads(leafwinch(capsys, "board", "inputs", "--json", *port).out)
    assert looked["words"] == ["idle: at rest, everything proven, ready"]
    assert looked["contacts"]["bottom_end"] is False  # the deck lies on its end
    assert looked["contacts"]["stop_ok"] is True
    assert 23_000 < looked["supply_mv"] < 25_000

    one_cycle(blank)
    log = tmp_path / "cycle.log"
    said = leafwinch(capsys, "log", "-o", str(log), "--seconds", "1", *port)
    assert said.code == 0
    assert log.read_text(encoding="ascii").count(" T ") > 100
    counted = json.loads(leafwinch(capsys, "board", "counters", "--json", *port).out)
    assert (counted["raises"], counted["lowerings"], counted["faults"]) == (1, 1, 0)
    events = json.loads(leafwinch(capsys, "board", "journal", "--json", *port).out)
    travels = [event["words"] for event in events if event["kind"] == "travel"]
    assert "raising for 29" in travels[1]
    assert "the top end was reached" in travels[1]
    assert blank.run.broken == {}


def go_to_prompt(board: VirtualBoard) -> None:
    """Have the running program go to the prompt, as before loading."""
    with BoardLink(board.port) as link:
        assert link.runs()
        link.ask("load")


def one_cycle(board: VirtualBoard) -> None:
    """Let the hands raise and lower the deck once."""
    for way in ("raise", "lower"):
        board.do(way)
        assert board.wait(lambda bench, _edge: bench.state() in (RAISING, RAISING + 1), 5)
        assert board.wait_state(HELD, 60)
        board.do("release")
        assert board.wait_state(IDLE, 10)


def test_tables_are_for_people(board: VirtualBoard, capsys: pytest.CaptureFixture[str]) -> None:
    port = ("--port", board.port)
    assert "sensor_range_ma" in leafwinch(capsys, "board", "settings", *port).out
    assert "boots" in leafwinch(capsys, "board", "counters", *port).out
    assert "power-up of version" in leafwinch(capsys, "board", "journal", *port).out
    seen = leafwinch(capsys, "board", "inputs", "--once", *port).out
    assert "idle: at rest" in seen
    assert "bottom end" in seen
    said = leafwinch(capsys, "board", "fault", *port)
    assert_one_sentence(said, "no trace of a fault is stored")


def test_the_seconds_before_a_fault_are_read(
    board: VirtualBoard, capsys: pytest.CaptureFixture[str]
) -> None:
    board.pass_time(2)
    board.do("raise")
    board.pass_time(3)
    board.do("press stop")
    assert board.wait_state(FAULT, 5)
    board.do("release")
    board.pass_time(3)
    read = json.loads(leafwinch(capsys, "board", "fault", "--json", "--port", board.port).out)
    assert read["fault"] == 2
    assert len(read["samples"]) == 400
    assert {sample[2] for sample in read["samples"]} >= {RAISING}
    shown = leafwinch(capsys, "board", "inputs", "--once", "--port", board.port).out
    assert "fault 2 stop actuated" in shown
    assert "Why it was pressed" in shown


@pytest.mark.parametrize(
    ("hands", "found"),
    [
        (("raise",), "busy: the drive moves"),
        ((), "service link not fitted"),
        (("fit link", "raise"), "busy: the drive moves"),
    ],
)
def test_loading_is_refused_in_words(
    board: VirtualBoard, hands: tuple[str, ...], found: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for line in hands:
        board.do(line)
    board.pass_time(1)
    said = leafwinch(capsys, "board", "load", "--site", SITE, "--port", board.port)
    assert said.code == 2
    assert found in said.err
    assert board.wait(lambda _bench, edge: edge.program_runs, 1)


def test_a_running_board_is_loaded_anew_and_keeps_its_settings(
    board: VirtualBoard, capsys: pytest.CaptureFixture[str]
) -> None:
    one_cycle(board)
    board.do("fit link")
    board.pass_time(1)
    said = leafwinch(capsys, "board", "load", "--site", SITE, "--port", board.port)
    assert said.code == 0, said
    assert "Settings of this site were kept." in said.out
    board.do("remove link")
    assert board.wait_state(IDLE, 20)
    counted = json.loads(leafwinch(capsys, "board", "counters", "--json", "--port", board.port).out)
    assert counted["raises"] == 1  # what was kept over the new program
    assert counted["watchdog_boots"] == 0


def test_settings_of_another_site_are_replaced_by_those_asked_for(
    board: VirtualBoard, capsys: pytest.CaptureFixture[str]
) -> None:
    board.do("fit link")
    board.pass_time(1)
    said = leafwinch(capsys, "board", "load", "--site", "boat-slip", "--port", board.port)
    assert said.code == 0, said
    with BoardLink(board.port) as link:
        assert link.runs()
        slip = load_site("boat-slip")
        about = answers.about(link)
        assert about.site == site_hash(slip)
        assert about.netlist == netlist_hash(load_netlist(slip.wiring))


class CablePulled(Exception):  # noqa: N818 - says what happened
    """The cable was pulled."""


@pytest.mark.parametrize("files", [1, 12, 30, 46])
def test_a_load_that_is_cut_leaves_the_old_program(
    board: VirtualBoard, program: Program, files: int, capsys: pytest.CaptureFixture[str]
) -> None:
    board.do("fit link")
    board.pass_time(1)
    go_to_prompt(board)
    done = []

    def pull(at: int, _total: int) -> None:
        done.append(at)
        if len(done) == files:
            raise CablePulled

    with loader.Prompt(board.port) as prompt, pytest.raises(CablePulled):
        loader.load(prompt, program, {}, pull)
    board.do("unplug")
    board.do("power off")
    board.pass_time(1)
    board.do("power on")
    board.do("plug")
    board.do("remove link")
    assert board.wait_state(IDLE, 20)
    assert leafwinch(capsys, "board", "verify", "--port", board.port).code == 0


def test_a_program_that_differs_is_named(
    board: VirtualBoard, capsys: pytest.CaptureFixture[str]
) -> None:
    board.do("fit link")
    board.pass_time(1)
    go_to_prompt(board)
    with loader.Prompt(board.port) as prompt:
        prompt.run("import os\nos.remove('leafwinch/manifest.txt')")
        prompt.run("open('restart', 'w').close()")
        prompt.write("leafwinch/extra.py", b"x = 1\n")
        prompt.restart()
    assert board.wait(lambda bench, edge: edge.program_runs and bench.state() >= 0, 20)
    said = leafwinch(capsys, "board", "verify", "--port", board.port)
    assert said.code == 1
    assert "leafwinch/manifest.txt is missing on the board" in said.out
    assert "leafwinch/extra.py does not belong there" in said.out


def test_a_file_that_reads_back_otherwise_stops_the_load(
    blank: VirtualBoard, program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(loader.Prompt, "digest", lambda _self, _name: "0" * 64)
    site = load_site(SITE)
    extra = commissioned_files(site, load_netlist(site.wiring))
    with (
        loader.Prompt(blank.port) as prompt,
        pytest.raises(BadInput, match="reads back with another check sum"),
    ):
        loader.load(prompt, program, extra, lambda _done, _total: None)
