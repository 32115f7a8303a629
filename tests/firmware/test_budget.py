"""The travel budget to the millisecond: what it counts, gives back, forgives and refuses."""

from typing import NamedTuple

import pytest

from leafwinch.budget import Budget
from leafwinch.faults import END_NOT_LEFT, NO_FAULT, TRAVEL_EARLY, TRAVEL_LATE
from leafwinch.numbers import LOWER, NO_DIRECTION, RAISE
from leafwinch.settings import BUCKETS
from leafwinch.settings_schema import settings_from
from leafwinch.signals import ALL_CONTACTS, BOTTOM_END, LOWER_RELEASED, RAISE_RELEASED, TOP_END
from tests.firmware.scenarios_faults import QUICK, quick

# Between the ends, with whichever direction contactor is asked about pulled in.
MIDDLE = ALL_CONTACTS & ~(RAISE_RELEASED | LOWER_RELEASED)
NO_FREE = quick(start_allow_ms=0, start_allow_total_ms=0)


class Way(NamedTuple):
    """One direction: where it starts and ends, and the names of its accounts."""

    way: int
    begins: int
    ends: int
    mine: str
    other: str


UP = Way(RAISE, BOTTOM_END, TOP_END, "up", "down")
DOWN = Way(LOWER, TOP_END, BOTTOM_END, "down", "up")
BOTH = pytest.mark.parametrize("w", [UP, DOWN], ids=["up", "down"])


def get(budget: Budget, side: str, what: str) -> int:
    value: int = getattr(budget, f"{side}_{what}")
    return value


def at_start(w: Way, values: dict[str, int]) -> Budget:
    """Return the accounts of a drive that rests where this way begins."""
    budget = Budget(settings_from(values))
    assert budget.step(1, MIDDLE & ~w.begins, False, NO_DIRECTION) == NO_FAULT
    return budget


def run(budget: Budget, w: Way, contacts: int, ms: int) -> list[int]:
    return [budget.step(1, contacts, True, w.way) for _ in range(ms)]


@BOTH
def test_unknown_after_power_up_counts_as_spent(w: Way) -> None:
    budget = Budget(settings_from(QUICK))
    assert budget.spent(w.way)
    assert get(budget, w.mine, "ms") == 4800
    assert budget.bucket(w.way) == -1
    assert budget.step(1, MIDDLE, False, NO_DIRECTION) == NO_FAULT
    assert budget.step(1, 0, False, NO_DIRECTION) == NO_FAULT  # both ends tell nothing
    assert budget.known == 0
    setattr(budget, f"{w.mine}_ms", 4799)
    assert not budget.spent(w.way)


@BOTH
def test_an_end_at_rest_tells_both_accounts(w: Way) -> None:
    budget = Budget(settings_from(quick(travel_raise_ms=4001, travel_lower_ms=4001)))
    for side in ("up", "down"):
        for what in ("free_ms", "leave_ms", "extra_used"):
            setattr(budget, f"{side}_{what}", 1)
    budget.step(1, MIDDLE & ~w.begins, False, NO_DIRECTION)
    assert budget.known == 1
    assert [get(budget, w.mine, what) for what in ("ms", "free_ms", "extra_used", "leave_ms")] == [
        0,
        0,
        0,
        1,
    ]
    assert [get(budget, w.other, what) for what in ("ms", "free_ms", "extra_used", "leave_ms")] == [
        4001,
        1,
        1,
        0,
    ]


@BOTH
def test_the_account_grows_to_its_limit_and_then_it_is_late(w: Way) -> None:
    budget = at_start(w, NO_FREE)
    budget.start(w.way, MIDDLE & ~w.begins)
    assert run(budget, w, MIDDLE, 4799) == [NO_FAULT] * 4799
    assert not budget.spent(w.way)
    assert run(budget, w, MIDDLE, 3) == [TRAVEL_LATE] * 3
    assert budget.spent(w.way)
    assert get(budget, w.mine, "ms") == 4800
    assert budget.step(1, MIDDLE, True, NO_DIRECTION) == NO_FAULT
    assert budget.step(1, MIDDLE, False, w.way) == NO_FAULT
    assert get(budget, w.mine, "ms") == 4800


@BOTH
def test_accounts_stop_growing_in_passes_of_any_length(w: Way) -> None:
    budget = at_start(w, NO_FREE)
    for contacts in (MIDDLE, MIDDLE & ~w.begins):
        for _ in range(2000):
            budget.step(7, contacts, True, w.way)
    assert get(budget, w.mine, "ms") == 4802  # the first seven beyond the limit
    assert get(budget, w.mine, "leave_ms") == 1001
    assert budget.step(7, MIDDLE, True, w.way) == TRAVEL_LATE
    assert budget.spent(w.way)


@BOTH
def test_the_free_part_ends_in_passes_of_any_length(w: Way) -> None:
    budget = at_start(w, QUICK)
    budget.start(w.way, MIDDLE)
    for _ in range(100):
        budget.step(7, MIDDLE, True, w.way)
    assert get(budget, w.mine, "free_ms") == 203
    assert get(budget, w.mine, "ms") == 700 - 203


@BOTH
def test_a_free_part_ends_with_the_travel(w: Way) -> None:
    budget = at_start(w, QUICK)
    budget.start(w.way, MIDDLE)
    budget.ended()
    run(budget, w, MIDDLE, 1)
    assert (get(budget, w.mine, "ms"), get(budget, w.mine, "free_ms")) == (1, 0)


@BOTH
def test_travel_gives_the_other_account_back(w: Way) -> None:
    budget = at_start(w, NO_FREE)
    budget.start(w.way, MIDDLE & ~w.begins)
    before = get(budget, w.other, "ms")
    assert before == 4000
    run(budget, w, MIDDLE, 1000)
    assert get(budget, w.other, "ms") == 3000
    setattr(budget, f"{w.other}_ms", 2)
    for left in (1, 0, 0):
        run(budget, w, MIDDLE, 1)
        assert get(budget, w.other, "ms") == left
    setattr(budget, f"{w.other}_ms", 2)
    budget.step(5, MIDDLE, True, w.way)
    assert get(budget, w.other, "ms") == 0


@BOTH
def test_a_line_contactor_alone_gives_nothing_back(w: Way) -> None:
    # Its mirror may be a broken wire, and without the direction's contactor nothing moves.
    budget = at_start(w, NO_FREE)
    own = RAISE_RELEASED if w.way == RAISE else LOWER_RELEASED
    run(budget, w, MIDDLE | own, 1000)
    assert (get(budget, w.other, "ms"), get(budget, w.mine, "ms")) == (4000, 1000)


@BOTH
def test_the_start_is_free_up_to_a_total(w: Way) -> None:
    budget = at_start(w, quick(start_allow_ms=200, start_allow_total_ms=500))
    for free_ms, total in ((200, 200), (200, 400), (100, 500), (0, 500)):
        budget.start(w.way, MIDDLE)
        assert budget.start_free_ms == free_ms
        before = get(budget, w.mine, "ms")
        run(budget, w, MIDDLE, free_ms)
        assert (get(budget, w.mine, "ms"), get(budget, w.mine, "free_ms")) == (before, total)
        run(budget, w, MIDDLE, 1)
        assert (get(budget, w.mine, "ms"), get(budget, w.mine, "free_ms")) == (before + 1, total)
        assert get(budget, w.other, "free_ms") == 500
    budget.start(w.way, MIDDLE)
    budget.ended()
    assert (budget.full, budget.start_free_ms) == (0, 0)


@BOTH
def test_an_end_is_left_within_its_time(w: Way) -> None:
    budget = at_start(w, NO_FREE)
    budget.start(w.way, MIDDLE & ~w.begins)
    at_end = MIDDLE & ~w.begins
    assert run(budget, w, at_end, 1000) == [NO_FAULT] * 1000
    assert get(budget, w.mine, "leave_ms") == 1000
    # At the end itself nothing is counted as known again while energised this way.
    assert run(budget, w, at_end, 2) == [END_NOT_LEFT] * 2
    assert get(budget, w.mine, "leave_ms") == 1000
    assert run(budget, w, MIDDLE, 1) == [NO_FAULT]
    assert get(budget, w.mine, "leave_ms") == 0
    run(budget, w, at_end, 7)
    budget.step(1, MIDDLE, True, -w.way)
    assert get(budget, w.mine, "leave_ms") == 0
    run(budget, w, at_end, 7)
    assert get(budget, w.mine, "leave_ms") == 7
    setattr(budget, f"{w.other}_leave_ms", 9)
    budget.grant_leaving()
    assert (budget.up_leave_ms, budget.down_leave_ms) == (0, 0)


@BOTH
def test_a_full_travel_is_early_below_its_limit_and_judged_once(w: Way) -> None:
    for ms, fault in ((1999, TRAVEL_EARLY), (2000, NO_FAULT)):
        for whole in (True, False):
            budget = at_start(w, NO_FREE)
            budget.start(w.way, MIDDLE & ~w.begins if whole else MIDDLE)
            assert budget.full == (1 if whole else 0)
            assert run(budget, w, MIDDLE, ms) == [NO_FAULT] * ms
            arrived = budget.step(0, MIDDLE & ~w.ends, True, w.way)
            assert arrived == (fault if whole else NO_FAULT), ms
            assert budget.full == 0
            assert budget.step(0, MIDDLE & ~w.ends, True, w.way) == NO_FAULT


@BOTH
def test_a_full_travel_may_reach_its_end_after_the_motor_was_switched_off(w: Way) -> None:
    budget = at_start(w, NO_FREE)
    budget.start(w.way, MIDDLE & ~w.begins)
    run(budget, w, MIDDLE, 1500)
    assert budget.step(1, MIDDLE & ~w.ends, False, w.way) == TRAVEL_EARLY
    budget.start(w.way, MIDDLE & ~w.begins)
    budget.ended()
    assert budget.step(1, MIDDLE & ~w.ends, False, w.way) == NO_FAULT


@BOTH
def test_reaching_the_end_tells_the_position(w: Way) -> None:
    budget = at_start(w, NO_FREE)
    budget.known = 0
    budget.start(w.way, MIDDLE)
    run(budget, w, MIDDLE & ~w.begins, 10)
    assert budget.known == 0  # the end that is being left tells nothing while it is left
    run(budget, w, MIDDLE & ~w.ends, 1)
    assert budget.known == 1
    assert (get(budget, w.mine, "ms"), get(budget, w.other, "ms")) == (4000, 0)
    budget.known = 0
    budget.step(1, MIDDLE & ~w.ends, True, NO_DIRECTION)
    assert budget.known == (1 if w is DOWN else 0)


@BOTH
def test_one_extra_allowance(w: Way) -> None:
    for extra_ms, left in ((2000, 2800), (4800, 0), (4799, 1), (9000, 0)):
        budget = Budget(settings_from(quick(extra_ms=extra_ms)))
        assert budget.grant_extra(w.way)
        assert get(budget, w.mine, "ms") == left
        assert (get(budget, w.mine, "extra_used"), get(budget, w.other, "extra_used")) == (1, 0)
        assert not budget.grant_extra(w.way)
        assert budget.grant_extra(-w.way)
    none = Budget(settings_from(quick(extra_ms=0)))
    assert not none.grant_extra(w.way)
    assert get(none, w.mine, "extra_used") == 0


@BOTH
def test_buckets_divide_the_travel(w: Way) -> None:
    budget = at_start(w, NO_FREE)
    for ms, bucket in ((0, 0), (249, 0), (250, 1), (3749, 14), (3750, 15), (4000, 15), (4800, 15)):
        setattr(budget, f"{w.mine}_ms", ms)
        assert budget.bucket(w.way) == bucket
    assert BUCKETS == 16
