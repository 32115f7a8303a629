"""Voltage drop, cables, breakers and starting currents against IEC, NEMA and NEC."""

from collections.abc import Callable
from itertools import pairwise

import pytest

from leafwinch_sim.sizing import supply_rules as supply
from leafwinch_sim.sizing.supply_rules import Breaker
from tests.external.sizing_rows import Row
from tests.external.sizing_values_supply import SUPPLY_ROWS


@pytest.mark.parametrize("row", SUPPLY_ROWS, ids=str)
def test_published_value(row: Row) -> None:
    """Each row names its source."""
    assert row.holds(), row.words()


def test_code_letters_follow_each_other() -> None:
    """NEMA MG 1: a band begins a hundredth above where the one before it ends."""
    for (_, high), (low, _) in pairwise(supply.LOCKED_ROTOR_KVA.values()):
        assert low - high == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("run_a", "start_a", "words"),
    [
        (4.9, 17.9, "B6"),  # 3 In of B6 is 18 A
        (4.9, 18.0, "C6"),  # from the lower edge on it may trip
        (4.9, 30.0, "D6"),
        (4.9, 60.0, "D10"),  # B10 30 A, C10 50 A, D10 100 A
        (16.0, 40.0, "B16"),
        (16.1, 40.0, "B20"),
    ],
)
def test_smallest_breaker(run_a: float, start_a: float, words: str) -> None:
    """The lower edges of IEC 60898-1, by hand."""
    breaker = supply.smallest_breaker(run_a, start_a)
    assert str(breaker) == words
    assert supply.parse_breaker(words) == breaker


def test_two_thermal_bounds_lie_below_the_magnetic_band() -> None:
    """IEC 60898-1: 1.13 and 1.45 In for an hour, at least 3 In at once."""
    breaker = Breaker("B", 16.0)
    assert breaker.rating_a < breaker.thermal_never_a < breaker.thermal_sure_a
    assert breaker.thermal_sure_a < breaker.magnetic_band_a()[0]


def test_three_loaded_conductors_carry_no_more() -> None:
    """IEC 60364-5-52 as a maker of cables tabulates it: three loaded, B2 15/20, C 17.5/24 A."""
    for method, areas in {"B2": (15, 20), "C": (17.5, 24)}.items():
        for area, three in zip((1.5, 2.5), areas, strict=True):
            assert 0.8 < three / supply.cable_capacity_a(method, area) < 1.0


def test_warmer_air_as_a_table_of_three_loaded_conductors_has_it() -> None:
    """The same table at 40 C, B2 13/17 A of 15/20 A, rounded to whole amperes."""
    for at_30, at_40 in ((15, 13), (20, 17), (24, 21)):
        assert at_30 * supply.AIR_FACTORS[40.0] == pytest.approx(at_40, abs=0.5)


@pytest.mark.parametrize(
    "call",
    [
        lambda: supply.parse_breaker(""),
        lambda: supply.parse_breaker("A16"),
        lambda: supply.parse_breaker("B"),
        lambda: supply.parse_breaker("B17"),
        lambda: supply.parse_breaker("B16 A"),
        lambda: supply.smallest_breaker(64, 0),
        lambda: supply.smallest_breaker(10, 63 * 20),
        lambda: supply.smallest_area_mm2(113, "C"),
        lambda: supply.smallest_area_mm2(10, "Z"),
        lambda: supply.smallest_area_for_drop_mm2(1000, 100, 230),
        lambda: supply.cable_capacity_a("Z", 1.5),
        lambda: supply.cable_capacity_a("A1", 4),
        lambda: supply.cable_capacity_a("C", 1.5, 51),
        lambda: supply.voltage_drop_v(1, 1, 0),
        lambda: supply.voltage_drop_v(1, 1, 1, 1.1),
        lambda: supply.locked_rotor_a(373, 230, "I"),
        lambda: supply.locked_rotor_a(373, 0, "K"),
        lambda: supply.full_load_current_a(0.0, 230.0),
        lambda: supply.full_load_current_a(0.5, 400.0),
    ],
)
def test_what_the_tables_do_not_hold_is_refused(call: Callable[[], object]) -> None:
    """A value outside a table has no source, so none is given."""
    with pytest.raises(ValueError, match="allowed"):
        call()
