"""The whole program on a played board obeys the requirements, as the core alone does."""

import math
from pathlib import Path

import pytest

from leafwinch.states import IDLE, RAISING
from leafwinch_sim.board import START_MS
from leafwinch_sim.scripts import load_script
from tests.virtual.desk import Desk

SITES = ("workshop-pit", "boat-slip")


@pytest.mark.parametrize("script", ["full-cycle", "every-function"])
@pytest.mark.parametrize("site", SITES)
def test_a_script_keeps_every_requirement_and_no_pass_is_late(
    site: str, script: str, tmp_path: Path
) -> None:
    desk = Desk(site, tmp_path / "flash", load_script(script))
    try:
        desk.player.play(desk.bench, [], None)
        result = desk.player.result
        assert {name for name, at in result.requirements.items() if at is not None} == set()
        assert len(result.requirements) >= 10
        assert (result.given_up, result.surprised, result.fault) == ((), (), 0)
        assert result.state == IDLE
        assert desk.edge.late == 0
        assert desk.edge.restarts == []
    finally:
        desk.close()


@pytest.mark.parametrize("site", SITES)
def test_the_trace_tells_the_current_that_flows(site: str, tmp_path: Path) -> None:
    # The converter makes 12 bits of it, so a code is range / 2048: that and 2 % are allowed.
    desk = Desk(site, tmp_path / "flash")
    try:
        assert desk.idle()
        desk.do("raise")
        assert desk.until(lambda: desk.state() == RAISING)
        desk.run(5.0)
        desk.line.clear()
        desk.run(0.05)
        shown_ma = [int(line[39:46]) for line in desk.lines("T")]
        flowing_ma = desk.bench.plant.current_a * 1000
        code_ma = desk.edge.process.plan.range_ma / 2048
        assert len(shown_ma) >= 4
        for value in shown_ma:
            assert math.isclose(value, flowing_ma, rel_tol=0.02, abs_tol=code_ma)
    finally:
        desk.close()


def test_the_ticks_wrap_while_it_moves(desk: Desk) -> None:
    assert START_MS + 20_000 == 1 << 30  # as said where the bench keeps its clock
    assert desk.idle()
    desk.run(10.0)
    desk.do("raise")
    desk.run(12.0)
    times = [int(line[7:15], 16) for line in desk.lines("T")]
    assert max(times) > (1 << 30) - 200
    assert times[-1] < 20_000
    assert desk.state() == RAISING
    assert desk.edge.late == 0


def test_two_runs_say_the_same(tmp_path: Path) -> None:
    said = []
    for name in ("one", "two"):
        desk = Desk("workshop-pit", tmp_path / name)
        try:
            assert desk.idle()
            desk.do("raise")
            desk.run(3.0)
            desk.do("release")
            desk.run(2.0)
            said.append(bytes(desk.line))
        finally:
            desk.close()
    assert said[0] == said[1]
    assert len(said[0]) > 64 * 300
