"""The firmware's scenarios inside MicroPython: same results, no allocation in any pass."""

import functools
import subprocess
from pathlib import Path

from leafwinch.state_texts import ENDINGS
from leafwinch.states import STATE_NAMES
from leafwinch_sim.lockstep import micropython_command
from tests.firmware.drive import Drive
from tests.firmware.test_scenarios import ALL

ROOT = Path(__file__).resolve().parents[2]
INSIDE = Path(__file__).with_name("inside.py")
NAMES = [row[0] for row in ALL]


@functools.lru_cache(maxsize=1)
def lines_of(firmware: Path) -> list[list[str]]:
    command = [*micropython_command("8m"), str(INSIDE), str(ROOT), str(firmware)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stdout[-500:] + done.stderr[-1500:]
    lines = [line.split("\t") for line in done.stdout.splitlines()]
    # An error inside MicroPython does not show in the exit code, but as other lines.
    assert all(len(row) == 4 for row in lines), done.stdout[-500:] + done.stderr[-1500:]
    return lines


@functools.cache
def hashes() -> list[int]:
    """Hashes of all scenarios in this interpreter."""
    found = []
    for _, values, script in ALL:
        drive = Drive(values)
        drive.play(script)
        found.append(drive.hash)
    return found


def test_the_same_suite_passes_with_the_same_outputs(firmware: Path) -> None:
    lines = lines_of(firmware)[: len(ALL)]
    assert [row[0] for row in lines] == NAMES
    for (name, found, result, _), expected in zip(lines, hashes(), strict=True):
        assert result == "ok", name
        assert int(found) == expected, name


def test_no_pass_allocates(firmware: Path) -> None:
    lines = lines_of(firmware)
    results = {row[0]: row[3] for row in lines if row[0] != "used"}
    assert results.pop("an allocating pass") == "caught"
    assert list(results) == NAMES
    assert set(results.values()) == {"ok"}
    # Every state and every kind of stop was among the passes.
    used = {int(row[1]) for row in lines if row[0] == "used"}
    assert used == set(range(len(STATE_NAMES))) | set(range(8, 8 + len(ENDINGS)))
