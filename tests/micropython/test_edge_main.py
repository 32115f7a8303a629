"""main.py itself inside MicroPython: whatever breaks anywhere, outputs end low and it is told."""

import subprocess
from pathlib import Path

from leafwinch_sim.lockstep import micropython_command

ROOT = Path(__file__).resolve().parents[2]
INSIDE = Path(__file__).with_name("main_inside.py")
RUNS = 40
OUTPUTS_LOW = "0"
WATCHDOG_MS = "2000"
TOLD = "1"


def test_every_call_that_breaks_ends_with_outputs_low_a_watchdog_and_a_word_in_the_journal(
    tmp_path: Path,
) -> None:
    # main.py looks whether there is a program; the one that runs comes from the import path.
    (tmp_path / "leafwinch").mkdir()
    command = [*micropython_command("8m"), str(INSIDE), str(ROOT), str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert not done.stderr, done.stderr[-1500:]
    lines = [line.split("\t") for line in done.stdout.splitlines() if "\t" in line]
    for where in ("moving", "start"):
        assert [row[1:] for row in lines if row[0] == where] == [
            [str(number), "Broken", OUTPUTS_LOW, WATCHDOG_MS, TOLD] for number in range(RUNS)
        ]
    # Unbroken it runs until the bench ends it, and that is no program error by that name.
    assert lines[-1] == ["whole", "0", "Ended", OUTPUTS_LOW, WATCHDOG_MS, "0"]
