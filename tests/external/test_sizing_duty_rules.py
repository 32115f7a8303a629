"""Duty, heating and lifting against textbooks of drives, IEC 60034-1 and FEM 9.683."""

import math
from collections.abc import Callable

import pytest

from leafwinch_sim.mechanism import GRAVITY
from leafwinch_sim.sizing import duty_rules as duty
from tests.external.sizing_rows import Row
from tests.external.sizing_values import DUTY_ROWS


@pytest.mark.parametrize("row", DUTY_ROWS, ids=str)
def test_published_value(row: Row) -> None:
    """Each row names its source."""
    assert row.holds(), row.words()


def test_power_of_a_hoist_motor() -> None:
    """J. B. Gupta, ex. 4: 14.25 kW at 1500 rpm."""
    omega = 1500 * 2 * math.pi / 60
    torque = float(duty.lifting_torque_nm(600 * GRAVITY, 2 / omega, 1.0, 0.88)) + 50 * 0.1 / 0.9
    assert torque * omega == pytest.approx(14250, abs=10)


def test_energy_of_a_wind() -> None:
    """Gupta and Singhal, ch. 1: 3000 kg raised by 50 m take 1.4715 MJ."""
    turns = 50 / (2 * math.pi * 0.4)
    torque = duty.lifting_torque_nm(3000 * GRAVITY, 0.4, 20.0)
    assert torque * 2 * math.pi * turns * 20 == pytest.approx(1.4715e6, rel=5e-4)


def test_endless_cycles_come_to_the_cyclic_rise() -> None:
    """Gupta and Singhal, ch. 4, walked cycle by cycle: 27.36 K."""
    rise = 0.0
    for _ in range(60):
        rise *= math.exp(-25 / 140)
        rise = 55 - (55 - rise) * math.exp(-15 / 100)
    assert rise == pytest.approx(27.36, abs=0.01)


def test_above_the_preferred_factors_only_continuous_duty_is_enough() -> None:
    """IEC 60034-1, from memory: the greatest preferred factor is 60 %."""
    assert duty.preferred_share(0.61) is None


@pytest.mark.parametrize(
    "call",
    [
        lambda: duty.duty_share(601),
        lambda: duty.duty_share(1, 0),
        lambda: duty.rms_current([]),
        lambda: duty.cyclic_rise(1, 1, 1, 1, 0),
        lambda: duty.cyclic_rise(1, 0, 1, 1, 1),
    ],
)
def test_what_has_no_meaning_is_refused(call: Callable[[], object]) -> None:
    """The formulas of the textbooks divide by these."""
    with pytest.raises(ValueError, match="allowed"):
        call()
