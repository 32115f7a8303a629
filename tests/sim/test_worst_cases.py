"""The worst runs of a proof: which are chosen, and that their readings are the proof's own."""

from functools import cache
from typing import Any

import pytest

from leafwinch.requirement_limits import R1_OFF_MS, R3_PAUSE_MS, REQUIREMENTS
from leafwinch_sim.bench_defects import all_defects
from leafwinch_sim.campaign import prove
from leafwinch_sim.site import load_site
from leafwinch_sim.worst_cases import (
    Candidate,
    candidate_of,
    candidates,
    play,
    replay_line,
    worst_runs,
)
from leafwinch_sim.worst_measures import BY_KEY, MEASURES, limits_of
from leafwinch_wiring.netlist import load_netlist
from tests.sim.sites import ALTERNATING, DIRECT

DEFECTS = ("QA1.pole1:welded", "BG1:bracket", "board_hung", "rope_off_hook", "obstacle_above")


@cache
def proof() -> dict[str, Any]:
    site = load_site(DIRECT)
    return prove(site, load_netlist(site.wiring), seed=1, workers=1, only=DEFECTS)


@cache
def rows() -> tuple[dict[str, Any], ...]:
    site = load_site(DIRECT)
    return tuple(worst_runs(proof(), site, load_netlist(site.wiring)))


def row_of(measure: str) -> dict[str, Any]:
    return next(row for row in rows() if row["measure"] == measure)


def test_the_longest_run_on_is_the_one_in_the_cells() -> None:
    falls = {row["fault"] for row in proof()["unpreventable"]}
    firm = [cell for cell in proof()["cells"] if cell["defect"] not in falls]
    assert row_of("run_on")["value"] == max(cell["reaction_ms"] for cell in firm)
    # The way is read again in a run to the end of the script, so it can only be longer.
    assert row_of("overrun")["value"] >= max(cell["overrun_mm"] for cell in firm) - 0.01


def test_each_requirement_has_a_worst_case_with_its_command() -> None:
    assert {row["requirement"] for row in rows()} == {name for name, _, _ in REQUIREMENTS}
    for row in rows():
        assert BY_KEY[row["measure"]].words == row["words"]
        assert row["from_s"] <= row["to_s"]
        run = candidate_of(row)
        assert row["replay"] == replay_line(proof(), run)
        if row["limit"] is not None:
            kept = row["value"] <= row["limit"]
            assert kept if row["limit_kind"] == "at most" else row["value"] >= row["limit"]


def test_a_reading_comes_out_the_same_when_it_is_played_again() -> None:
    site = load_site(DIRECT)
    for measure in ("run_on", "hung", "fall"):
        row = row_of(measure)
        result, readings = play(site, load_netlist(site.wiring), candidate_of(row), 1, trace=True)
        assert readings[measure].value == pytest.approx(row["value"], abs=0.001)
        assert len(result.trace["free_end_mm"]) == len(result.trace["t_ms"])


def test_nothing_is_read_from_before_the_defect() -> None:
    for row in rows():
        assert row["to_s"] > row["at_s"], row
    site = load_site(DIRECT)
    net = load_netlist(site.wiring)
    # The script is almost over by then: one short raise is still to come.
    late = Candidate("record_lost", 93_000, "", "", "every-function")
    readings = play(site, net, late, 1)[1]
    assert readings.keys() >= {"run_on", "overrun", "travel"}
    assert all(reading.t_ms > 93_000 for reading in readings.values())
    assert readings["travel"].value < 5.0, "the full travels were before"
    assert "pause" not in readings


def test_only_a_fall_is_read_from_what_gravity_does() -> None:
    assert row_of("fall")["defect"] == "rope_off_hook"
    assert row_of("fall")["value"] > 300.0
    assert all(row["defect"] != "rope_off_hook" for row in rows() if row["measure"] != "fall")


def test_candidates_take_the_tick_that_the_cell_names() -> None:
    defects = all_defects(load_site(DIRECT), load_netlist(load_site(DIRECT).wiring))
    plain = candidates(proof(), defects)
    assert plain[0] == Candidate("", 0, "nothing wrong", "", "full-cycle")
    assert len(plain) == len(set(plain))
    cells = [{**cell, "worst_ms": 4321} for cell in proof()["cells"]]
    ticked = candidates({**proof(), "cells": cells}, defects)
    assert {run.at_ms for run in ticked if run.defect} == {4321}
    assert {run.defect for run in ticked} == {run.defect for run in plain}
    cells = [{**cell, "worst_ms": 4321, "reaction_at_ms": 1234} for cell in proof()["cells"]]
    scripts = ["full-cycle" for _ in proof()["moment_s"]]
    told = candidates({**proof(), "cells": cells, "moment_scripts": scripts}, defects)
    assert {run.at_ms for run in told if run.defect} == {4321, 1234}
    assert {run.script for run in told if run.defect} == {"full-cycle"}


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_limits_are_those_of_requirements_and_site(name: str) -> None:
    site = load_site(name)
    limits = limits_of(site)
    assert set(limits) == {measure.key for measure in MEASURES}
    assert limits["run_on"] == ("at most", R1_OFF_MS)
    assert limits["pause"] == ("at least", R3_PAUSE_MS)
    assert limits["buffer"] == ("at most", site.buffer.rated_force / 1000)
    budget_s = max(site.settings["budget_raise_ms"], site.settings["budget_lower_ms"]) / 1000
    travel = limits["travel"]
    assert travel is not None
    # Free starts and the time to switch off come on top of the budget.
    assert budget_s < travel[1] < budget_s + 5.0
    assert limits["fall"] is None


def test_bare_wiring_is_measured_by_what_it_can_break() -> None:
    site, net = load_site(ALTERNATING), load_netlist("bare")
    result = prove(site, net, seed=1, workers=1, only=("SF1.raise_1:welded",))
    found = {row["measure"]: row for row in worst_runs(result, site, net)}
    assert found["run_on"]["value"] > 10 * R1_OFF_MS
    assert found["overrun"]["value"] > found["overrun"]["limit"]
    assert found["paid_out"]["value"] > found["paid_out"]["limit"]
    assert "hung" not in found
    assert "unasked" not in found
