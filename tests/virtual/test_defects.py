"""A defect brings the same fault on a played board as on the bench's own stand-in for a board.

The two share the control core, but nothing that lies around it: loop, sampling, storage, watchdog
and boot are the program's here and a model's there.
"""

from pathlib import Path

import pytest

from leafwinch.faults import CURRENT_AT_REST
from leafwinch.state_texts import HELD_REASONS
from leafwinch.states import HELD
from leafwinch_sim.bench_defects import find_defect
from leafwinch_sim.run import RunResult, run_script
from leafwinch_sim.scripts import load_script
from tests.virtual.desk import Desk

AT_MS = 5000  # amid the first travel
ALIKE = (
    "board_hung",
    "clock_fast",
    "clock_slow",
    "loop_slow",
    "samples_stale",
    "sensor_gain_low",
    "sensor_gain_high",
    "control_tied_raise",
    "w7:open",
    "MB1:coil-open",
    "QA1.pole4:intermittent",
    "QA1.pole1:welded",
    "TB1:low",
    "leak1k:W3.5-W3.6",
)


def played(desk: Desk, defect: str) -> RunResult:
    """Play a full cycle with a defect on the played board."""
    found = find_defect(desk.site, desk.bench.net, defect)
    desk.player.play(desk.bench, [(found, AT_MS)], None)
    return desk.player.result


def broken(result: RunResult) -> list[str]:
    return [name for name, at_s in result.requirements.items() if at_s is not None]


@pytest.fixture
def cycle(tmp_path: Path) -> Desk:
    return Desk("workshop-pit", tmp_path / "flash", load_script("full-cycle"))


@pytest.mark.parametrize("defect", ALIKE)
def test_the_same_fault_as_on_the_bench(cycle: Desk, defect: str) -> None:
    try:
        result = played(cycle, defect)
        found = find_defect(cycle.site, cycle.bench.net, defect)
        bench = run_script(
            cycle.site, load_script("full-cycle"), defects=[(found, AT_MS)], trace=False
        )
        assert result.faults == bench.faults
        assert result.state == bench.state
        assert broken(result) == broken(bench) == []
    finally:
        cycle.close()


def test_a_wandered_zero_is_found_at_rest(cycle: Desk) -> None:
    # The bench adds an offset to the value of alternating current; a real one joins it by squares,
    # so that it hides behind the running current and shows when the motor is off.
    try:
        result = played(cycle, "sensor_offset")
        assert result.faults == [CURRENT_AT_REST]
        assert broken(result) == []
    finally:
        cycle.close()


def test_a_flash_that_keeps_nothing_locks_out_the_next_start(cycle: Desk) -> None:
    try:
        result = played(cycle, "record_lost")
        assert result.state == HELD
        reasons = [row[0] for row in HELD_REASONS]
        assert cycle.edge.seen.held_reasons >> reasons.index("record") & 1
        assert broken(result) == []
    finally:
        cycle.close()
