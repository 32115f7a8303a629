"""The bench: step size, snapshots, repeatability, both sites and the bare wiring."""

from functools import lru_cache
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from leafwinch.states import HELD, IDLE, LOWERING, RAISING
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect, all_defects, find_defect
from leafwinch_sim.observation import Observation
from leafwinch_sim.requirements import Monitors
from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import load_site
from leafwinch_sim.spread import draw
from leafwinch_wiring.netlist import load_netlist
from tests.sim.sites import ALTERNATING, DIRECT

CHECKPOINT = 400  # steps between two kept snapshots
FOLLOWED = 60  # steps followed after a branch


class EveryMillisecond(Bench):
    """A bench that never advances the machine by a whole control step at once."""

    def _quiet(self) -> bool:
        return False


def bench_of(name: str, script: str, kind: type[Bench] = Bench) -> Bench:
    site = load_site(name)
    return kind(site, load_netlist(site.wiring), load_script(script))


def facts(o: Observation) -> tuple[Any, ...]:
    return tuple(getattr(o, name) for name in Observation.__slots__)


def changes(bench: Bench) -> tuple[list[tuple[int, int]], list[float]]:
    """Return (time, state) of each change of state, and the angle at each step."""
    found: list[tuple[int, int]] = []
    angles = []
    while not bench.operator.done():
        o = bench.step()
        angles.append(o.angle_deg)
        if not found or found[-1][1] != o.state:
            found.append((o.t_ms, o.state))
    return found, angles


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_whole_control_steps_agree_with_milliseconds(name: str) -> None:
    quick, quick_angles = changes(bench_of(name, "full-cycle"))
    exact, exact_angles = changes(bench_of(name, "full-cycle", EveryMillisecond))
    assert [state for _, state in quick] == [state for _, state in exact]
    starts_and_ends = zip(quick, exact, strict=True)
    assert all(abs(a_ms - b_ms) <= 10 for (a_ms, _), (b_ms, _) in starts_and_ends)
    # The deck falls fast over the last degrees, where 5 ms are a tenth of a degree.
    pairs = zip(quick_angles, exact_angles, strict=False)
    assert max(abs(a - b) for a, b in pairs) < 0.2


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_a_full_cycle_ends_where_it_began(name: str) -> None:
    bench = bench_of(name, "full-cycle")
    states, angles = changes(bench)
    order = [state for _, state in states]
    assert order == [HELD, IDLE, RAISING, HELD, IDLE, LOWERING, HELD, IDLE]
    limits = bench.site.limits
    assert limits.top_end.at < max(angles) < limits.top_final.at
    assert angles[-1] == 0.0
    assert bench.operator.given_up == ()


def test_the_bare_wiring_runs_a_healthy_cycle() -> None:
    site = load_site(ALTERNATING)
    result = run_script(site, load_script("full-cycle"), "bare", trace=False)
    assert result.state is None
    assert result.given_up == ()
    assert not result.broken
    assert set(result.requirements) == {"R1", "R2", "R6", "R10", "R11"}
    assert result.travel_s > 50


# --- every function, in order -----------------------------------------------------------

# Scripted faults by name. On the boat slip the control supply outlasts the motor's, so the
# lost motor current is seen before the board goes down.
EXPECTED_FAULTS = {ALTERNATING: [2, 3, 4, 7], DIRECT: [2, 3, 4, 7, 28]}


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_every_function_answers_as_the_script_expects(name: str) -> None:
    result = run_script(load_site(name), load_script("every-function"))
    assert result.surprised == ()
    assert result.given_up == ()
    assert not result.broken
    assert result.faults == EXPECTED_FAULTS[name]
    assert result.reaction_ms <= 100
    assert 0 < result.overrun_mm < 20
    assert 0 < result.rope_overrun_mm < 30


def test_a_surprised_operator_is_told() -> None:
    site = load_site(ALTERNATING)
    defect = ("SF0.path:welded", 0), ("SF0.second:welded", 0)
    result = run_script(site, load_script("every-function"), defects=defect, trace=False)
    assert 14 in result.surprised  # the emergency stop did nothing


# --- repeatability ------------------------------------------------------------------------


def test_equal_runs_have_equal_hashes_and_unequal_ones_differ() -> None:
    site = load_site(ALTERNATING)
    script = load_script("full-cycle")
    first = run_script(site, script, seed=7, spread=draw(7), trace=False)
    again = run_script(site, script, seed=7, spread=draw(7), trace=False)
    other = run_script(site, script, seed=8, spread=draw(7), trace=False)
    assert first.hash == again.hash
    assert first.hash != other.hash


@lru_cache(maxsize=1)
def healthy() -> tuple[list[tuple[Any, ...]], list[tuple[Any, ...]]]:
    """Return the facts of every step of a healthy run and a snapshot every CHECKPOINT steps."""
    bench = bench_of(ALTERNATING, "every-function")
    monitors = Monitors(bench.site, bench.net)
    rows: list[tuple[Any, ...]] = []
    kept: list[tuple[Any, ...]] = []
    while not bench.operator.done():
        if len(rows) % CHECKPOINT == 0:
            kept.append((bench.snapshot(), monitors.snapshot()))
        o = bench.step()
        monitors.step(o)
        rows.append(facts(o))
    return rows, kept


@lru_cache(maxsize=1)
def branching() -> tuple[Bench, Monitors, tuple[Defect, ...]]:
    bench = bench_of(ALTERNATING, "every-function")
    return bench, Monitors(bench.site, bench.net), all_defects(bench.site, bench.net)


def follow(bench: Bench, monitors: Monitors, steps: int) -> list[tuple[Any, ...]]:
    rows = []
    for _ in range(steps):
        o = bench.step()
        monitors.step(o)
        rows.append(facts(o))
    return rows


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(share=st.floats(0.0, 0.99), which=st.integers(0, 10**6))
def test_a_branch_leaves_no_trace_at_any_tick(share: float, which: int) -> None:
    rows, kept = healthy()
    bench, monitors, defects = branching()
    tick = int(share * (len(rows) - FOLLOWED))
    state, watched = kept[tick // CHECKPOINT]
    bench.restore(state)
    monitors.restore(watched)
    start = tick // CHECKPOINT * CHECKPOINT
    assert follow(bench, monitors, tick - start) == rows[start:tick]
    here, seen = bench.snapshot(), monitors.snapshot()
    ahead = rows[tick : tick + FOLLOWED]
    assert follow(bench, monitors, FOLLOWED) == ahead
    bench.restore(here)
    monitors.restore(seen)
    assert bench.snapshot() == here
    assert monitors.snapshot() == seen
    defect = defects[which % len(defects)]
    bench.add_defect(defect)
    first = follow(bench, monitors, FOLLOWED)
    broken = dict(monitors.broken)
    within = bench.snapshot()
    onwards = follow(bench, monitors, 5)
    bench.restore(within)
    assert follow(bench, monitors, 5) == onwards, defect.id
    bench.restore(here)
    monitors.restore(seen)
    assert bench.snapshot() == here
    assert follow(bench, monitors, FOLLOWED) == ahead, defect.id
    bench.restore(here)
    monitors.restore(seen)
    bench.add_defect(defect)
    assert follow(bench, monitors, FOLLOWED) == first, defect.id
    assert monitors.broken == broken
    bench.restore(here)


def test_a_wrong_clock_goes_on_from_where_it_was() -> None:
    """A crystal that is replaced changes the pace of time and makes no jump."""
    site = load_site("workshop-pit")
    bench = Bench(site, load_netlist(site.wiring), load_script("full-cycle"))
    board = bench.board
    assert board is not None
    for _ in range(200):
        bench.step()
    before = board.now_ms(bench.t_ms)
    fast = find_defect(site, bench.net, "clock_fast")
    bench.add_defect(fast)
    assert board.now_ms(bench.t_ms) == before
    assert board.now_ms(bench.t_ms + 1000) - before == 1400
    state = bench.snapshot()
    for _ in range(100):
        bench.step()
    bench.remove_defect(fast)
    assert board.now_ms(bench.t_ms) - before == 700
    assert board.now_ms(bench.t_ms + 100) - before == 800
    bench.restore(state)
    assert board.now_ms(bench.t_ms + 1000) - before == 1400
