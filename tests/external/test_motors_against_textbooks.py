"""Both kinds of motor against worked textbook examples."""

import cmath
import math

import pytest

from leafwinch_sim.motor_capacitor_run import CapacitorRunMotor, Circuit
from leafwinch_sim.motor_dc import DirectCurrentMotor

# Guru and Hiziroglu, Electric Machinery and Transformers, example 10.3: 230 V, 50 Hz,
# six poles, 940 r/min, core loss 19.88 W, friction and windage 1.9 W. The book refers the
# auxiliary leakage to the main winding by the turns ratio.
GURU = Circuit(
    230.0, 50.0, 6, 34.14, 35.9, 149.78, 1.73**2 * 35.9, 23.25, 29.32, 248.59, 1.73, 4e-6
)
RUNNING_SLIP = 0.06
CORE_W, WINDAGE_W = 19.88, 1.9


def line_current(slip: float) -> complex:
    return sum(GURU.currents(slip, 230.0, 230.0))


def test_capacitor_run_winding_currents() -> None:
    main, aux = GURU.currents(RUNNING_SLIP, 230.0, 230.0)
    assert main == pytest.approx(0.5876 - 0.6874j, rel=5e-3)
    assert aux == pytest.approx(0.5192 + 0.2067j, rel=5e-3)


def test_capacitor_run_line_current_and_power() -> None:
    current = line_current(RUNNING_SLIP)
    assert abs(current) == pytest.approx(1.2067, rel=5e-3)
    assert math.degrees(cmath.phase(current)) == pytest.approx(-23.48, rel=5e-3)
    assert 230 * current.real == pytest.approx(254.56, rel=5e-3)


def test_capacitor_run_torque_and_efficiency() -> None:
    main, aux = GURU.currents(RUNNING_SLIP, 230.0, 230.0)
    speed = GURU.synchronous_rad_s * (1 - RUNNING_SLIP)
    shaft_w = GURU.torque_nm(RUNNING_SLIP, main, aux) * speed - CORE_W - WINDAGE_W
    assert shaft_w / speed == pytest.approx(1.4875, rel=5e-3)
    assert shaft_w / 254.56 == pytest.approx(0.5752, rel=5e-3)


def test_capacitor_voltage() -> None:
    _, aux = GURU.currents(RUNNING_SLIP, 230.0, 230.0)
    assert abs(aux) / (2 * math.pi * 50 * 4e-6) == pytest.approx(444.67, rel=5e-3)


def test_locked_rotor() -> None:
    """Derived from the same example's circuit at standstill."""
    main, aux = GURU.currents(1.0, 230.0, 230.0)
    assert abs(main + aux) == pytest.approx(2.613, rel=5e-3)
    assert GURU.torque_nm(1.0, main, aux) == pytest.approx(0.520, rel=5e-3)


def test_interpolated_motor_keeps_the_textbook_values() -> None:
    motor = CapacitorRunMotor(GURU, 0.0)
    motor.update((1.0, 1.0), GURU.synchronous_rad_s * (1 - RUNNING_SLIP), 1.0, 1e-3)
    assert motor.current_a == pytest.approx(1.2067, rel=5e-3)
    main, aux = GURU.currents(RUNNING_SLIP, 230.0, 230.0)
    assert motor.torque_nm == pytest.approx(GURU.torque_nm(RUNNING_SLIP, main, aux), rel=5e-3)


# Fitzgerald, Kingsley and Umans, Electric Machinery, example 9.2: one winding, 110 V,
# 60 Hz, four poles, slip 0.05, core 24 W, friction and windage 13 W. It stands for a
# motor whose auxiliary winding or capacitor is open.
SINGLE = Circuit(110.0, 60.0, 4, 2.02, 2.79, 10.0, 5.0, 4.12, 2.12, 66.8, 1.0, 1e-5, False, True)


def test_single_winding_running() -> None:
    forward, backward = SINGLE.fields(0.05)
    assert forward == pytest.approx(15.931 + 20.075j, rel=5e-3)
    assert backward == pytest.approx(0.991 + 1.058j, rel=5e-3)
    main, aux = SINGLE.currents(0.05, 110.0, None)
    assert aux == 0
    assert abs(main) == pytest.approx(3.605, rel=5e-3)
    assert math.cos(cmath.phase(main)) == pytest.approx(0.621, rel=5e-3)
    speed = SINGLE.synchronous_rad_s * 0.95
    shaft_w = SINGLE.torque_nm(0.05, main, aux) * speed - 24 - 13
    assert shaft_w == pytest.approx(147.4, rel=5e-3)
    assert shaft_w / speed == pytest.approx(0.823, rel=5e-3)


def test_single_winding_does_not_start() -> None:
    """Double-revolving-field theory, any machines text: no torque at standstill."""
    motor = CapacitorRunMotor(SINGLE, 0.0)
    motor.update((1.0, 1.0), 0.0, 1.0, 1e-3)
    assert abs(motor.torque_nm) < 1e-9
    assert motor.current_a > 2 * 3.605


# Guru and Hiziroglu, example 10.2: one winding, 120 V, 60 Hz, four poles, 1710 r/min,
# rotational loss 27 W.
SECOND = Circuit(120.0, 60.0, 4, 2.5, 1.25, 10.0, 5.0, 3.75, 1.25, 65.0, 1.0, 1e-5, False, True)


def test_second_single_winding_example() -> None:
    main, _ = SECOND.currents(0.05, 120.0, None)
    assert abs(main) == pytest.approx(4.277, rel=5e-3)
    assert 120 * main.real == pytest.approx(352.1, rel=5e-3)
    speed = 1710 * 2 * math.pi / 60
    shaft_w = SECOND.torque_nm(0.05, main, 0j) * speed - 27
    assert shaft_w / speed == pytest.approx(1.295, rel=5e-3)


def settled(motor: DirectCurrentMotor, rpm: float, ratio: float) -> DirectCurrentMotor:
    for _ in range(2000):
        motor.update((ratio,), rpm * 2 * math.pi / 60, 1.0, 1e-3)
    return motor


def test_direct_current_speed_at_reduced_voltage() -> None:
    """J. B. Gupta, example 5: 220 V, 100 A, 0.1 ohm, 1000 r/min; at 200 V 904.8 r/min."""
    constant = (220 - 100 * 0.1) / (1000 * 2 * math.pi / 60)
    motor = DirectCurrentMotor(220.0, 0.1, 0.005, constant, 0.0)
    assert settled(motor, 1000.0, 1.0).current_a == pytest.approx(100.0, rel=1e-6)
    assert settled(motor, 904.8, 200 / 220).current_a == pytest.approx(100.0, rel=2e-3)


def test_direct_current_speed_and_torque_under_load() -> None:
    """J. B. Gupta, example 6: 230 V, 0.5 ohm, armature 2 A at 1000 r/min unloaded, 22 A
    loaded with 0.98 of the flux: 976 r/min and 47.15 N m."""
    constant = (230 - 2 * 0.5) / (1000 * 2 * math.pi / 60)
    unloaded = DirectCurrentMotor(230.0, 0.5, 0.01, constant, 0.0)
    assert settled(unloaded, 1000.0, 1.0).current_a == pytest.approx(2.0, rel=1e-6)
    loaded = settled(DirectCurrentMotor(230.0, 0.5, 0.01, 0.98 * constant, 0.0), 976.0, 1.0)
    assert loaded.current_a == pytest.approx(22.0, rel=5e-3)
    assert loaded.torque_nm == pytest.approx(47.15, rel=5e-3)
