"""Hands, eyes and meters at a virtual installation, as somebody without a machine uses them."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from leafwinch.states import IDLE, LOWERING, RAISING
from leafwinch_host.virtual_run import VirtualRun
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist


@pytest.fixture
def run(tmp_path: Path) -> Iterator[VirtualRun]:
    site = load_site("workshop-pit")
    made = VirtualRun(site, load_netlist(site.wiring), tmp_path / "flash")
    until(made, IDLE)
    yield made
    made.close()


def steps(run: VirtualRun, seconds: float) -> None:
    for _ in range(round(seconds * 1000 / STEP_MS)):
        run.step()
        run.events()


def until(run: VirtualRun, state: int) -> None:
    for _ in range(8000):
        run.step()
        if run.edge.program_runs and run.edge.seen.state == state:
            return
    raise AssertionError(state)


def broken(run: VirtualRun) -> list[str]:
    """Return the ids of what is broken or taken off."""
    return sorted(str(getattr(defect, "id", "")) for defect in run.bench.defects)


def number(run: VirtualRun, words: str) -> float:
    """Return the number that 'look' tells behind some words."""
    found = re.search(words + r"\s*([-+]?\d+\.\d+)", run.answer("look"))
    assert found, words
    return float(found[1])


def test_one_thing_is_done_after_the_other(run: VirtualRun) -> None:
    assert run.answer("raise; wait 2; release") == "begun"
    until(run, RAISING)
    steps(run, 1.5)
    assert run.edge.seen.state == RAISING
    steps(run, 2)
    assert run.edge.seen.state == IDLE
    assert run.answer("raise; wait long; release").startswith("no: 'wait long'")
    run.answer("fly; raise")
    steps(run, 1)
    assert run.edge.seen.state == IDLE  # what comes after something that is nothing is left


def test_meters_tell_what_the_machine_does(run: VirtualRun) -> None:
    assert number(run, "deck at") == 0.0
    assert number(run, "motor supply") == 230.0
    run.answer("raise; wait 3; release")
    steps(run, 5)
    assert number(run, "deck at") > 5
    assert number(run, "last running") == pytest.approx(run.eyes.running_a, abs=0.01)
    # 7.4 A at a start take 4.4 V in the 0.6 ohm of mains and cable that the site tells.
    assert number(run, "last start") == pytest.approx(230.0 - 7.4 * 0.6, abs=0.5)
    assert 0.0 < number(run, "overrun") < 20
    assert number(run, "drum wound") > 1
    run.answer("lower; wait 1; release")
    steps(run, 3)
    assert number(run, "drum wound") < 0


def test_lamps_are_counted_as_a_person_counts(run: VirtualRun) -> None:
    run.answer("press stop; wait 1; let stop")
    steps(run, 16)
    told = run.answer("look")
    assert "red lamp 1 long 2 short, white dim" in told  # fault 2 in firmware/README.md
    assert re.search(r"buzzer heard 1\d s ago", told)


def test_limits_interlock_and_wires_are_worked_by_hand(run: VirtualRun) -> None:
    points = run.answer("look limits")
    assert "top_end 79.0" in points
    assert "bottom_final 3.59" in points
    assert run.answer("look interlock") == "the other one is blocked; contacts open"
    run.answer("defect QA1-QA2:interlock-lost")
    assert run.answer("look interlock").startswith("both go in")
    assert run.answer("mend QA1-QA2:interlock-lost") == "done"
    assert broken(run) == []
    assert run.answer("wire off top_final") == "done"
    assert broken(run) == ["W4.4:open"]
    assert run.answer("wire on top_final") == "done"
    assert run.answer("motor off") == "done"
    assert broken(run) == ["W10:cut", "W9:cut"]
    assert run.answer("motor on") == "done"
    assert broken(run) == []
    for nonsense in ("wire off", "wire off roof", "look up", "motor"):
        assert run.answer(nonsense).startswith("no: "), nonsense
    assert "look limits" in run.answer("help")


def test_the_pull_of_the_rope_is_read_where_commissioning_asks_for_it(run: VirtualRun) -> None:
    run.answer("raise; wait 22; release; wait 1; lower; wait 8; release")
    until(run, LOWERING)
    steps(run, 12)
    assert number(run, "raising") > number(run, "lowering") > 50  # friction lies between them
