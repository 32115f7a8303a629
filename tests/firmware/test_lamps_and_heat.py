"""Lamp and buzzer patterns, thermal replica and duty account, step by step; the stored record."""

import itertools

import pytest

from leafwinch.controller import Controller
from leafwinch.fault_texts import FAULTS
from leafwinch.faults import DUTY, NO_FAULT, THERMAL
from leafwinch.indicator import Indicator
from leafwinch.kept import KEPT_NAMES
from leafwinch.settings_schema import settings_from
from leafwinch.signals import OUT_BUZZER, OUT_LAMP_RED, OUT_LAMP_WHITE
from leafwinch.states import FAULT, HELD, IDLE, LOWERING, RAISING
from leafwinch.thermal import Thermal
from tests.firmware.scenarios_faults import QUICK

# --- lamps and buzzer -------------------------------------------------------------


def runs(indicator: Indicator, bit: int, state: int, fault: int, ms: int) -> list[tuple[int, int]]:
    """Return (lit, for how many ms) in turn for one output."""
    levels = [1 if indicator.step(1, state, fault) & bit else 0 for _ in range(ms)]
    return [(level, len(list(group))) for level, group in itertools.groupby(levels)]


@pytest.mark.parametrize("name", ["supply_lost", "top_final_actuated", "both_ends", "loop_late"])
def test_red_lamp_counts_group_and_item(name: str) -> None:
    row = next(row for row in FAULTS if row[0] == name)
    _, _, group, item = row
    # Long flashes of 700 ms, short ones of 200 ms, 300 ms dark after each; 700 ms more between
    # the two, and 2 s more at the end.
    cycle = [(1, 700), (0, 300)] * (group - 1) + [(1, 700), (0, 1000)]
    cycle += [(1, 200), (0, 300)] * (item - 1) + [(1, 200), (0, 2300)]
    found = runs(Indicator(), OUT_LAMP_RED, FAULT, FAULTS.index(row) + 1, 45_000)
    assert found[: 2 * len(cycle)] == cycle * 2


@pytest.mark.parametrize("state", [IDLE, RAISING, LOWERING, HELD])
def test_red_lamp_is_dark_without_a_fault(state: int) -> None:
    assert runs(Indicator(), OUT_LAMP_RED, state, 0, 5000) == [(0, 5000)]


def test_white_lamp_glows_one_pass_in_four_when_ready() -> None:
    indicator = Indicator()
    lit = [bool(indicator.step(1, IDLE, 0) & OUT_LAMP_WHITE) for _ in range(2000)]
    assert lit == [False, False, False, True] * 500
    assert indicator.phase_ms == 500
    assert indicator.ticks == 0


@pytest.mark.parametrize("state", [RAISING, LOWERING])
def test_white_lamp_is_bright_while_moving(state: int) -> None:
    indicator = Indicator()
    assert runs(indicator, OUT_LAMP_WHITE, state, 0, 2000) == [(1, 2000)]
    assert indicator.phase_ms == 500


def test_white_lamp_turns_bright_and_dim_once_a_second_when_locked() -> None:
    indicator = Indicator()
    indicator.step(1, IDLE, 0)
    lit = [bool(indicator.step(1, HELD, 0) & OUT_LAMP_WHITE) for _ in range(3000)]
    for second in range(3):
        assert lit[second * 1000 : second * 1000 + 500] == [True] * 500
        assert sum(lit[second * 1000 + 500 : second * 1000 + 1000]) == 125
    # A new state begins its pattern anew.
    indicator.step(1, IDLE, 0)
    assert indicator.phase_ms == 0
    assert runs(indicator, OUT_LAMP_WHITE, HELD, 0, 500) == [(1, 500)]


def test_white_lamp_glows_beside_a_fault() -> None:
    indicator = Indicator()
    lit = [bool(indicator.step(1, FAULT, 1) & OUT_LAMP_WHITE) for _ in range(400)]
    assert sum(lit) == 100


def test_patterns_go_on_in_passes_of_any_length() -> None:
    indicator = Indicator()
    lit = [bool(indicator.step(7, HELD, 0) & OUT_LAMP_WHITE) for _ in range(1000)]
    bright = [sum(lit[at : at + 70]) for at in range(0, 980, 143)]
    assert min(bright) > 60
    red = Indicator()
    cycle_ms = 700 + 1000 + 2 * 200 + 300 + 2300
    lit = [bool(red.step(7, FAULT, 2) & OUT_LAMP_RED) for _ in range(4 * cycle_ms // 7)]
    assert sum(lit) == pytest.approx(4 * 1100 / 7, abs=8)


def test_buzzer_tones() -> None:
    indicator = Indicator()
    assert runs(indicator, OUT_BUZZER, IDLE, 0, 10) == [(0, 10)]
    assert runs(indicator, OUT_BUZZER, FAULT, 1, 3000) == [(1, 1000), (0, 2000)]
    assert indicator.tone_ms == 0
    indicator.chirp()
    assert runs(indicator, OUT_BUZZER, FAULT, 1, 300) == [(1, 100), (0, 200)]
    # A chirp does not shorten a tone, and another fault begins its tone anew.
    assert runs(indicator, OUT_BUZZER, FAULT, 2, 500) == [(1, 500)]
    indicator.chirp()
    assert runs(indicator, OUT_BUZZER, FAULT, 2, 600) == [(1, 500), (0, 100)]
    indicator.chirp()
    assert runs(indicator, OUT_BUZZER, FAULT, 2, 60) == [(1, 60)]
    indicator.chirp()
    assert runs(indicator, OUT_BUZZER, FAULT, 2, 200) == [(1, 100), (0, 100)]
    indicator.chirp()
    tones = [bool(indicator.step(99, FAULT, 2) & OUT_BUZZER) for _ in range(4)]
    assert tones == [True, True, False, False]
    # Leaving a fault is quiet.
    assert runs(indicator, OUT_BUZZER, HELD, 0, 100) == [(0, 100)]


# --- thermal replica and duty -------------------------------------------------------

FULL = 8_388_608  # the level that trips
ONE = 8192  # the load of the base current


def cold(**values: int) -> Thermal:
    thermal = Thermal(settings_from(values))
    thermal.level = 0
    return thermal


@pytest.mark.parametrize(
    ("base_ma", "size_ma", "load"),
    [
        (6000, 0, 0),
        (6000, 6000, ONE),
        (6000, 12_000, 4 * ONE),
        (6000, 9000, 18_432),  # 2.25
        (500, 3999, 524_032),  # ratio 8190 of 1024, rounded
        (500, 4000, 64 * ONE),
        (500, 4400, 64 * ONE),
        (500, 5000, 64 * ONE),  # flat above eight times the base
        (100_000, 524_287, 225_204),  # ratio 5369
        (100_000, 600_000, 64 * ONE),
        (100_000, 524_288, 64 * ONE),  # as large as the arithmetic allows
        (101, 50, 2008),  # 506.93 rounds to 507
    ],
)
def test_load_is_the_square_of_the_ratio(base_ma: int, size_ma: int, load: int) -> None:
    assert (
        cold(
            thermal_base_ma=base_ma, inrush_trip_ma=500_000, sensor_range_ma=1_000_000, rest_ma=5000
        ).load_of(size_ma)
        == load
    )


def test_level_moves_once_in_100_ms_by_the_mean_load() -> None:
    thermal = cold()
    for ms in range(1, 100):
        assert thermal.step(1, 6000 if ms % 2 else -6000, True) == NO_FAULT
        assert (thermal.level, thermal.period_ms, thermal.load_sum) == (0, ms, ms * ONE)
    thermal.step(1, 6000, True)
    # 600 s are 6000 periods; what the division leaves is carried over.
    assert thermal.level == FULL // 6000 == 1398
    assert thermal.carry == FULL % 6000 == 608
    assert (thermal.period_ms, thermal.load_sum) == (0, 0)
    thermal.step(100, 6000, True)
    assert thermal.level == 1398 + (FULL - 1398 + 608) // 6000
    assert thermal.carry == (FULL - 1398 + 608) % 6000
    odd = cold()
    for _ in range(15):
        assert odd.level == 0
        odd.step(7, 6000, True)
    assert (odd.level, odd.period_ms) == (1398, 0)
    half = cold()
    half.step(50, 12_000, True)
    half.step(50, 0, True)
    assert half.level == 2 * FULL // 6000


def test_current_of_either_sign_heats_alike() -> None:
    for size_ma, load in ((60_000, 64 * ONE), (48_000, 64 * ONE), (3000, ONE // 4)):
        for current_ma in (size_ma, -size_ma):
            thermal = cold()
            thermal.step(1, current_ma, True)
            assert thermal.load_sum == load


def test_level_falls_at_rest_with_its_own_time_constant() -> None:
    thermal = cold()
    thermal.level = FULL
    assert thermal.step(100, 0, False) == NO_FAULT
    assert thermal.level == FULL - -(-FULL // 9000)
    assert thermal.step(100, 9000, False) == NO_FAULT


def test_trip_and_restart_levels() -> None:
    thermal = cold()
    for level, trips, warm in (
        (FULL, THERMAL, True),
        (FULL - 1, NO_FAULT, True),
        (6_710_880, NO_FAULT, True),
        (6_710_879, NO_FAULT, False),
    ):
        thermal.level = level
        assert thermal.step(1, 0, True) == trips
        assert thermal.step(1, 0, False) == NO_FAULT
        assert thermal.warm() == warm


def test_duty_account() -> None:
    # A quarter of the time is allowed: a ms of travel costs 75, a ms of rest gives back 25.
    thermal = cold()
    thermal.step(1, 0, True)
    assert thermal.duty_ms100 == 75
    for left in (50, 25, 0, 0):
        thermal.step(1, 0, False)
        assert thermal.duty_ms100 == left
    thirds = cold(duty_pct=33)
    thirds.duty_ms100 = 32
    thirds.step(1, 0, False)
    assert thirds.duty_ms100 == 0
    thermal.duty_ms100 = 18_000_000 - 76
    assert thermal.step(1, 0, True) == NO_FAULT
    assert thermal.step(1, 0, True) == DUTY
    assert thermal.duty_ms100 == 18_000_000
    assert thermal.step(1, 0, False) == NO_FAULT
    thermal.duty_ms100 = 18_000_000 - 75
    assert thermal.step(1, 0, True) == DUTY
    thermal.level = FULL
    thermal.duty_ms100 = 18_000_000
    assert thermal.step(1, 0, True) == THERMAL
    for duty, worked in ((14_400_000, True), (14_399_999, False)):
        thermal.duty_ms100 = duty
        assert thermal.worked() == worked


@pytest.mark.parametrize(
    ("values", "rise"),
    [
        # Trip level 9 A is 1.5 of the base: load 2.25; the longest travel 36 s counts as 37 s.
        ({}, 18_874_368 // 600 * 37),
        ({"thermal_heat_s": 38}, 18_874_368 // 38 * 37),
        ({"thermal_heat_s": 30}, FULL),
        ({"thermal_heat_s": 37}, FULL),  # no shorter than the travel: counts as full
        ({"budget_raise_ms": 40_000}, 18_874_368 // 600 * 41),
        ({"budget_lower_ms": 40_000}, 18_874_368 // 600 * 41),
        ({"budget_lower_ms": 39_999}, 18_874_368 // 600 * 40),
        ({"thermal_base_ma": 3181}, FULL),  # a load of eight at the trip level
        ({"thermal_base_ma": 3182}, 67_094_528 // 600 * 37),
    ],
)
def test_a_travel_that_no_record_holds(values: dict[str, int], rise: int) -> None:
    thermal = Thermal(settings_from(values))
    assert thermal.level == FULL
    assert thermal.unseen_rise == rise
    thermal.boot_level(0)
    assert thermal.level == min(rise, FULL)
    if rise < FULL:
        for kept, level in ((5, rise + 5), (FULL - rise - 1, FULL - 1), (FULL - rise, FULL)):
            thermal.boot_level(kept)
            assert thermal.level == level
        thermal.boot_level(FULL)
        assert thermal.level == FULL


# --- the stored record --------------------------------------------------------------


def test_every_entry_of_a_record_comes_back_from_its_own_place() -> None:
    values = {name: 11 * index for index, name in enumerate(KEPT_NAMES)}
    values.update(version=1, fault=8, blocked_ms=1700)
    row = tuple(values[name] for name in KEPT_NAMES)
    core = Controller(settings_from(QUICK), row)
    again = dict(zip(KEPT_NAMES, core.record(), strict=True))
    rise = core.thermal.unseen_rise
    assert again == {**values, "thermal_level": min(FULL, values["thermal_level"] + rise)}
    assert core.fault == 8


@pytest.mark.parametrize(
    ("fault", "kept"), [(1, 0), (3, 3), (8, 8), (42, 0), (43, 43), (0, 0), (44, 0), (-1, 0)]
)
def test_only_a_serious_fault_is_in_the_record(fault: int, kept: int) -> None:
    core = Controller(settings_from(QUICK))
    core.fault = fault if 0 <= fault <= len(FAULTS) else 0
    record = core.record()
    assert record[:2] == (1, kept)
    again = Controller(settings_from(QUICK), (1, fault, *record[2:]))
    assert again.fault == (fault if 0 < fault <= len(FAULTS) else 0)
