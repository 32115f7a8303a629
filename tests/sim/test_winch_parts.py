"""Drum, rope, brake, gear and the interpolated motor."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leafwinch_sim.brake import Brake
from leafwinch_sim.drum import Drum
from leafwinch_sim.gear import Gear
from leafwinch_sim.motor_capacitor_run import OPEN_RATIO, CapacitorRunMotor
from leafwinch_sim.motor_dc import DirectCurrentMotor
from leafwinch_sim.plant_parts import circuit_of
from leafwinch_sim.rope import Rope
from leafwinch_sim.site import load_site
from leafwinch_sim.site_schema import CapacitorRun

DRUM = Drum(0.023, 0.004, 14.0)
SITE = load_site("workshop-pit")
assert isinstance(SITE.motor, CapacitorRun)
CIRCUIT = circuit_of(SITE, SITE.motor)


@given(st.floats(0.0, 100.0))
def test_drum_turns_and_length_are_inverse(turns: float) -> None:
    assert DRUM.turns_for(DRUM.wound_m(turns)) == pytest.approx(turns, abs=1e-9)


@given(st.floats(0.0, 100.0), st.floats(1e-3, 5.0))
def test_more_turns_hold_more_rope_either_way_round(turns: float, more: float) -> None:
    assert DRUM.wound_m(turns + more) > DRUM.wound_m(turns)
    assert DRUM.wound_m(-turns) == DRUM.wound_m(turns)


def test_radius_grows_by_a_rope_with_each_layer() -> None:
    assert DRUM.radius_m(3.0) == pytest.approx(0.025)
    assert DRUM.radius_m(14.1) == pytest.approx(0.029)
    assert DRUM.radius_m(-14.1) == pytest.approx(0.029)
    for turns in (3.0, 14.5, 30.0):
        per_turn = DRUM.wound_m(turns + 0.01) - DRUM.wound_m(turns)
        assert per_turn / 0.01 == pytest.approx(2 * math.pi * DRUM.radius_m(turns))


def test_rope_pulls_but_never_pushes() -> None:
    rope = Rope(4e5, 300.0, 1.0, 1.04, 1)
    rope.update(5.001, 5.0, 0.0)
    assert rope.tension_n == pytest.approx(4e5 * 0.001 / 5.0)
    rope.update(4.9, 5.0, 100.0)
    assert rope.tension_n == 0.0
    assert rope.slack_m == pytest.approx(0.1)
    rope.update(5.001, 5.0, -1000.0)
    assert rope.tension_n == 0.0
    rope.attached = False
    rope.update(5.0, 4.0, 0.0)
    assert (rope.tension_n, rope.slack_m) == (0.0, 5.0)


@given(st.floats(1.0, 1.2), st.integers(0, 4))
def test_sheaves_cost_pull_one_way_and_give_it_back_less_the_other(
    factor: float, leads: int
) -> None:
    rope = Rope(4e5, 300.0, 1.0, factor, leads)
    assert rope.lowering_factor <= 1.0 <= rope.raising_factor


def updates_until(brake: Brake, energised: bool, is_set: bool) -> int:
    for count in range(1, 1000):
        brake.update(1.0, energised)
        if brake.is_set == is_set:
            return count
    raise AssertionError("the brake never changed")


def test_brake_delays_are_exact() -> None:
    brake = Brake(25.0, 40.0)
    assert updates_until(brake, True, is_set=False) == 25
    assert updates_until(brake, False, is_set=True) == 40


def test_a_short_pulse_does_not_release_the_brake() -> None:
    brake = Brake(25.0, 40.0)
    for _ in range(10):
        for _ in range(20):
            brake.update(1.0, True)
        brake.update(1.0, False)
        assert brake.is_set


def test_stuck_brakes() -> None:
    brake = Brake(25.0, 25.0)
    brake.stuck_on = True
    for _ in range(100):
        brake.update(1.0, True)
    assert brake.is_set
    brake.stuck_on, brake.stuck_off = False, True
    for _ in range(100):
        brake.update(1.0, False)
    assert not brake.is_set


@given(st.floats(0.51, 1.0))
def test_equal_friction_both_ways_follows_the_textbook_relation(efficiency: float) -> None:
    gear = Gear(30.0, efficiency, 2 - 1 / efficiency)
    assert gear.drive_friction == pytest.approx(gear.back_friction)
    assert not gear.self_locking


@given(st.floats(-200.0, 200.0), st.sampled_from([-1.0, 1.0]), st.floats(0.7, 1.15))
def test_interpolated_torque_follows_the_circuit(speed: float, sense: float, supply: float) -> None:
    motor = CapacitorRunMotor(CIRCUIT, 0.0)
    motor.update((sense, 1.0), speed, supply, 1e-3)
    slip = 1 - speed / CIRCUIT.synchronous_rad_s
    volts = supply * CIRCUIT.voltage_v
    main, aux = CIRCUIT.currents(slip, sense * volts, volts)
    assert motor.torque_nm == pytest.approx(CIRCUIT.torque_nm(slip, main, aux), abs=3e-3)
    assert motor.current_a == pytest.approx(abs(sense * main + aux), abs=3e-3)


@given(st.floats(-200.0, 200.0))
def test_reversing_one_winding_mirrors_the_motor(speed: float) -> None:
    motor = CapacitorRunMotor(CIRCUIT, 0.0)
    motor.update((1.0, 1.0), speed, 1.0, 1e-3)
    raising, current = motor.torque_nm, motor.current_a
    motor.update((-1.0, 1.0), -speed, 1.0, 1e-3)
    assert motor.torque_nm == pytest.approx(-raising, abs=1e-9)
    assert motor.current_a == pytest.approx(current)


def test_start_is_the_weak_point_of_a_capacitor_run_motor() -> None:
    motor = CapacitorRunMotor(CIRCUIT, 0.0)
    motor.update((1.0, 1.0), 0.0, 1.0, 1e-3)
    start = motor.torque_nm
    best = 0.0
    for speed in range(157):
        motor.update((1.0, 1.0), float(speed), 1.0, 1e-3)
        best = max(best, motor.torque_nm)
    assert 0.2 * best < start < 0.5 * best


@pytest.mark.parametrize("windings", [(1.0, 0.0), (0.0, 1.0), (1.0, OPEN_RATIO / 2)])
def test_one_winding_alone_gives_no_starting_torque(windings: tuple[float, float]) -> None:
    motor = CapacitorRunMotor(CIRCUIT, 0.0)
    motor.update(windings, 0.0, 1.0, 1e-3)
    assert abs(motor.torque_nm) < 1e-9
    assert motor.current_a > 0.5
    # Once turning it helps whichever way it turns, so a falling load can drive it on.
    motor.update(windings, 120.0, 1.0, 1e-3)
    assert motor.torque_nm > 0.1
    motor.update(windings, -120.0, 1.0, 1e-3)
    assert motor.torque_nm < -0.1


def test_disconnected_motors_carry_nothing() -> None:
    alternating = CapacitorRunMotor(CIRCUIT, 0.0)
    alternating.update((0.0, 0.0), 100.0, 1.0, 1e-3)
    assert (alternating.torque_nm, alternating.current_a) == (0.0, 0.0)
    direct = DirectCurrentMotor(12.0, 0.1, 2e-4, 0.03, 0.0)
    direct.update((1.0,), 0.0, 1.0, 1e-3)
    assert direct.current_a > 0.0
    direct.update((0.0,), 100.0, 1.0, 1e-3)
    assert (direct.torque_nm, direct.current_a) == (0.0, 0.0)


def test_stalled_direct_current_settles_at_ohms_law() -> None:
    motor = DirectCurrentMotor(12.0, 0.1, 2e-4, 0.03, 0.0)
    for _ in range(100):
        motor.update((-1.0,), 0.0, 0.9, 1e-3)
    assert motor.current_a == pytest.approx(-108.0)
    assert motor.torque_nm == pytest.approx(-3.24)
