"""Random sequences on the bench: hands, surroundings and defects, then everything mended.

What they are judged by are the requirements R1 to R11, by the monitors that the proof and the
recorded runs use. A finding is shortened and written to out/sequences; `leafwinch replay FILE`
plays it. Kept as a file in regressions/, it is played here ever after.

`pytest tests/sequences --hypothesis-profile=hunt` draws far more.
"""

from pathlib import Path

import pytest
from hypothesis import settings

from leafwinch_sim.canaries import canaries, maker_of_canary
from leafwinch_sim.scenario import Scenario, load_scenario
from leafwinch_sim.scenario_play import ScenarioPlayer, play_scenario
from leafwinch_sim.site import load_site
from tests.seeded_bugs.bugs import BUGS
from tests.seeded_bugs.patched import maker_of
from tests.sequences.alphabet import PARTS, step
from tests.sequences.catalogue import catalogue_of
from tests.sequences.machine import Sequences, Task
from tests.sequences.search import (
    SITES,
    bench_maker,
    caught_by_sequences,
    search,
    told,
    write_finding,
)

REGRESSIONS = sorted(Path(__file__).with_name("regressions").glob("*.toml"))
FOUND = Path("out/sequences")
SHORT_ACTS = 6
SEED = 20


@pytest.mark.parametrize("site", SITES)
def test_nothing_breaks(site: str) -> None:
    profile = settings()
    task = Task((catalogue_of(site),))
    finding = search(task, profile.max_examples // 30, profile.stateful_step_count // 3, SEED)
    if finding is not None:
        path = write_finding(finding, FOUND)
        pytest.fail(f"leafwinch replay {path}\n{told(finding)}")
    # Many different sequences were played, or all this means nothing.
    assert task.runs >= 20
    assert len(task.defects) >= 12
    assert len(task.masks) >= 12
    assert task.parts == set(PARTS)
    assert task.simulated_ms > task.runs * 60_000, "a full cycle after each takes a minute"


def test_a_bare_wiring_breaks_and_the_scenario_is_short(tmp_path: Path) -> None:
    task = Task((catalogue_of(SITES[0], "bare"),), mend=False)
    finding = search(task, rounds=3, steps=20)
    assert finding is not None
    assert len(finding.scenario.acts) <= SHORT_ACTS, told(finding)
    path = write_finding(finding, tmp_path)
    scenario = load_scenario(path)
    assert scenario.found == finding.requirement
    assert finding.requirement in play_scenario(scenario).broken


def test_a_core_with_a_bug_breaks_and_the_scenario_is_short() -> None:
    bug = next(bug for bug in BUGS if bug.name == "fault cleared by a power cycle")
    scenario = caught_by_sequences(maker_of(bug))
    assert scenario is not None
    assert len(scenario.acts) <= SHORT_ACTS, scenario
    make = bench_maker(maker_of(bug), scenario.site)
    assert scenario.found in play_scenario(scenario, make).broken
    assert not play_scenario(scenario).broken


def test_a_core_that_never_starts_again_breaks_after_mending() -> None:
    site = load_site(SITES[0])
    never = next(canary for canary in canaries() if canary.requirement == "R10").controller
    assert never is not None
    make = maker_of_canary(site, never)
    finding = search(Task((catalogue_of(site.name),), make, shrink_runs=5), 1, 5, plays=5)
    assert finding is not None
    assert finding.requirement == "R10"
    assert "after mending" in finding.text


def test_what_two_defects_break_is_reported_and_no_failure() -> None:
    task = Task((catalogue_of(SITES[0], "bare"),))
    machine = Sequences(task)
    machine.scenario = Scenario(wiring="bare")
    machine.player = ScenarioPlayer(machine.scenario)
    pair = ("QB0.pole1:welded", "SF1.raise_1:welded")
    for name in pair:
        machine.break_(name)
    for do in ("raise", "release"):
        machine.play(step(do, 1000))
    machine.teardown()
    assert task.finding is None
    assert task.pairs[pair].requirement == "R1"
    assert task.pairs[pair].scenario.defects() == pair


def test_the_same_seed_draws_the_same_sequences() -> None:
    tasks = [Task((catalogue_of(SITES[1]),), mend=False) for _ in range(2)]
    for task in tasks:
        assert search(task, rounds=1, steps=6, seed=SEED) is None
    assert tasks[0].simulated_ms == tasks[1].simulated_ms
    assert tasks[0].defects == tasks[1].defects


def test_an_obstacle_beside_a_wrong_current_signal_is_two_things() -> None:
    machine = Sequences(Task((catalogue_of(SITES[1]),)))
    machine.acts = [step("come obstacle_above")]
    assert machine.several("R8") == ()
    machine.broken = ["sensor_gain_low"]
    assert machine.several("R8") == ("sensor_gain_low", "obstacle_above")
    assert machine.several("R1") == ()


@pytest.mark.parametrize("site", SITES)
def test_every_latent_defect_is_in_the_catalogue(site: str) -> None:
    # Renew the list with: python -m tests.sequences.catalogue RESULT.json ...
    catalogue = catalogue_of(site)
    known = {name for names in catalogue.by_kind.values() for name in names}
    assert len(catalogue.latent) > 100
    assert set(catalogue.latent) <= known


def test_there_are_regressions() -> None:
    assert REGRESSIONS


@pytest.mark.parametrize("path", REGRESSIONS, ids=[path.stem for path in REGRESSIONS])
def test_what_once_broke_holds(path: Path) -> None:
    scenario = load_scenario(path)
    assert scenario.found
    result = play_scenario(scenario)
    assert not result.broken, result.broken
