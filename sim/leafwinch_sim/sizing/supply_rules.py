"""Voltage drop, cable, breaker and starting current of a supply, by IEC and NEMA tables.

Mains voltage kills. A licensed electrician and the local wiring rules decide; these
functions only say what the tables of the standards give.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

# IEC 60364-5-52 annex G, from memory: b = 2 for one phase and back.
COPPER_OHM_MM2_PER_M = 0.0225  # copper in service, 1.25 times that at 20 C
REACTANCE_OHM_PER_M = 0.08e-3
THERE_AND_BACK = 2.0

# Largest drop as a share of the nominal voltage, IEC 60364-5-52 table G.52.1: public
# network, uses other than lighting.
DROP_LIMIT = 0.05

STANDARD_AREAS_MM2: tuple[float, ...] = (1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0)

# A by method of installation and area: two loaded copper conductors, PVC, air of 30 C,
# ground of 20 C, IEC 60364-5-52 table B.52.2, from memory.
CAPACITY_A: dict[str, dict[float, float]] = {
    "A1": {1.5: 14.5, 2.5: 19.5},
    "A2": {1.5: 14.0, 2.5: 18.5},
    "B1": {1.5: 17.5, 2.5: 24.0},
    "B2": {1.5: 16.5, 2.5: 23.0, 4.0: 30.0, 6.0: 38.0, 10.0: 52.0, 16.0: 69.0, 25.0: 90.0},
    "C": {1.5: 19.5, 2.5: 27.0, 4.0: 36.0, 6.0: 46.0, 10.0: 63.0, 16.0: 85.0, 25.0: 112.0},
    "D1": {1.5: 22.0, 2.5: 29.0},
    "D2": {1.5: 22.0, 2.5: 28.0},
}
IN_GROUND = ("D1", "D2")
# Factors for warmer surroundings up to so many C, PVC: air table B.52.14, ground B.52.15.
AIR_FACTORS: dict[float, float] = {30.0: 1.00, 35.0: 0.94, 40.0: 0.87, 45.0: 0.79, 50.0: 0.71}
GROUND_FACTORS: dict[float, float] = {20.0: 1.00, 25.0: 0.95, 30.0: 0.89, 35.0: 0.84, 40.0: 0.77}

# Rated currents of small circuit-breakers, A, and how they trip, IEC 60898-1.
STANDARD_BREAKERS_A: tuple[float, ...] = (2, 4, 6, 10, 13, 16, 20, 25, 32, 40, 50, 63)
MAGNETIC_BANDS: dict[str, tuple[float, float]] = {
    "B": (3.0, 5.0),
    "C": (5.0, 10.0),
    "D": (10.0, 20.0),
}
THERMAL_NEVER = 1.13  # times the rating: no trip within an hour
THERMAL_SURE = 1.45  # times the rating: a trip within an hour

HORSEPOWER_W = 745.7
# kVA per horsepower with the rotor locked, NEMA MG 1, as in NEC table 430-7(b).
LOCKED_ROTOR_KVA: dict[str, tuple[float, float]] = {
    "A": (0.0, 3.14),
    "B": (3.15, 3.54),
    "C": (3.55, 3.99),
    "D": (4.0, 4.49),
    "E": (4.5, 4.99),
    "F": (5.0, 5.59),
    "G": (5.6, 6.29),
    "H": (6.3, 7.09),
    "J": (7.1, 7.99),
    "K": (8.0, 8.99),
    "L": (9.0, 9.99),
    "M": (10.0, 11.19),
}
# A at 230 V by horsepower, one phase, NEC table 430-148; at 115 V twice as much.
FULL_LOAD_A: dict[float, float] = {
    1 / 6: 2.2,
    1 / 4: 2.9,
    1 / 3: 3.6,
    1 / 2: 4.9,
    3 / 4: 6.9,
    1.0: 8.0,
    1.5: 10.0,
    2.0: 12.0,
}
FULL_LOAD_V = (220.0, 240.0)  # rated voltages for which it may be used, NEC; half of it too


@dataclass(frozen=True, slots=True)
class Breaker:
    """A small circuit-breaker of IEC 60898-1.

    Attributes:
        type: B, C or D.
        rating_a: rated current In.
    """

    type: str
    rating_a: float

    def __str__(self) -> str:
        """Return it as it is printed on the front, such as B16."""
        return f"{self.type}{self.rating_a:g}"

    def magnetic_band_a(self) -> tuple[float, float]:
        """Return the currents in A below which it never and from which it always trips at once."""
        low, high = MAGNETIC_BANDS[self.type]
        return low * self.rating_a, high * self.rating_a

    def may_trip_at_start(self, peak_a: float) -> bool:
        """Return whether a starting current can trip it at once: from the lower edge on."""
        return peak_a >= self.magnetic_band_a()[0]

    @property
    def thermal_never_a(self) -> float:
        """Current in A that never trips it within an hour."""
        return THERMAL_NEVER * self.rating_a

    @property
    def thermal_sure_a(self) -> float:
        """Current in A that always trips it within an hour."""
        return THERMAL_SURE * self.rating_a


def _words(listed: Iterable[str | float]) -> str:
    return ", ".join(name if isinstance(name, str) else f"{name:g}" for name in listed)


def voltage_drop_v(
    current_a: float,
    length_m: float,
    area_mm2: float,
    cos_phi: float = 0.8,
    dc: bool = False,
) -> float:
    """Return the voltage drop in V: b (rho L / S cos phi + lambda L sin phi) I.

    IEC 60364-5-52 annex G, copper, one phase.

    Args:
        current_a: 0 or more.
        length_m: one way, 0 or more.
        area_mm2: of one conductor, above 0.
        cos_phi: 0 to 1; 0.8 where it is not known, annex G.
        dc: direct current: there and back, cos phi 1, no reactance.

    Raises:
        ValueError: area or power factor are out of range, in one clause.
    """
    if not area_mm2 > 0.0:
        raise ValueError(f"an area of {area_mm2:g} mm2, allowed is above 0")
    if not 0.0 <= cos_phi <= 1.0:
        raise ValueError(f"a power factor of {cos_phi:g}, allowed is 0 to 1")
    resistance = COPPER_OHM_MM2_PER_M * length_m / area_mm2
    if dc:
        return THERE_AND_BACK * resistance * current_a
    reactance = REACTANCE_OHM_PER_M * length_m
    sin_phi = math.sqrt(1.0 - cos_phi * cos_phi)
    return THERE_AND_BACK * (resistance * cos_phi + reactance * sin_phi) * current_a


def _areas_of(method: str) -> dict[float, float]:
    areas = CAPACITY_A.get(method)
    if areas is None:
        raise ValueError(f"a method of installation {method!r}, allowed are {_words(CAPACITY_A)}")
    return areas


def cable_capacity_a(method: str, area_mm2: float, ambient_c: float = 30.0) -> float:
    """Return what a cable may carry in A: two loaded copper conductors, PVC.

    IEC 60364-5-52 tables B.52.2, B.52.14 and B.52.15. Between two listed temperatures the
    warmer one counts; nothing is gained where it is cooler than the table's base.

    Args:
        method: A1, A2, B1, B2, C, D1 or D2.
        area_mm2: 1.5 or 2.5; with B2 and C also 4, 6, 10, 16, 25.
        ambient_c: of the air, at most 50; with D1 and D2 of the ground, at most 40.

    Raises:
        ValueError: the tables don't list it, in one clause.
    """
    areas = _areas_of(method)
    if area_mm2 not in areas:
        raise ValueError(f"{area_mm2:g} mm2 by method {method}, allowed are {_words(areas)} mm2")
    factors = GROUND_FACTORS if method in IN_GROUND else AIR_FACTORS
    for listed_c, factor in factors.items():
        if ambient_c <= listed_c:
            return areas[area_mm2] * factor
    raise ValueError(f"{ambient_c:g} C around the cable, allowed is at most {max(factors):g} C")


def smallest_area_mm2(breaker_rating_a: float, method: str, ambient_c: float = 30.0) -> float:
    """Return the smallest listed area in mm2 that may carry a breaker's rated current.

    In <= Iz, IEC 60364-4-43; the rest as `cable_capacity_a`. The voltage drop may ask for more.

    Raises:
        ValueError: no listed area is enough, or the method is not listed, in one clause.
    """
    best = 0.0
    for area in _areas_of(method):
        best = cable_capacity_a(method, area, ambient_c)
        if best >= breaker_rating_a:
            return area
    raise ValueError(
        f"{breaker_rating_a:g} A by method {method} at {ambient_c:g} C, "
        f"allowed is at most {best:g} A"
    )


def smallest_area_for_drop_mm2(
    current_a: float,
    length_m: float,
    voltage_v: float,
    cos_phi: float = 0.8,
    dc: bool = False,
    limit: float = DROP_LIMIT,
) -> float:
    """Return the smallest standard area in mm2 whose drop is within a share of the voltage.

    Raises:
        ValueError: no standard area is enough, in one clause.
    """
    for area in STANDARD_AREAS_MM2:
        if voltage_drop_v(current_a, length_m, area, cos_phi, dc=dc) <= limit * voltage_v:
            return area
    raise ValueError(
        f"{current_a:g} A over {length_m:g} m at {voltage_v:g} V, allowed is a drop of "
        f"{limit * 100:g} % with at most {STANDARD_AREAS_MM2[-1]:g} mm2"
    )


def parse_breaker(words: str) -> Breaker:
    """Return the breaker that words such as "B16" name.

    Raises:
        ValueError: type or rating are not listed, in one clause.
    """
    type_, rating = words[:1], words[1:]
    if type_ not in MAGNETIC_BANDS or not words:
        raise ValueError(f"{words!r}, allowed is B, C or D with a rating, such as 'B16'")
    for listed in STANDARD_BREAKERS_A:
        if rating == f"{listed:g}":
            return Breaker(type_, float(listed))
    raise ValueError(f"{words!r}, allowed are ratings of {_words(STANDARD_BREAKERS_A)} A")


def smallest_breaker(run_a: float, start_a: float) -> Breaker:
    """Return the smallest breaker that carries a current and can't trip at the start.

    The smallest rating first, at the same rating B before C before D.

    Args:
        run_a: current of the work, 0 or more; the rating is not below it.
        start_a: greatest starting current, below the lower magnetic edge.

    Raises:
        ValueError: no listed breaker does, in one clause.
    """
    for rating in STANDARD_BREAKERS_A:
        for type_ in MAGNETIC_BANDS:
            breaker = Breaker(type_, float(rating))
            if rating >= run_a and not breaker.may_trip_at_start(start_a):
                return breaker
    raise ValueError(
        f"{run_a:g} A with a start of {start_a:g} A, allowed is at most "
        f"{STANDARD_BREAKERS_A[-1]:g} A and a start that the band of type D lets pass"
    )


def cable_ohm(length_m: float, area_mm2: float) -> float:
    """Return the resistance in ohms of a copper cable, there and back, IEC 60364-5-52 annex G.

    Args:
        length_m: one way, 0 or more.
        area_mm2: of one conductor, above 0.
    """
    return voltage_drop_v(1.0, length_m, area_mm2, dc=True)


def locked_rotor_a(power_w: float, voltage_v: float, code_letter: str) -> tuple[float, float]:
    """Return the least and greatest current in A of a locked one-phase motor.

    kVA per horsepower of its NEMA code letter, times power, over voltage.

    Args:
        power_w: rated shaft power, above 0.
        voltage_v: rated voltage, above 0.
        code_letter: A to M without I.

    Raises:
        ValueError: letter or voltage can't be used, in one clause.
    """
    band = LOCKED_ROTOR_KVA.get(code_letter)
    if band is None:
        raise ValueError(f"a code letter {code_letter!r}, allowed are {_words(LOCKED_ROTOR_KVA)}")
    if not voltage_v > 0.0:
        raise ValueError(f"{voltage_v:g} V, allowed is above 0")
    factor = power_w / HORSEPOWER_W * 1000.0 / voltage_v
    return band[0] * factor, band[1] * factor


def full_load_current_a(power_hp: float, voltage_v: float) -> float:
    """Return the full-load current in A of a one-phase motor, NEC table 430-148.

    Between two listed powers the greater one counts. The nameplate comes first.

    Args:
        power_hp: above 0, at most 2.
        voltage_v: 220 to 240, or 110 to 120.

    Raises:
        ValueError: the table does not list it, in one clause.
    """
    low, high = FULL_LOAD_V
    half = low <= 2.0 * voltage_v <= high
    if not half and not low <= voltage_v <= high:
        raise ValueError(
            f"{voltage_v:g} V, allowed are {low:g} to {high:g} V and {low / 2:g} to {high / 2:g} V"
        )
    for listed_hp, current_a in FULL_LOAD_A.items():
        if 0.0 < power_hp <= listed_hp:
            return 2.0 * current_a if half else current_a
    raise ValueError(f"{power_hp:g} hp, allowed is above 0 up to {max(FULL_LOAD_A):g} hp")
