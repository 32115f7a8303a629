"""Formulas behind the advice on suppression, filters and coupling. Numbers in SI units."""

import math

E6 = (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)
"""Preferred numbers of the series E6 (IEC 60063)."""
E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
"""Preferred numbers of the series E12 (IEC 60063)."""

DC13_MS_PER_WATT = 6.0
"""IEC 60947-5-1: a DC-13 load reaches 95 % of its current after 6 ms per watt (from memory)."""
DC13_MOST_MS = 300.0
"""Longest such time, of loads of 50 W and more (the same)."""
NATURAL_LOGS_TO_95 = 3.0
"""exp(-3) is 5 %: a current has reached 95 % after three time constants."""

DIODE_V = 0.7
"""Forward voltage of a plain diode in V (textbook value)."""
BOUNCE_LONGEST_S = 6.2e-3
"""Longest bounce of 16 of 18 switch types in a published study of debouncing; two outliers were
left out of it."""
COUPLING_F_PER_M = 100e-12
"""Capacitance in F between parallel conductors, for each metre (common practice, no source)."""


def preferred(value: float, series: tuple[float, ...] = E12) -> float:
    """Return the preferred number next to `value` on a logarithmic scale; `value` above 0."""
    decade = math.floor(math.log10(value))
    candidates = [n * 10.0 ** (decade + step) for step in (0, 1) for n in series]
    return min(candidates, key=lambda n: abs(math.log(n / value)))


def preferred_below(value: float, series: tuple[float, ...] = E6) -> float:
    """Return the greatest preferred number not above `value`; `value` above 0."""
    decade = math.floor(math.log10(value) + 1e-9)
    candidates = [n * 10.0 ** (decade + step) for step in (-1, 0) for n in series]
    return max(n for n in candidates if n <= value * (1 + 1e-9))


def clamp_voltage(nominal_v: float) -> float:
    """Clamp voltage in V for a coil: the E12 number next to twice its nominal voltage."""
    return preferred(2.0 * nominal_v)


def coil_time_constant(watts: float) -> float:
    """Time constant L / R in s of a coil by the DC-13 rule of IEC 60947-5-1 (from memory)."""
    return min(DC13_MS_PER_WATT * watts, DC13_MOST_MS) * 1e-3 / NATURAL_LOGS_TO_95


def coil_energy(inductance_h: float, ampere: float) -> float:
    """Energy 1/2 L I^2 in J that a coil gives back when it is switched off (textbook)."""
    return 0.5 * inductance_h * ampere**2


def decay_time(nominal_v: float, clamp_v: float, drop_out: float, time_constant: float) -> float:
    """Time in s until a coil's current has fallen to its drop-out share, against a clamp.

    From L di/dt + R i = -V of the clamp, with i from nominal: t = T ln((U + V) / (d U + V)).

    Args:
        nominal_v: nominal voltage U in V.
        clamp_v: voltage V in V across the suppression, 0.7 for a plain diode.
        drop_out: drop-out share d of nominal, above 0, below 1.
        time_constant: T = L / R in s.
    """
    return time_constant * math.log((nominal_v + clamp_v) / (drop_out * nominal_v + clamp_v))


def spark_capacitance(ampere: float) -> float:
    """Capacitance in F of a spark-quenching RC element: I^2 / 10 in uF, with I in A.

    The rule of a relay handbook of the 1960s (from memory).
    """
    return ampere**2 / 10.0 * 1e-6


def spark_resistance(volts: float, ampere: float) -> float:
    """Resistance in ohm beside it: U / (10 I^(1 + 50 / U)); from the same rule, for 50 V and up."""
    return float(volts / (10.0 * ampere ** (1.0 + 50.0 / volts)))


def capacitor_current(volts: float, hertz: float, farads: float) -> float:
    """Current in A through a capacitor: U 2 pi f C (textbook)."""
    return volts * 2.0 * math.pi * hertz * farads


def corner_frequency(ohm: float, farads: float) -> float:
    """Corner frequency in Hz of an RC low pass: 1 / (2 pi R C) (textbook)."""
    return 1.0 / (2.0 * math.pi * ohm * farads)


def passed_share(hertz: float, corner_hz: float) -> float:
    """Share of a sine's amplitude that an RC low pass lets through: 1 / sqrt(1 + (f / fc)^2)."""
    return 1.0 / math.hypot(1.0, hertz / corner_hz)


def threshold_delay(ohm: float, farads: float, supply_v: float, threshold_v: float) -> float:
    """Time in s in which an RC low pass falls from the supply to the threshold (textbook)."""
    return ohm * farads * math.log(supply_v / threshold_v)


def resistance_for_share(share: float, hertz: float, farads: float) -> float:
    """Resistance in ohm with which an RC low pass lets only `share` of a sine through."""
    return math.sqrt(1.0 / share**2 - 1.0) / (2.0 * math.pi * hertz * farads)
