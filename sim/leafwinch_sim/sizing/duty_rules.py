"""Duty, equivalent current and heating of a motor, and the torque and power of a lift.

Heating is that of one body with one time constant, as textbooks of electric drives have
it: rise = final (1 - e^(-t / tau)). Times may be in any unit, the same in one call.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from leafwinch_sim.mechanism import GRAVITY

S3_CYCLE_S = 600.0  # unless stated otherwise, IEC 60034-1, from memory
S3_SHARES: tuple[float, ...] = (0.15, 0.25, 0.40, 0.60)  # preferred, the same, from memory


@dataclass(frozen=True, slots=True)
class HoistGroup:
    """Duty of one group of hoist mechanisms, FEM 9.683, from memory.

    Attributes:
        share: on-time by cycle time, 0 to 1.
        starts_per_h: starts in an hour.
    """

    share: float
    starts_per_h: int


HOIST_GROUPS: dict[str, HoistGroup] = {
    "M1": HoistGroup(0.15, 90),
    "M2": HoistGroup(0.20, 120),
    "M3": HoistGroup(0.25, 150),
    "M4": HoistGroup(0.30, 180),
    "M5": HoistGroup(0.40, 240),
}


def _above_zero(what: str, value: float) -> None:
    if not 0.0 < value < math.inf:
        raise ValueError(f"{what} of {value:g}, allowed is above 0")


def duty_share(on_s: float, cycle_s: float = S3_CYCLE_S) -> float:
    """Return the cyclic duration factor of duty S3, 0 to 1, IEC 60034-1.

    Args:
        on_s: on-time in a cycle, 0 to `cycle_s`.
        cycle_s: 10 minutes unless stated.

    Raises:
        ValueError: the on-time does not lie within the cycle, in one clause.
    """
    _above_zero("a cycle", cycle_s)
    if not 0.0 <= on_s <= cycle_s:
        raise ValueError(f"{on_s:g} s on, allowed is 0 to the cycle's {cycle_s:g} s")
    return on_s / cycle_s


def rms_of_duty(current_a: float, share: float) -> float:
    """Return the RMS in A of a current that flows for a share (0 to 1) of the time."""
    return current_a * math.sqrt(share)


def rms_current(pieces: Sequence[tuple[float, float]]) -> float:
    """Return the RMS of a current in A: sqrt(sum(I^2 t) / sum(t)).

    For a motor that cools worse at rest, the textbooks count only a share of the rest.

    Args:
        pieces: current in A and seconds of each piece.

    Raises:
        ValueError: the pieces last no time, in one clause.
    """
    total = sum(seconds for _, seconds in pieces)
    _above_zero("a time", total)
    return math.sqrt(sum(current * current * seconds for current, seconds in pieces) / total)


def rise_after(final: float, initial: float, t: float, tau: float) -> float:
    """Return the temperature rise after time t: final - (final - initial) e^(-t / tau).

    Heating and cooling alike; the rise is in kelvin over the surroundings.

    Raises:
        ValueError: tau is not above 0, in one clause.
    """
    _above_zero("a time constant", tau)
    return final - (final - initial) * math.exp(-t / tau)


def final_rise(first: float, second: float) -> float:
    """Return the final rise of a body whose rise was read after t and after 2 t, from cold.

    first^2 / (2 first - second), from the two equations of the curve.

    Raises:
        ValueError: the second reading is not between once and twice the first.
    """
    if not first < second < 2.0 * first:
        raise ValueError(
            f"rises of {first:g} and {second:g}, allowed is a second between one and two firsts"
        )
    return first * first / (2.0 * first - second)


def time_constant(final: float, initial: float, reached: float, t: float) -> float:
    """Return tau, if the rise went from initial to reached in t on its way to final.

    t / ln((final - initial) / (final - reached)), the inverse of `rise_after`.

    Raises:
        ValueError: the reached rise does not lie between the two others, in one clause.
    """
    if final == initial or not 0.0 < (final - reached) / (final - initial) < 1.0:
        raise ValueError(f"a rise of {reached:g}, allowed is between {initial:g} and {final:g}")
    return t / math.log((final - initial) / (final - reached))


def short_time_power(power: float, t: float, tau: float, alpha: float = 0.0) -> float:
    """Return the power for time t from cold that heats as much as `power` does for ever.

    P sqrt((1 + alpha) / (1 - e^(-t / tau)) - alpha), Dubey, Fundamentals of Electrical
    Drives, ch. 4; with alpha 0 it is P / sqrt(1 - e^(-t / tau)).

    Args:
        power: continuous rating, any unit.
        t: on-time, above 0.
        tau: time constant of heating, above 0.
        alpha: constant losses by those that grow with the square of the load, 0 or more.

    Raises:
        ValueError: a time is not above 0, in one clause.
    """
    _above_zero("a time", t)
    _above_zero("a time constant", tau)
    return power * math.sqrt((1.0 + alpha) / -math.expm1(-t / tau) - alpha)


def intermittent_power(
    power: float, on: float, off: float, tau_on: float, tau_off: float, alpha: float = 0.0
) -> float:
    """Return the power of an endless on and off that heats as much as `power` for ever.

    As `short_time_power`, with (1 - e^-(on / tau_on + off / tau_off)) over
    (1 - e^(-on / tau_on)), the same chapter.

    Raises:
        ValueError: a time is not above 0, in one clause.
    """
    ratio = 1.0 / cyclic_rise(1.0, on, off, tau_on, tau_off)
    return power * math.sqrt((1.0 + alpha) * ratio - alpha)


def cyclic_rise(final: float, on: float, off: float, tau_on: float, tau_off: float) -> float:
    """Return the highest rise that an endless on and off comes to.

    final (1 - e^(-on / tau_on)) / (1 - e^-(on / tau_on + off / tau_off)).

    Args:
        final: rise of being on for ever.
        on: on-time, above 0.
        off: off-time, 0 or more.
        tau_on: time constant of heating, above 0.
        tau_off: time constant of cooling, above 0.

    Raises:
        ValueError: a time is not above 0, in one clause.
    """
    for what, value in (("a time", on), ("a time constant", tau_on), ("a time constant", tau_off)):
        _above_zero(what, value)
    heating = on / tau_on
    return final * math.expm1(-heating) / math.expm1(-heating - off / tau_off)


def hoist_torque_nm(
    mass_kg: float, speed_m_per_s: float, motor_rad_per_s: float, efficiency: float = 1.0
) -> float:
    """Return the motor torque that lifts a mass: m g v / (efficiency omega), in N m.

    Args:
        mass_kg: 0 or more.
        speed_m_per_s: of the load.
        motor_rad_per_s: of the motor at that speed, above 0.
        efficiency: from motor to load, above 0 up to 1.

    Raises:
        ValueError: motor speed or efficiency are out of range, in one clause.
    """
    _above_zero("a motor speed", motor_rad_per_s)
    return hoist_power_w(mass_kg, speed_m_per_s, efficiency) / motor_rad_per_s


def hoist_power_w(mass_kg: float, speed_m_per_s: float, efficiency: float = 1.0) -> float:
    """Return the motor power that lifts a mass: m g v / efficiency, in W.

    Args:
        mass_kg: 0 or more.
        speed_m_per_s: of the load.
        efficiency: from motor to load, above 0 up to 1.

    Raises:
        ValueError: the efficiency is out of range, in one clause.
    """
    if not 0.0 < efficiency <= 1.0:
        raise ValueError(f"an efficiency of {efficiency:g}, allowed is above 0 up to 1")
    return mass_kg * GRAVITY * speed_m_per_s / efficiency


def load_inertia_kgm2(mass_kg: float, speed_m_per_s: float, motor_rad_per_s: float) -> float:
    """Return the inertia in kg m2 that a mass in straight motion has at the motor.

    m (v / omega)^2, from equal kinetic energy.

    Raises:
        ValueError: the motor speed is not above 0, in one clause.
    """
    _above_zero("a motor speed", motor_rad_per_s)
    return mass_kg * (speed_m_per_s / motor_rad_per_s) ** 2
