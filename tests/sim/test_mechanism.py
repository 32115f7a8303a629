"""Geometry and energies: rates belong to their quantities, for any pair of leaves."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leafwinch_sim.mechanism import GRAVITY, Mechanism


@st.composite
def mechanisms(draw: st.DrawFn) -> Mechanism:
    length_a = draw(st.floats(0.5, 2.0))
    length_b = length_a * draw(st.one_of(st.just(1.0), st.floats(1.0, 1.5)))
    return Mechanism(
        length_a,
        length_b,
        draw(st.floats(5.0, 200.0)),
        draw(st.floats(5.0, 200.0)),
        length_a * draw(st.floats(0.2, 0.8)),
        length_b * draw(st.floats(0.2, 0.8)),
        draw(st.floats(0.0, 20.0)),
        length_a * draw(st.floats(0.0, 0.5)),
    )


angles = st.floats(0.02, 1.5)


def change(mechanism: Mechanism, angle: float, name: str) -> float:
    """Central difference of an attribute."""
    step = 1e-6
    mechanism.update(angle + step)
    high = float(getattr(mechanism, name))
    mechanism.update(angle - step)
    low = float(getattr(mechanism, name))
    mechanism.update(angle)
    return (high - low) / (2 * step)


@given(mechanisms(), angles)
def test_rates_are_derivatives(mechanism: Mechanism, angle: float) -> None:
    free_end = change(mechanism, angle, "free_end_m")
    assert mechanism.free_end_rate == pytest.approx(free_end, rel=1e-4, abs=1e-6)
    path = change(mechanism, angle, "path_m")
    leaving = math.asin(mechanism.kicker_depth_m / mechanism.length_a_m)
    if abs(angle - leaving) > 1e-5:
        assert mechanism.path_rate == pytest.approx(path, rel=1e-4, abs=1e-6)
    inertia = change(mechanism, angle, "inertia")
    assert 2 * mechanism.half_inertia_rate == pytest.approx(inertia, rel=1e-3, abs=1e-3)


@given(mechanisms(), angles)
def test_gravity_is_the_slope_of_the_potential(mechanism: Mechanism, angle: float) -> None:
    step = 1e-5
    rise = mechanism.potential_j(angle + step) - mechanism.potential_j(angle - step)
    mechanism.update(angle)
    assert mechanism.gravity_nm == pytest.approx(rise / (2 * step), rel=1e-5, abs=1e-3)


@given(mechanisms(), angles, st.floats(0.1, 100.0))
def test_heavier_never_lowers_the_pull(mechanism: Mechanism, angle: float, more_kg: float) -> None:
    before = mechanism.line_pull_n(angle)
    mechanism.deck_load_kg = more_kg
    assert mechanism.line_pull_n(angle) > before
    mechanism.deck_load_kg = 0.0
    mechanism.mass_a_kg += more_kg
    assert mechanism.line_pull_n(angle) > before


@given(mechanisms(), st.floats(0.0, 0.3), st.floats(1.05, 2.0))
def test_a_deeper_kicker_never_raises_the_pull_on_it(
    mechanism: Mechanism, angle: float, deeper: float
) -> None:
    mechanism.kicker_depth_m = max(mechanism.kicker_depth_m, 0.05)
    mechanism.update(angle)
    if mechanism.bend_rad == 0.0:
        return
    before = mechanism.line_pull_n(angle)
    mechanism.kicker_depth_m *= deeper
    assert mechanism.line_pull_n(angle) < before


@given(mechanisms(), angles)
def test_wheel_and_wall_hinge_carry_all_the_weight(mechanism: Mechanism, angle: float) -> None:
    mechanism.update(angle)
    weight = GRAVITY * (mechanism.mass_a_kg + mechanism.mass_b_kg + mechanism.end_mass_kg)
    assert 0.0 < mechanism.wheel_n < weight * 1.0001


def test_equal_leaves_are_the_limit_of_unequal_ones() -> None:
    equal = Mechanism(1.25, 1.25, 55, 50, 0.6, 0.7, 4, 0.2)
    nearly = Mechanism(1.25, 1.25 * (1 + 1e-9), 55, 50, 0.6, 0.7, 4, 0.2)
    for angle_deg in (0, 5, 30, 60, 85):
        angle = math.radians(angle_deg)
        equal.update(angle)
        nearly.update(angle)
        for name in (
            "free_end_m",
            "path_m",
            "path_rate",
            "inertia",
            "half_inertia_rate",
            "wheel_n",
        ):
            expected = float(getattr(equal, name))
            assert float(getattr(nearly, name)) == pytest.approx(expected, rel=1e-4, abs=1e-6)


def test_level_wind_has_no_hold_on_a_flat_deck() -> None:
    mechanism = Mechanism(1.25, 1.25, 55, 55, 0.625, 0.625, 4, 0.2)
    assert mechanism.wind_arm == 0.0
    mechanism.update(math.radians(80))
    # Upright leaf B: its centre moves to the wall by 1.5 lengths per radian, nearly.
    assert mechanism.wind_arm == pytest.approx(1.5 * 1.25, rel=0.05)
