"""Storage, trace and console inside MicroPython: equal results, no allocation, a real littlefs."""

import subprocess
import zlib
from pathlib import Path

import pytest

from leafwinch_sim.flash_wear import years_of_flash
from leafwinch_sim.lockstep import micropython_command
from tests.edge.flash import Flash
from tests.edge.life import QUICK, Life, commission, live

ROOT = Path(__file__).resolve().parents[2]
INSIDE = Path(__file__).with_name("storage_inside.py")
LINES = 3000


def lines_of(firmware: Path, job: str, number: int = 0) -> list[list[str]]:
    command = [*micropython_command("8m"), str(INSIDE), str(ROOT), str(firmware), job, str(number)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    # Files that a failing device left open say so when they are collected, without a tab.
    lines = [line.split("\t") for line in done.stdout.splitlines() if "\t" in line]
    assert "Traceback" not in done.stdout + done.stderr, done.stdout[-500:] + done.stderr[-1500:]
    return lines


def test_a_life_leaves_and_says_the_same_bytes(firmware: Path) -> None:
    flash = Flash()
    commission(flash, QUICK)
    life = Life(flash)
    live(life)
    for text in ("settings", "journal 100", "fault"):
        life.command(text, 5000)
    expected = [
        [name, str(zlib.crc32(flash.contents[name][:-5]))] for name in sorted(flash.contents)
    ]
    total = 0
    for line in life.port.traced + life.port.sent:
        total = zlib.crc32(line, total)
    assert lines_of(firmware, "life") == [*expected, ["lines", str(total)]]


def test_no_pass_allocates_in_any_state(firmware: Path) -> None:
    lines = lines_of(firmware, "locked")
    assert lines.pop(0)[::2] == ["-1", "allocates"]
    assert {row[0] for row in lines} == {"0", "1", "2", "3", "4"}
    assert {row[2] for row in lines} == {"ok"}
    # Characters came in during the travels, two in each fourth pass.
    assert [row[1] for row in lines if row[0] == "2"] == ["27"] * 3


def test_littlefs_cut_at_every_operation(firmware: Path) -> None:
    lines = lines_of(firmware, "cuts", 1)
    assert lines[0][2:] == ["[12, 12, 1, 1]", "ok"]
    operations = int(lines[0][1])
    assert operations > 100
    assert lines[1:] == [["cuts", str(operations), "0", "done"]]


def test_erases_of_a_travel_and_the_years_they_leave(firmware: Path) -> None:
    ((_, travels, erases, _),) = lines_of(firmware, "wear", 400)
    per_travel = int(erases) / int(travels)
    # One file for the record, one for the journal, and now and then one of the directory's.
    assert 1.8 < per_travel < 2.6
    # 8 travels a day, and only an eighth of a 1 MiB flash left to level over.
    assert years_of_flash(per_travel, 8, 32) > 400
    # Even all on one sector they last longer than the winch is likely to.
    assert years_of_flash(per_travel, 8) > 13


def test_one_erase_a_travel_and_four_travels_a_day() -> None:
    # Worked figure: 100,000 cycles, one erase each, four a day, one sector: 68.5 years.
    assert years_of_flash(1, 4) == pytest.approx(68.5, abs=0.05)
    assert years_of_flash(1, 86_400) * 365 * 24 == pytest.approx(27.8, abs=0.05)  # hours, 1 Hz
    assert years_of_flash(2, 4, 10) == pytest.approx(342.5, abs=0.05)


@pytest.mark.parametrize("wrong", [(0, 4, 1, 1), (1, 0, 1, 1), (1, 4, 0, 1), (1, 4, 1, 0)])
def test_wear_of_nothing_is_no_question(wrong: tuple[int, int, int, int]) -> None:
    with pytest.raises(ValueError, match="above zero"):
        years_of_flash(*wrong)


def test_the_heap_does_not_grow_over_thousands_of_lines(firmware: Path) -> None:
    assert lines_of(firmware, "console", LINES) == [["console", str(LINES), "1", "0"]]


def test_what_the_edge_takes_of_the_heap(firmware: Path) -> None:
    ((_, modules, objects, _),) = lines_of(firmware, "heap")
    # Of the 90 KiB for the whole program; most of the objects is the fault's trace, 3.2 KB.
    assert int(objects) < 9_000
    assert int(modules) < 34_000
