"""Power cuts, a hung program and a reader that stops: the drive comes through each of them."""

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from leafwinch.faults import WATCHDOG_BOOT
from leafwinch.signals import OUT_LOWER, OUT_RAISE
from leafwinch.states import FAULT, IDLE, LOWERING, RAISING
from leafwinch_sim.stand_in import words
from tests.virtual.desk import Desk

WAYS = ("raise", "lower")
# Many travels in a short time, each counted twice where power fails before it is stored.
UNTIRING = {"duty_pct": 100, "duty_allow_ms": 3_000_000, "thermal_heat_s": 7200}
TRAVELS = 8
PIECES_MAX = 16  # of flash operations; a travel writes about so many
KEEP_PIECES = 48  # of flash operations, within the writing of both copies of the settings


def cut_amid_writing(desk: Desk, pieces: int) -> None:
    """Let power fail after so many more pieces of flash operations."""
    desk.edge.cut_after = desk.edge.pieces + pieces


def power_back(desk: Desk) -> None:
    """Give the board its power back after a cut, which has killed its process."""
    assert not desk.edge.process.running
    desk.run(0.1)
    desk.do("power on")


def test_a_power_cut_at_any_moment_of_writing_leaves_a_drive_that_works(tmp_path: Path) -> None:
    chosen = random.Random(20)
    desk = Desk("workshop-pit", tmp_path / "flash", settings=UNTIRING)
    try:
        assert desk.idle()
        cuts = 0
        for turn in range(TRAVELS):
            if not desk.edge.cut_after:
                cut_amid_writing(desk, chosen.randrange(1, PIECES_MAX))
            desk.travel(WAYS[turn % 2])
            desk.until(lambda: desk.edge.cut, 3.0)
            if desk.edge.cut:
                cuts += 1
                power_back(desk)
            assert desk.idle()
            assert desk.edge.seen.fault == 0
        assert cuts >= 7
        assert desk.edge.restarts == []
        assert desk.player.monitors.broken == {}
    finally:
        desk.close()


@pytest.mark.parametrize("seed", range(6))
def test_a_power_cut_while_settings_are_kept_leaves_the_old_or_the_new_ones(
    desk: Desk, seed: int
) -> None:
    chosen = random.Random(seed)
    desk.do("fit link")
    assert desk.idle()
    desk.run(1.0)
    old = desk.command("setting jam_ms")
    assert old[-1] == "Z 1"
    assert desk.command("change jam_ms 345")[-1][0] == "Z"
    desk.line.clear()
    desk.edge.process.type(b"keep\r")
    cut_amid_writing(desk, chosen.randrange(1, KEEP_PIECES))
    assert desk.until(lambda: desk.edge.cut, 8.0)
    power_back(desk)
    assert desk.idle()
    assert desk.command("setting jam_ms")[0] in (old[0], old[0].replace(old[0].split()[3], "345"))


def test_a_hung_program_is_restarted_by_the_watchdog_and_says_so(desk: Desk) -> None:
    assert desk.idle()
    desk.do("raise")
    assert desk.until(lambda: desk.state() == RAISING)
    desk.run(2.0)
    desk.do("defect board_hung")
    desk.run(0.2)
    assert desk.bench.way == 0  # the charge pump has run down, long before the watchdog bites
    assert desk.board.outputs & OUT_RAISE
    assert desk.until(lambda: desk.state() == FAULT, 5.0)
    assert desk.edge.restarts == [words.END_WATCHDOG]
    assert desk.edge.seen.fault == WATCHDOG_BOOT
    assert not desk.board.outputs & (OUT_RAISE | OUT_LOWER)
    assert desk.player.monitors.broken == {}
    desk.do("release", "mend")
    desk.run(1.0)
    desk.do("press reset")
    desk.run(2.5)
    desk.do("let reset")
    assert desk.idle()


def test_a_reader_that_stops_for_a_minute_disturbs_no_pass(desk: Desk) -> None:
    assert desk.idle()
    desk.run(1.0)
    desk.edge.process.reading = False
    desk.do("raise")
    desk.run(5.0)
    desk.edge.process.take()
    dropped = desk.edge.dropped
    assert dropped > 0
    assert desk.state() == RAISING
    desk.until(lambda: desk.bench.limit_actuated("top_end"))
    desk.do("release")
    assert desk.idle()
    desk.do("lower")
    assert desk.until(lambda: desk.state() == LOWERING)
    desk.run(29.0)
    assert desk.edge.dropped > dropped + 1000
    assert desk.edge.late == 0
    desk.edge.process.reading = True
    desk.step()
    desk.line.clear()
    desk.run(1.0)
    desk.do("release")
    desk.run(1.0)
    shown = [int(line[56:58], 16) for line in desk.lines("T")]
    assert len(shown) > 30
    assert shown[-1] == desk.edge.dropped % 256
    assert desk.player.monitors.broken == {}


def test_everything_is_answered_as_long_as_one_likes_without_the_24_v(desk: Desk) -> None:
    """With the isolator off no mirror is seen, so nothing is written; garbage must go still."""
    desk.board.usb = True
    assert desk.idle()
    desk.do("isolate")
    desk.run(2.0)
    for command in ("settings", "inputs", "files", "journal", "files", "settings", "files"):
        answer = desk.command(command)
        assert answer[-1][0] == "Z", (command, answer[-1:])
    desk.do("restore")
    assert desk.idle()
    events = desk.command("journal")
    assert not [line for line in events if "error" in line]


def test_the_flash_keeps_what_was_learned_over_a_restart(desk: Desk, tmp_path: Path) -> None:
    assert desk.idle()
    desk.travel("raise")
    assert desk.idle()
    desk.run(1.0)
    counted = desk.command("counters")
    desk.do("power off")
    desk.run(0.2)
    desk.do("power on")
    assert desk.until(lambda: desk.state() == IDLE, 10.0)
    again = desk.command("counters")
    raises = [line for line in counted if " raises " in line]
    assert raises == ["A raises 1"]
    assert [line for line in again if " raises " in line] == raises


ORPHAN = """
import os, signal, sys
from pathlib import Path
from tests.virtual.desk import Desk
desk = Desk("workshop-pit", Path(sys.argv[1]))
assert desk.idle()
desk.do("raise")
desk.run(2.0)
print(desk.edge.process.pid, flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""


def alive(pid: int) -> bool:
    """Tell whether a process runs; one that has ended but was not asked for does not."""
    done = subprocess.run(
        ["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True, check=False
    )
    return bool(done.stdout.strip()) and not done.stdout.startswith("Z")


def test_a_board_whose_bench_was_killed_ends_and_writes_nothing_more(tmp_path: Path) -> None:
    flash = tmp_path / "flash"
    done = subprocess.run(
        [sys.executable, "-c", ORPHAN, str(flash)],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[2],
    )
    pid = int(done.stdout)
    until = time.monotonic() + 10.0
    while alive(pid):
        assert time.monotonic() < until
        time.sleep(0.02)
    desk = Desk("workshop-pit", flash)
    try:
        assert desk.until(lambda: desk.state() >= 0, 10.0)
        desk.run(1.0)
        assert not [line for line in desk.command("journal 9") if "error" in line]
    finally:
        desk.close()
