"""A defect brings the same fault on a played board as on the bench's own stand-in for a board.

The two share the control core, but nothing that lies around it: loop, sampling, storage, watchdog
and boot are the program's here and a model's there.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from leafwinch.faults import CURRENT_AT_REST
from leafwinch.state_texts import HELD_REASONS
from leafwinch.states import HELD
from leafwinch_sim.bench_defects import find_defect
from leafwinch_sim.run import RunResult, run_script
from leafwinch_sim.scripts import Script, load_script
from tests.virtual.desk import Desk

AT_MS = 5000  # amid the first travel
# Found at the end of a travel, if at all: these play a full cycle.
LATE = ("clock_fast", "clock_slow", "control_tied_raise", "QA1.pole1:welded")
SOON = (
    "board_hung",
    "loop_slow",
    "samples_stale",
    "sensor_gain_low",
    "sensor_gain_high",
    "w7:open",
    "MB1:coil-open",
    "QA1.pole4:intermittent",
    "TB1:low",
    "leak1k:W3.5-W3.6",
)
RAISE_MS = 10_000
STEP_MS = 3000


def played(desk: Desk, defect: str) -> RunResult:
    """Play a full cycle with a defect on the played board."""
    found = find_defect(desk.site, desk.bench.net, defect)
    desk.player.play(desk.bench, [(found, AT_MS)], None)
    return desk.player.result


def broken(result: RunResult) -> list[str]:
    return [name for name, at_s in result.requirements.items() if at_s is not None]


def script_for(defect: str) -> Script:
    """Return a full cycle, cut short for what is found soon: the fault has to stay all the same."""
    whole = load_script("full-cycle")
    if defect in LATE:
        return whole
    longest = {"raise": RAISE_MS}
    steps = [
        replace(step, for_ms=min(step.for_ms, longest.get(step.verb, STEP_MS)))
        for step in whole.steps
    ]
    return replace(whole, steps=tuple(steps))


@pytest.fixture
def cycle(tmp_path: Path) -> Desk:
    return Desk("workshop-pit", tmp_path / "flash", load_script("full-cycle"))


@pytest.mark.parametrize("defect", LATE + SOON)
def test_the_same_fault_as_on_the_bench(tmp_path: Path, defect: str) -> None:
    script = script_for(defect)
    desk = Desk("workshop-pit", tmp_path / "flash", script)
    try:
        result = played(desk, defect)
        found = find_defect(desk.site, desk.bench.net, defect)
        bench = run_script(desk.site, script, defects=[(found, AT_MS)], trace=False)
        assert result.faults == bench.faults
        assert result.state == bench.state
        assert (result.faults != []) or defect in LATE
        assert broken(result) == broken(bench) == []
    finally:
        desk.close()


def test_a_wandered_zero_is_found_at_rest(tmp_path: Path) -> None:
    # The bench adds an offset to the value of alternating current; a real one joins it by squares,
    # so that it hides behind the running current and shows when the motor is off.
    desk = Desk("workshop-pit", tmp_path / "flash", script_for("sensor_offset"))
    try:
        result = played(desk, "sensor_offset")
        assert result.faults == [CURRENT_AT_REST]
        assert broken(result) == []
    finally:
        desk.close()


def test_a_flash_that_keeps_nothing_locks_out_the_next_start(cycle: Desk) -> None:
    try:
        result = played(cycle, "record_lost")
        assert result.state == HELD
        reasons = [row[0] for row in HELD_REASONS]
        assert cycle.edge.seen.held_reasons >> reasons.index("record") & 1
        assert broken(result) == []
    finally:
        cycle.close()
