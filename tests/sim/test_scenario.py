"""Scenario files: what is read is what was written, bad ones get one sentence, acts act."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from leafwinch.fault_texts import FAULTS
from leafwinch_sim.scenario import (
    CLOCK_WRAPS_MS,
    SURROUNDINGS,
    Scenario,
    load_scenario,
    parse_scenario,
    scenario_text,
    surroundings,
)
from leafwinch_sim.scenario_play import ScenarioPlayer, play_scenario
from leafwinch_sim.scripts import Step
from leafwinch_sim.site import load_site, shipped_sites
from leafwinch_sim.spread import draw
from leafwinch_wiring.errors import BadInput

HEAD = 'site = "workshop-pit"\n'
ACT = '[[act]]\ndo = "raise"\nfor = "1.505 s"\n'
READY = Step("wait", "", 2000, "idle", "")
BAD = (
    ("", "the file is empty"),
    (ACT, "key 'site' is missing"),
    (HEAD, "key 'act' is missing"),
    (HEAD + "act = 3", "key 'act' is missing"),
    (HEAD + "speed = 3\n" + ACT, "key 'speed' is not known here"),
    (HEAD + 'starts_at = "middle"\n' + ACT, "key 'starts_at' is 'middle'"),
    (HEAD + "seed = -1\n" + ACT, "key 'seed' is -1"),
    (HEAD + '[spread]\nbounce = "3 kg"\n' + ACT, "key 'spread.bounce'"),
    (HEAD + "[spread]\nfriction = 99.0\n" + ACT, "key 'spread.friction' is 99.0"),
    (HEAD + '[[act]]\ndo = "fly"\n', "act 1: 'do' is 'fly'; allowed verbs are raise"),
    (HEAD + '[[act]]\ndo = "come rain"\n', "allowed is 'come' with one of obstacle_below"),
    (HEAD + '[[act]]\ndo = "break"\n', "allowed is 'break' with one of the id of a defect"),
    (HEAD + '[[act]]\ndo = "raise"\nfor = "1 kg"\n', "act 1: 'for': found '1 kg'"),
    (HEAD + ACT + 'expect = "idle"\n', "'expect' belongs to operator scripts"),
)


def scenario_of(*acts: Step, **changes: object) -> Scenario:
    """Return a scenario of the workshop pit that begins as soon as it is ready."""
    return replace(Scenario(mend_at_end=False, acts=(READY, *acts)), **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(("text", "said"), BAD, ids=[said for _, said in BAD])
def test_a_bad_file_gets_one_sentence(text: str, said: str) -> None:
    with pytest.raises(BadInput, match=re.escape(said)) as refused:
        parse_scenario(text.encode(), "mine.toml")
    assert str(refused.value).startswith("mine.toml: ")
    assert str(refused.value).endswith(".")


def test_an_absent_file_gets_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"gone\.toml: no such file\."):
        load_scenario(tmp_path / "gone.toml")


def test_what_is_read_is_what_was_written() -> None:
    scenario = Scenario(
        name='odd "name"',
        summary="a line\nand another",
        site="boat-slip",
        wiring="bare-12v",
        starts_at="top",
        seed=77,
        clock_wraps_ms=2**29,
        spread=draw(5),
        switched_off=("power", "stop"),
        found="R4",
        mend_at_end=False,
        acts=(
            READY,
            Step("raise", "", 1505, "", "why"),
            Step("break", "SF1.raise_no:welded", 0, "", ""),
            Step("come", "control_supply_40", 5, "", ""),
            Step("wait", "", 3_600_000, "", ""),
        ),
    )
    assert parse_scenario(scenario_text(scenario).encode(), "x") == scenario


def test_defaults_are_those_of_a_plain_run() -> None:
    scenario = parse_scenario((HEAD + ACT).encode(), "folder/mine.toml")
    assert scenario == Scenario(name="mine", acts=(Step("raise", "", 1505, "", ""),))
    assert scenario.clock_wraps_ms == CLOCK_WRAPS_MS


@pytest.mark.parametrize("site", shipped_sites())
def test_every_surrounding_exists_on_every_site(site: str) -> None:
    assert set(surroundings(load_site(site))) == set(SURROUNDINGS)


def test_an_act_lasts_exactly_as_long_as_it_says() -> None:
    player = ScenarioPlayer(scenario_of())
    player.act(Step("raise", "", 35, "", ""))
    assert player.bench.t_ms == 35
    player.act(Step("release", "", 0, "", ""))
    assert player.bench.t_ms == 35
    assert player.bench.lever.target == 0


def test_the_clock_wraps_when_it_should() -> None:
    player = ScenarioPlayer(scenario_of(clock_wraps_ms=1000))
    board = player.bench.board
    assert board is not None
    assert board.now_ms(995) == 2**30 - 5
    assert board.now_ms(1000) == 0


def test_both_ways_at_once_stops_and_becomes_a_fault() -> None:
    result = play_scenario(
        scenario_of(Step("raise", "", 1500, "", ""), Step("both", "", 1500, "", ""))
    )
    assert FAULTS[result.fault - 1][0] == "control_both"
    assert not result.broken


def test_a_brown_out_ends_the_travel_and_leaves_nothing_behind() -> None:
    acts = (
        Step("raise", "", 1500, "", ""),
        Step("come", "control_supply_25", 300, "", ""),
        Step("go", "control_supply_25", 500, "", ""),
    )
    result = play_scenario(scenario_of(*acts, mend_at_end=True))
    assert any("the board has lost its power" in text for _, text in result.events)
    assert not result.broken


def test_weather_closes_no_breaker() -> None:
    player = ScenarioPlayer(scenario_of())
    player.act(Step("come", "people_on_deck", 5, "", ""))
    player.bench.tripped = 1
    player.act(Step("go", "people_on_deck", 0, "", ""))
    assert player.bench.tripped == 1


def test_a_defect_that_does_not_exist_is_named() -> None:
    with pytest.raises(BadInput, match=r"There is no defect 'SF1\.raise_no:wedded'"):
        play_scenario(scenario_of(Step("break", "SF1.raise_no:wedded", 0, "", "")))


def test_a_parted_rope_is_listed_and_mended() -> None:
    acts = (
        Step("raise", "", 6000, "", ""),
        Step("release", "", 1000, "", ""),
        Step("break", "rope_parted", 2000, "", ""),
    )
    result = play_scenario(scenario_of(*acts, mend_at_end=True))
    assert result.drop_mm > 100
    assert not result.broken


def test_a_start_without_the_control_counts_against_a_single_defect() -> None:
    acts = (
        Step("break", "SF1.raise_1:welded", 0, "", ""),
        Step("raise", "", 1000, "", ""),
        Step("release", "", 1000, "", ""),
    )
    result = play_scenario(Scenario(wiring="bare", mend_at_end=False, acts=acts))
    assert {"R1", "R6"} <= set(result.broken)


def test_the_same_scenario_gives_the_same_hash() -> None:
    scenario = scenario_of(Step("lower", "", 100, "", ""), spread=draw(3), seed=9)
    first, second = play_scenario(scenario), play_scenario(scenario)
    assert first.hash == second.hash
    assert play_scenario(replace(scenario, seed=10)).hash != first.hash
