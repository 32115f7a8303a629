"""`leafwinch virtual` as a person starts it."""

import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import serial

from leafwinch_host import cli

WAIT_S = 60.0
SITE = ("virtual", "--site", "workshop-pit")


@contextmanager
def started(*more: str) -> Iterator[tuple["subprocess.Popen[str]", str, str]]:
    """The command while it runs, and its two paths."""
    code = "import sys; from leafwinch_host.cli import main; sys.exit(main())"
    process = subprocess.Popen(
        [sys.executable, "-c", code, *SITE, *more],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    try:
        yield process, process.stdout.readline().strip(), process.stdout.readline().strip()
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate()


def ask(hands: serial.Serial, line: str) -> str:
    """Say a line to the hands and return their answer."""
    hands.write(line.encode() + b"\n")
    answer: bytes = hands.readline()
    return answer.decode().strip()


def wait_for(hands: serial.Serial, word: str) -> None:
    """Ask for the state until it is the one."""
    until = time.monotonic() + WAIT_S
    while not ask(hands, "state").startswith(word):
        assert time.monotonic() < until
        time.sleep(0.01)


def test_it_plays_says_and_ends_cleanly(tmp_path: Path) -> None:
    flash = tmp_path / "kept"
    with started("--speed", "max", "--flash", str(flash)) as (process, port, hands_port):
        with serial.Serial(hands_port, timeout=WAIT_S) as hands:
            wait_for(hands, "idle")
            assert ask(hands, "raise") == "done"
            wait_for(hands, "raising")
            assert ask(hands, "release") == "done"
            wait_for(hands, "idle")
            assert ask(hands, "fly").startswith("no: 'fly' is nothing to do")
            assert ask(hands, "defect nonsense").startswith("no: There is no defect 'nonsense'")
        with serial.Serial(port, timeout=WAIT_S) as line:
            line.readline()
            row = line.readline()
            assert len(row) == 64
            assert row.endswith(b"\r\n")
        process.send_signal(signal.SIGTERM)
        out, error = process.communicate(timeout=WAIT_S)
        assert process.returncode == 0
        assert out == ""
        assert "raising begins" in error
        assert "switched off" in error
        assert "Traceback" not in error
    before = flash.read_bytes()
    with started("--speed", "max", "--flash", str(flash)) as (process, _, hands_port):
        with serial.Serial(hands_port, timeout=WAIT_S) as hands:
            wait_for(hands, "idle")
            hands.write(b"quit\n")
        process.communicate(timeout=WAIT_S)
        assert process.returncode == 0
    assert len(flash.read_bytes()) == len(before)


def test_a_script_is_played_at_the_beginning() -> None:
    with (
        started("--speed", "max", "--script", "full-cycle") as (process, _, hands_port),
        serial.Serial(hands_port, timeout=WAIT_S) as hands,
    ):
        wait_for(hands, "raising")
        wait_for(hands, "lowering")
        wait_for(hands, "idle, 0.")
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=WAIT_S)
        assert process.returncode == 0


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (("--speed", "0"), "allowed is a number above 0 to 1000, or 'max'"),
        (("--speed", "fast"), "allowed is a number above 0 to 1000, or 'max'"),
        (("--script", "nonsense"), "nonsense"),
        (("--wiring", "bare"), "has no controller"),
        (("--flash", "/nowhere/at/all"), "/nowhere/at/all"),
    ],
)
def test_bad_input_is_one_sentence(
    more: tuple[str, ...], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main([*SITE, *more]) == 2
    error = capsys.readouterr().err
    assert says in error
    assert len(error.splitlines()) == 1


def test_a_flash_that_is_there_is_not_made_blank(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    flash = tmp_path / "flash"
    flash.write_bytes(b"mine")
    assert cli.main([*SITE, "--blank", "--flash", str(flash)]) == 2
    assert "there is a flash already" in capsys.readouterr().err
    assert flash.read_bytes() == b"mine"
