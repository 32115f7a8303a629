"""The board's edge inside MicroPython: equal readings, nothing allocated in a pass, equal heap."""

import subprocess
from pathlib import Path

from leafwinch_sim.lockstep import micropython_command
from tests.edge.meter_walk import meter_sum
from tests.firmware.test_scenarios import ALL

ROOT = Path(__file__).resolve().parents[2]
INSIDE = Path(__file__).with_name("edge_inside.py")
SEEDS = 20


def lines_of(*words: str) -> list[list[str]]:
    command = [*micropython_command("8m"), str(INSIDE), str(ROOT), *words]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert not done.stderr, done.stdout[-500:] + done.stderr[-1500:]
    return [line.split("\t") for line in done.stdout.splitlines()]


def test_fast_functions_read_the_same_as_plain_ones() -> None:
    found = lines_of("meter", str(SEEDS))
    expected = [
        [str(signed), str(seed), str(meter_sum(signed, seed, 400))]
        for signed in (0, 1)
        for seed in range(SEEDS)
    ]
    assert found == expected


def test_the_timer_s_callback_and_the_meter_allocate_nothing() -> None:
    # 70,000 samples: the count wraps at 2^16, and the last sample is where it belongs.
    assert lines_of("interrupt", "70000") == [["samples", "4464", "4464", "40000"]]


def test_no_pass_of_the_whole_edge_allocates_and_the_pins_show_the_core_s_outputs() -> None:
    lines = lines_of("scenarios")
    results = {row[0]: row[2] for row in lines if row[0] != "used"}
    assert results.pop("an allocating pass") == "caught"
    assert list(results) == [row[0] for row in ALL]
    assert set(results.values()) == {"ok"}
    assert [row[1:] for row in lines if row[0] == "used"] == [[str(i), "1"] for i in range(5)]


def test_the_heap_is_the_same_after_sixty_thousand_passes() -> None:
    ((_, before, after, raises, lowerings, fault),) = lines_of("passes", "60000")
    assert before == after
    assert int(raises) > 15
    assert int(lowerings) > 15
    assert fault == "0"
