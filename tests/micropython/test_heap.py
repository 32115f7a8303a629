"""The whole program in the heap of a small board: how much it takes, and that it runs in it."""

import subprocess
from pathlib import Path

import pytest

from leafwinch.edge.answers import COUNTER_NAMES
from leafwinch_host.firmware_build import build_program
from leafwinch_sim.lockstep import micropython_command

INSIDE = Path(__file__).with_name("heap_inside.py")
SMALL_BOARD = "192k"

# Bytes at rest on a 64-bit interpreter, where an object takes about twice what it takes on a
# board. Machine code lies outside this heap there, but inside it on a board.
LIMITS = {"compiled": 100 * 1024, "machine code": 90 * 1024}
ANSWERED = 20 * 1024  # the names of the console's answers stay


def measured(folder: Path, files: Path) -> dict[str, int]:
    (files / "leafwinch" / "edge").mkdir(parents=True)
    command = [*micropython_command(SMALL_BOARD), str(INSIDE), str(folder), str(files)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    rows = [line.split("\t") for line in done.stdout.splitlines()]
    assert rows, done.stderr[-1500:]
    assert all(len(row) == 2 for row in rows), done.stdout[-1500:]
    return {name: int(number) for name, number in rows}


@pytest.mark.parametrize("kind", list(LIMITS))
def test_the_program_runs_and_answers_in_the_heap_of_a_small_board(
    kind: str, tmp_path: Path
) -> None:
    program = (
        build_program("desktop") if kind == "machine code" else build_program("desktop", hot=())
    )
    program.write(tmp_path / "program")
    found = measured(tmp_path / "program", tmp_path / "files")
    assert found["lines"] == len(COUNTER_NAMES)
    assert found["ends"] == 1
    assert found["rest"] - found["before"] <= LIMITS[kind]
    assert found["answered"] - found["rest"] <= ANSWERED
