"""The explored core keeps its rules, everything can be reached, and broken cores are found."""

import dataclasses
import json
from functools import cache

import pytest

from leafwinch.fault_texts import FAULTS
from leafwinch.requirement_limits import R1_OFF_MS, R3_PAUSE_MS, REQUIREMENTS
from leafwinch.settings_schema import settings_from
from leafwinch_sim.explore.exploration import (
    SHORT,
    Exploration,
    build,
    caught_by_exploration,
    explore,
    finding,
    make_real,
    shortened,
)
from leafwinch_sim.explore.extents import BUTTON, POWER, RECOVERY, SMALL, START, TRAVELS, Extent
from leafwinch_sim.explore.play import PUMP_HOLD_MS, RELEASE_MS
from leafwinch_sim.explore.trace import (
    as_rows,
    from_rows,
    in_words,
    played,
    recorded,
    rested,
    way_to,
)
from leafwinch_sim.explore.unreached import OUT_OF_REACH, unreached
from leafwinch_sim.explore.violations import NOTHING, VIOLATIONS
from leafwinch_wiring.errors import BadInput
from tests.seeded_bugs.bugs import BUGS, Bug
from tests.seeded_bugs.patched import maker_of

BOUND = 1_000_000
NAMES = [extent.name for extent in SMALL]


@cache
def explored(extent: Extent) -> Exploration:
    return explore(extent, {}, passes_max=BOUND)


def bug(name: str) -> Bug:
    return next(one for one in BUGS if one.name == name)


@pytest.mark.parametrize("extent", SMALL, ids=NAMES)
def test_every_reachable_state_keeps_the_rules_and_has_a_way_on(extent: Extent) -> None:
    found = explored(extent)
    assert found.complete, "the search must close, not stop at its bound"
    assert found.violation is None
    assert (found.stranded, found.no_way_out) == ({}, {})
    assert found.holds
    assert found.states > 100 < found.edges
    assert sum(found.by_state.values()) == found.states


def test_the_small_explorations_reach_many_faults() -> None:
    reached = {name for extent in SMALL for name in explored(extent).faults}
    assert len(reached) >= 18
    missing = unreached(reached, current_signed=0)
    assert reached | set(missing) == {row[0] for row in FAULTS}
    assert set(OUT_OF_REACH) <= set(missing)
    assert "current_wrong_way" in unreached((), current_signed=1)


def test_two_runs_find_the_same_states_and_edges() -> None:
    first, second = explored(BUTTON), explore(BUTTON, {}, passes_max=BOUND)
    assert first == second
    assert first.digest != explored(RECOVERY).digest


def test_a_bound_is_said_so() -> None:
    found = explore(TRAVELS, {}, passes_max=1000)
    assert not found.complete
    assert not found.holds
    assert found.violation is None


def test_every_rule_belongs_to_a_requirement_and_leaves_room_for_the_rest() -> None:
    names = {row[0] for row in REQUIREMENTS}
    assert {requirement for requirement, _ in VIOLATIONS[1:]} <= names
    assert {"R1", "R3", "R4", "R5", "R7"} <= {requirement for requirement, _ in VIOLATIONS}
    # The rules ask for outputs that are off in the third pass: what follows fits into R1.
    s = settings_from(shortened({}))
    assert 3 * 5 + PUMP_HOLD_MS + s.release_ms <= R1_OFF_MS
    assert s.release_ms > RELEASE_MS
    assert s.pause_ms >= R3_PAUSE_MS


def test_settings_are_as_short_as_the_core_allows() -> None:
    settings = settings_from(SHORT)
    assert settings.travel_raise_ms < settings.budget_raise_ms < 1000
    # No load: the thermal level can only fall, so it is no part of the canonical form.
    thermal = make_real(SHORT, None, 0).thermal
    assert thermal.load_of(settings.trip_ma + 100) == 0
    assert settings.duty_pct == 100


CAUGHT_BY = (
    ("line contactor without proof of the direction contactor", TRAVELS, "R3"),
    ("line contactor together with the direction contactor", TRAVELS, "R3"),
    ("budget renewed by a pause", TRAVELS, "R7"),
    ("budget renewed by a power cycle", TRAVELS, "R7"),
    ("neutral not waited for after a stop", TRAVELS, "R4"),
    ("start straight from held", TRAVELS, "R4"),
    ("cause named without its window", TRAVELS, "R5"),
    ("recovery without the bound of a pulse", RECOVERY, "R2"),
    ("reset acts on the press", TRAVELS, "R5"),
    ("tap taken for an uncommanded contactor", START, "R5"),
    ("late pass ignored", START, "R1"),
)


@pytest.mark.parametrize(
    ("name", "extent", "requirement"), CAUGHT_BY, ids=[r[0] for r in CAUGHT_BY]
)
def test_a_bug_is_found_and_its_way_replays(name: str, extent: Extent, requirement: str) -> None:
    make = maker_of(bug(name))
    found = explore(extent, {}, make, BOUND)
    assert found.violation is not None
    assert not found.holds
    assert found.violation.requirement == requirement
    assert found.violation.words[0].startswith("power on with control neutral")
    log = from_rows(json.loads(json.dumps(found.violation.rows)))
    values = found.settings
    record = rested(make_real(values, None, 0))
    broken, _ = played(log, values, make, record)
    assert VIOLATIONS[broken] == (requirement, found.violation.text)
    sound, _ = played(log, values, make_real, record)
    assert sound == NOTHING, "the same inputs must break nothing in the real core"


def test_ends_that_cannot_be_reached_are_found() -> None:
    found = explore(TRAVELS, {}, maker_of(bug("ends swapped")), BOUND)
    assert set(found.stranded) == {"the top end", "the bottom end"}
    assert caught_by_exploration(maker_of(bug("ends swapped")))


def test_a_fault_without_a_way_out_is_found() -> None:
    deaf = bug("ends swapped")._replace(
        file="controller.py",
        old="if pressed == PRESSED and self.state == FAULT:",
        new="if pressed == PRESSED and self.state == IDLE:",
    )
    found = explore(TRAVELS, {}, maker_of(deaf), BOUND)
    assert set(found.no_way_out) == set(found.faults)
    assert "no way out of" in finding(maker_of(deaf))


def test_a_way_played_again_leads_to_the_same_state() -> None:
    search = build(POWER, shortened({}))
    while search.expand():
        pass
    record = rested(make_real(shortened({}), None, 0))
    for node in range(0, len(search.states), 13):
        letters = way_to(search, node)
        log = recorded(search, letters)
        assert from_rows(as_rows(log)) == log
        broken, core = played(log, shortened({}), make_real, record)
        assert broken == NOTHING
        search.recall(search.states[node])
        assert core.canonical() == search.core.canonical(), in_words(search, letters)


def test_states_that_count_as_one_have_one_future() -> None:
    # With every account exact, whatever the canonical form leaves out must not matter.
    search = build(dataclasses.replace(TRAVELS, exact=True), shortened({}))
    first: dict[bytes, tuple[int, ...]] = {}
    pairs: list[tuple[int, tuple[int, ...], tuple[int, ...]]] = []
    for _ in range(40):
        search.expand()
    for state in search.states[:60]:
        for one in search.grammar.letters(0, -1, 0) + search.grammar.letters(4, -1, 2):
            search.recall(state)
            if not search.run_letter(one):
                continue
            other = search.capture()
            key = search.projection.key(other, one >> 4)
            if first.setdefault(key, other) != other:
                pairs.append((one, first[key], other))
    assert len(pairs) > 50
    for one, left, right in pairs[:: max(1, len(pairs) // 40)]:
        for letter in search.grammar.letters(one // 2048, -1, 2):
            keys = set()
            for state in (left, right):
                search.recall(state)
                search.run_letter(letter)
                assert not search.is_broken()
                keys.add(search.projection.key(search.capture(), letter >> 4))
            assert len(keys) == 1


@pytest.mark.parametrize("row", [{}, {"passes": 1}, {"passes": 1, "every_ms": 5, "closed": ["x"]}])
def test_a_row_of_no_kind_is_refused(row: dict[str, object]) -> None:
    with pytest.raises(BadInput, match="row 1 of the trace is no power-up"):
        from_rows([row])
