"""A virtual board in the background of a program: it answers, or says why not; never a hang."""

import os
import signal
from pathlib import Path
from types import SimpleNamespace

import pytest
import serial

from leafwinch.states import IDLE, RAISING
from leafwinch_host.virtual_ports import PseudoTerminal
from leafwinch_host.virtual_run import VirtualBoard, VirtualRun
from leafwinch_sim.site import load_site
from leafwinch_sim.virtual_process import BoardGone
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist

WAIT_S = 10.0


def made(flash: Path) -> VirtualRun:
    site = load_site("boat-slip")
    return VirtualRun(site, load_netlist(site.wiring), flash)


def test_hands_states_and_the_line(tmp_path: Path) -> None:
    with VirtualBoard(made(tmp_path / "flash"), speed=20.0) as board:
        assert board.wait_state(IDLE, 10.0)
        assert board.do("raise") == "done"
        assert board.wait_state(RAISING, 2.0)
        assert not board.wait_state(IDLE, 1.0)
        board.do("release")
        assert board.wait_state(IDLE, 5.0)
        with pytest.raises(BadInput, match="nothing to do"):
            board.do("fly")
        with serial.Serial(board.port, timeout=WAIT_S, write_timeout=WAIT_S) as line:
            line.reset_input_buffer()
            line.write(b"version\r")
            said = [line.readline()[:58].decode().rstrip() for _ in range(400)]
        assert [row for row in said if row.startswith("A program leafwinch")]
        assert [row for row in said if row.startswith("Z")]
        assert board.run.broken == {}


def test_without_any_supply_the_line_is_silent_and_the_usb_cable_feeds_it(tmp_path: Path) -> None:
    with VirtualBoard(made(tmp_path / "flash")) as board:
        assert board.wait_state(IDLE, 10.0)
        board.do("power off")
        board.pass_time(0.1)
        assert board.do("state") == "off"
        board.do("power on")
        assert board.wait_state(IDLE, 10.0)
        board.do("isolate")
        board.pass_time(2.0)
        assert board.do("state").startswith("fault supply_lost")
        board.do("unplug")
        board.pass_time(2.0)
        assert board.do("state") == "off"
        board.do("restore")
        assert board.wait_state(IDLE, 10.0)


def play_and_kill(board: VirtualBoard) -> None:
    assert board.wait_state(IDLE, 10.0)
    os.kill(board.run.edge.process.pid, signal.SIGKILL)
    board.pass_time(1000.0)


def test_a_process_that_dies_is_told(tmp_path: Path) -> None:
    board = VirtualBoard(made(tmp_path / "flash"))
    with pytest.raises(BoardGone, match="ended by itself with code -9"), board:
        play_and_kill(board)


def test_windows_is_told_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    # Only for the module under test: other threads of this process ask for the platform too.
    monkeypatch.setattr("leafwinch_host.virtual_ports.sys", SimpleNamespace(platform="win32"))
    with pytest.raises(BadInput, match="Windows does not have"):
        PseudoTerminal()
