"""The prompt of a virtual board, judged by the real client that loads boards, mpremote."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from leafwinch_host.virtual_run import VirtualBoard, VirtualRun
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist

FIRMWARE = Path(__file__).parents[2] / "firmware"
CLIENT_S = 30.0


@pytest.fixture
def blank(tmp_path: Path) -> Iterator[VirtualBoard]:
    """A board with an empty flash, at its prompt."""
    site = load_site("workshop-pit")
    run = VirtualRun(site, load_netlist(site.wiring), tmp_path / "flash", blank=True)
    with VirtualBoard(run) as board:
        assert board.wait(lambda _bench, edge: edge.at_prompt)
        yield board


def client(board: VirtualBoard, *words: str) -> str:
    """Run the client; return what it printed."""
    done = subprocess.run(
        [sys.executable, "-m", "mpremote", "connect", board.port, *words],
        capture_output=True,
        text=True,
        timeout=CLIENT_S,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_files_come_and_go_unchanged(blank: VirtualBoard, tmp_path: Path) -> None:
    import hashlib

    source = FIRMWARE / "leafwinch" / "controller.py"
    client(blank, "fs", "cp", str(source), ":here.py")
    assert str(source.stat().st_size) in client(blank, "fs", "ls")
    digest = hashlib.sha256(source.read_bytes()).hexdigest()
    assert digest in client(blank, "fs", "sha256sum", "here.py")
    back = tmp_path / "back.py"
    client(blank, "fs", "cp", ":here.py", str(back))
    assert back.read_bytes() == source.read_bytes()
    client(blank, "fs", "rm", "here.py")
    assert "here.py" not in client(blank, "fs", "ls")


def test_commands_errors_and_restarts(blank: VirtualBoard) -> None:
    assert client(blank, "exec", "print(6 * 7)").strip() == "42"
    with pytest.raises(AssertionError, match="ZeroDivisionError"):
        client(blank, "exec", "1 // 0")
    cause = "import machine; print(machine.reset_cause(), machine.PWRON_RESET)"
    assert client(blank, "exec", cause).split() == ["1", "1"]
    client(blank, "exec", "kept = 5")
    client(blank, "soft-reset")
    assert client(blank, "exec", "print('kept' in globals())").strip() == "False"
    client(blank, "reset")
    # The RP2 port cannot tell a deliberate reset from the watchdog's (from memory).
    assert client(blank, "exec", cause).split() == ["3", "1"]


def test_a_board_sees_nothing_of_this_machine(blank: VirtualBoard) -> None:
    assert client(blank, "exec", "import os; print(os.listdir('/'))").strip() == "[]"
    probe = "import os\ntry:\n os.stat('/etc')\n print('seen')\nexcept OSError:\n print('hidden')"
    assert client(blank, "exec", probe).strip() == "hidden"


def test_pins_keep_their_levels_over_a_soft_restart_only(blank: VirtualBoard) -> None:
    # MicroPython's RP2 port leaves pins alone in a soft reset; a reset takes them low.
    look = "import machine; print(machine.Pin(20)())"
    client(blank, "exec", "import machine; machine.Pin(20, machine.Pin.OUT, value=1)")
    client(blank, "soft-reset")
    assert client(blank, "exec", look).strip() == "1"
    client(blank, "reset")
    assert client(blank, "exec", look).strip() == "0"


def test_a_program_copied_by_the_client_runs(blank: VirtualBoard, tmp_path: Path) -> None:
    program = tmp_path / "main.py"
    program.write_text("print('here I am')\nwith open('ran', 'w') as file:\n    file.write('x')\n")
    client(blank, "fs", "cp", str(program), ":main.py")
    client(blank, "reset")
    assert blank.wait(lambda _bench, edge: edge.at_prompt)
    assert "ran" in client(blank, "fs", "ls")
