"""Duty, equivalent current and heating of a motor, and the torque of a lift.

Heating is that of one body with one time constant, as textbooks of electric drives have
it. Times may be in any unit, the same in one call.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from leafwinch_sim.sizing.conditions import Number

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


def preferred_share(share: float) -> float | None:
    """Return the least preferred factor of duty S3 that is not below a share, IEC 60034-1.

    Args:
        share: 0 to 1.

    Returns:
        0 to 1; None where only continuous duty is enough.
    """
    return next((listed for listed in S3_SHARES if listed >= share), None)


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


def lifting_torque_nm(
    pull_n: Number, radius_m: Number, ratio: float = 1.0, efficiency: Number = 1.0
) -> Number:
    """Return the motor torque that pulls with a force: F r / (i efficiency), in N m.

    Textbooks of drives write F v / (efficiency omega), which is the same, since v / omega is
    the drum's radius over the gear ratio.

    Args:
        pull_n: F, 0 or more; this and what follows may be arrays.
        radius_m: r, of the drum to the middle of the rope.
        ratio: i, motor turns for one drum turn, above 0.
        efficiency: from motor to rope, above 0 up to 1.
    """
    return pull_n * radius_m / ratio / efficiency
