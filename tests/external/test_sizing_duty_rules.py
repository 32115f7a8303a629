"""Duty, heating and lifting against textbooks of drives, IEC 60034-1 and FEM 9.683."""

import math
from collections.abc import Callable

import pytest

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
    torque = duty.hoist_torque_nm(600, 2, omega, 0.88) + 50 * 0.1 / 0.9
    assert torque * omega == pytest.approx(14250, abs=10)


def test_energy_of_a_wind() -> None:
    """Gupta and Singhal, ch. 1: 3000 kg raised by 50 m take 1.4715 MJ."""
    assert duty.hoist_power_w(3000, 50 / 90) * 90 == pytest.approx(1.4715e6, rel=5e-4)


def test_endless_cycles_come_to_the_cyclic_rise() -> None:
    """Gupta and Singhal, ch. 4, walked cycle by cycle: 27.36 K."""
    rise = 0.0
    for _ in range(60):
        rise = duty.rise_after(0, rise, 25, 140)
        rise = duty.rise_after(55, rise, 15, 100)
    assert rise == pytest.approx(27.36, abs=0.01)


@pytest.mark.parametrize(
    "call",
    [
        lambda: duty.duty_share(601),
        lambda: duty.duty_share(1, 0),
        lambda: duty.rms_current([]),
        lambda: duty.rise_after(1, 0, 1, 0),
        lambda: duty.final_rise(30, 60),
        lambda: duty.final_rise(30, 30),
        lambda: duty.time_constant(60, 0, 60, 1),
        lambda: duty.time_constant(60, 60, 60, 1),
        lambda: duty.short_time_power(1, 0, 1),
        lambda: duty.cyclic_rise(1, 1, 1, 1, 0),
        lambda: duty.hoist_power_w(1, 1, 0.0),
        lambda: duty.hoist_torque_nm(1, 1, 0.0),
        lambda: duty.load_inertia_kgm2(1, 1, 0.0),
    ],
)
def test_what_has_no_meaning_is_refused(call: Callable[[], object]) -> None:
    """The formulas of the textbooks divide by these."""
    with pytest.raises(ValueError, match="allowed"):
        call()
