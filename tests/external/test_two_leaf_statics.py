"""Statics of two leaves against closed forms and textbook kinematics.

Closed forms follow from virtual work (any statics text, as for the step-ladder or
A-frame): straight rope T = m g cot(angle)/4; on the kicker, flat,
T = m g sqrt(L^2 + d^2)/(4 d); pull at the free end F = W cot(angle)/2.
"""

import math

import pytest

from leafwinch_sim.mechanism import GRAVITY, Mechanism

LENGTH_M = 1.25
MASS_KG = 55.0
ALL_ANGLES_DEG = range(5, 86, 5)


def equal_leaves(kicker_m: float) -> Mechanism:
    half = LENGTH_M / 2
    return Mechanism(LENGTH_M, LENGTH_M, MASS_KG, MASS_KG, half, half, 4.0, kicker_m)


@pytest.mark.parametrize("angle_deg", ALL_ANGLES_DEG)
def test_straight_rope_closed_form(angle_deg: int) -> None:
    angle = math.radians(angle_deg)
    expected = MASS_KG * GRAVITY / math.tan(angle) / 4
    assert equal_leaves(0.0).line_pull_n(angle) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("depth_m", [0.12, 0.168, 0.179, 0.216, 0.3])
def test_flat_start_on_the_kicker_closed_form(depth_m: float) -> None:
    expected = MASS_KG * GRAVITY * math.hypot(LENGTH_M, depth_m) / (4 * depth_m)
    assert equal_leaves(depth_m).line_pull_n(0.0) == pytest.approx(expected, rel=1e-9)


def virtual_work_pull_n(angle_rad: float, depth_m: float) -> float:
    """-dE / dl of both parts, by central differences of plain coordinates."""

    def energy_and_rope(angle: float) -> tuple[float, float]:
        hinge = complex(LENGTH_M * math.cos(angle), LENGTH_M * math.sin(angle))
        end = complex(2 * hinge.real, 0.0)
        heights = hinge.imag / 2 + (hinge.imag + end.imag) / 2
        roller = hinge - 1j * depth_m
        rope = abs(end) if roller.imag >= 0 else abs(roller) + abs(end - roller)
        return MASS_KG * GRAVITY * heights, 2 * rope

    step = 1e-6
    high, low = energy_and_rope(angle_rad + step), energy_and_rope(angle_rad - step)
    return -(high[0] - low[0]) / (high[1] - low[1])


@pytest.mark.parametrize("angle_deg", ALL_ANGLES_DEG)
@pytest.mark.parametrize("depth_m", [0.0, 0.21, 0.5])
def test_virtual_work_from_plain_coordinates(angle_deg: int, depth_m: float) -> None:
    angle = math.radians(angle_deg)
    pull = equal_leaves(depth_m).line_pull_n(angle)
    assert pull == pytest.approx(virtual_work_pull_n(angle, depth_m), rel=1e-6)


def test_rope_leaves_the_roller_where_the_sine_says() -> None:
    depth_m = 0.21
    leaving = math.asin(depth_m / LENGTH_M)
    mechanism = equal_leaves(depth_m)
    mechanism.update(leaving - 1e-6)
    assert mechanism.bend_rad > 0.0
    mechanism.update(leaving + 1e-6)
    assert mechanism.bend_rad == 0.0


def test_flat_without_kicker_is_a_dead_centre() -> None:
    assert equal_leaves(0.0).line_pull_n(0.0) == math.inf


def test_kicker_depth_that_a_125_kg_hoist_needs() -> None:
    """Solved by hand from the closed form: 125 kg of line pull lifts the flat deck from
    138 mm of depth on, all friction and reserve apart (common practice, no source)."""
    assert equal_leaves(0.137).line_pull_n(0.0) > 125 * GRAVITY
    assert equal_leaves(0.139).line_pull_n(0.0) < 125 * GRAVITY


# Step-ladder tie F/W = cot(angle)/2, W one leaf, printed to the digits below.
LADDER = (
    (5, 5.715),
    (10, 2.8356),
    (20, 1.3737),
    (30, 0.8660),
    (45, 0.5),
    (60, 0.2887),
    (80, 0.0882),
)


@pytest.mark.parametrize(("angle_deg", "ratio"), LADDER)
def test_step_ladder_tie(angle_deg: int, ratio: float) -> None:
    pull = 2 * equal_leaves(0.0).line_pull_n(math.radians(angle_deg))
    assert pull / (MASS_KG * GRAVITY) == pytest.approx(ratio, abs=6e-5 if angle_deg > 5 else 5e-4)


def test_wheel_carries_one_leaf() -> None:
    """Symmetry: each end of the A-frame carries one leaf, whatever the angle."""
    mechanism = Mechanism(LENGTH_M, LENGTH_M, MASS_KG, MASS_KG, 0.625, 0.625, 0.0, 0.21)
    for angle_deg in (0, 3, 20, 60, 85):
        mechanism.update(math.radians(angle_deg))
        assert mechanism.wheel_n == pytest.approx(MASS_KG * GRAVITY, rel=1e-9)


# Khurmi and Gupta, Theory of Machines, slider-crank examples; the printed figures are
# graphical, so 1.5 % is allowed. Leaf A is the crank, leaf B the connecting rod.
SLIDERS = ((0.3, 1.5, 180.0, 40.0, 4.19), (0.15, 0.6, 450.0, 60.0, 6.83))


@pytest.mark.parametrize(("crank", "rod", "rpm", "angle_deg", "printed"), SLIDERS)
def test_free_end_moves_as_a_slider_crank(
    crank: float, rod: float, rpm: float, angle_deg: float, printed: float
) -> None:
    mechanism = Mechanism(crank, rod, 1.0, 1.0, crank / 2, rod / 2, 0.0, 0.0)
    mechanism.update(math.radians(angle_deg))
    speed = abs(mechanism.free_end_rate) * rpm * 2 * math.pi / 60
    assert speed == pytest.approx(printed, rel=0.015)
