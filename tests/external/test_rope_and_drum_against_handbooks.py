"""Rope friction, purchase, drum turns and self-locking against handbook figures."""

import math

import pytest

from leafwinch_sim.drum import Drum
from leafwinch_sim.gear import Gear
from leafwinch_sim.rope import Rope, capstan_ratio


def purchase(sheave_factor: float, lead_sheaves: int = 1) -> Rope:
    return Rope(4e5, 300.0, 1.0, sheave_factor, lead_sheaves)


def test_capstan_winch_drum() -> None:
    """Khurmi and Gupta, Theory of Machines, ch. 11: 9 kN, 2.5 turns, friction 0.25."""
    assert 9000 / capstan_ratio(0.25, 2.5 * 2 * math.pi) == pytest.approx(177.326, rel=1e-4)


def test_capstan_half_turn_and_three_turns() -> None:
    """Tayal, Engineering Mechanics, examples 7.4 and 7.6 (the book prints 3.5025 N)."""
    assert 1000 / capstan_ratio(0.25, math.pi) == pytest.approx(455.94, rel=1e-4)
    assert 1000 / capstan_ratio(0.3, 3 * 2 * math.pi) == pytest.approx(3.500, rel=1e-3)


def test_capstan_band_brake() -> None:
    """Jindal, example 23-2: friction 0.22, 225 degrees, 9600 N to 4046.4 N."""
    assert 9600 / capstan_ratio(0.22, math.radians(225)) == pytest.approx(4046.4, rel=1e-4)


@pytest.mark.parametrize(("factor", "ratio"), [(1.09, 0.5685), (1.04, 0.5302)])
def test_lead_line_of_two_parts(factor: float, ratio: float) -> None:
    """Wire Rope Users Manual: lead line / load = K^N (K - 1)/(K^N - 1) with N = 2 parts,
    which counts the first sheave at the fixed block as well."""
    assert purchase(factor).raising_factor / 2 == pytest.approx(ratio, abs=5e-5)
    assert purchase(factor).raising_factor / 2 == pytest.approx(
        factor**2 * (factor - 1) / (factor**2 - 1), rel=1e-12
    )


@pytest.mark.parametrize(("factor", "advantage"), [(1.045, 1.87), (1.02, 1.94)])
def test_advantage_of_two_parts(factor: float, advantage: float) -> None:
    """Table of block ratios in the wire-rope handbooks: bronze bush 1.87, roller 1.94."""
    assert 2 / purchase(factor).raising_factor == pytest.approx(advantage, abs=5e-3)


def test_an_extra_lead_sheave_costs_its_factor() -> None:
    """The same manual: each further lead sheave multiplies the lead line by K."""
    one, two = purchase(1.09), purchase(1.09, 2)
    assert two.raising_factor / one.raising_factor == pytest.approx(1.09)
    assert two.lowering_factor / one.lowering_factor == pytest.approx(1 / 1.09)


def test_drum_turns_for_a_travel() -> None:
    """Hoist handbooks: Z = H i/(pi D) + 2; 2.5 m, two parts, 0.10 m: 17.915 turns."""
    drum = Drum(core_m=0.048, rope_m=0.004, turns_per_layer=100.0)
    assert drum.turns_for(2.5 * 2) + 2 == pytest.approx(17.915, abs=1e-3)


def test_efficiency_below_half_is_self_locking() -> None:
    """Khurmi and Gupta, example 10.2: velocity ratio 30, 1500 N by 125 N, so 40 % and not
    reversible; with equal friction both ways the load drives back 2 - 1/efficiency."""
    efficiency = 1500 / (125 * 30)
    assert efficiency == pytest.approx(0.40)
    assert Gear(30.0, efficiency, 2 - 1 / efficiency).self_locking
    assert not Gear(30.0, 0.6, 2 - 1 / 0.6).self_locking
