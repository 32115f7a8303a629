"""Published values of voltage drop, cables, breakers and starting currents.

Where a source says 'from memory', the value was recalled and not read again; 'derived' is
arithmetic on the source's formula.
"""

from leafwinch_sim.sizing import supply_rules as supply
from leafwinch_sim.sizing.supply_rules import Breaker
from tests.external.sizing_rows import Row, of, reading, refused

ANNEX_G = "IEC 60364-5-52 annex G, derived"
PVC = "IEC 60364-5-52 table B.52.2, two loaded copper conductors, PVC, from memory"
CIRCUIT_BREAKERS = "IEC 60898-1"


def milli_drop(area_mm2: float) -> float:
    """Drop in mV by ampere and metre at a power factor of 1."""
    return 1000 * supply.voltage_drop_v(1, 1, area_mm2, 1.0)


def dc_drop(current_a: float, length_m: float, area_mm2: float) -> float:
    return supply.voltage_drop_v(current_a, length_m, area_mm2, dc=True)


def area_with(share: float, area_mm2: float) -> float:
    """Area chosen for a drop that uses this share of 5 % with an area, by annex G."""
    amperes = share * 0.05 * 230 * area_mm2 / (2 * 0.0225)
    return supply.smallest_area_for_drop_mm2(amperes, 1.0, 230.0, 1.0, limit=0.05)


def factor(ambient_c: float, method: str = "C", base_a: float = 19.5) -> float:
    return supply.cable_capacity_a(method, 1.5, ambient_c) / base_a


def band(type_: str, edge: int) -> float:
    return Breaker(type_, 10).magnetic_band_a()[edge]


def smallest_rating(run_a: float) -> float:
    return supply.smallest_breaker(run_a, 0.0).rating_a


def locked(letter: str, edge: int) -> float:
    """kVA of one horsepower of 745.7 W at 1000 V, which is the current in A."""
    return supply.locked_rotor_a(745.7, 1000.0, letter)[edge]


def full_load_230(power_hp: float) -> float:
    return supply.full_load_current_a(power_hp, 230.0)


DROP_ROWS: list[Row] = [
    *of(
        ANNEX_G + ", V",
        5.1e-4,
        supply.voltage_drop_v,
        ((5, 25, 1.5, 0.8), 3.012),
        ((5, 25, 2.5, 0.8), 1.812),
        ((5, 25, 1.5), 3.012),
        ((16, 30, 2.5, 1.0), 8.64),
        ((20, 25, 2.5, 0.6), 5.464),
    ),
    *of(
        ANNEX_G + ", share of 230 V in %",
        5.1e-3,
        lambda amperes, metres, area, cos_phi: (
            supply.voltage_drop_v(amperes, metres, area, cos_phi) / 2.3
        ),
        ((5, 25, 1.5, 0.8), 1.31),
        ((5, 25, 2.5, 0.8), 0.79),
        ((16, 30, 2.5, 1.0), 3.76),
        ((20, 25, 2.5, 0.6), 2.38),
    ),
    *of(ANNEX_G + ": direct current", 1e-9, dc_drop, ((60, 10, 10), 2.70)),
    *of(
        "BS 7671, mV/A/m of two-core cable at 70 C, rounded there",
        0.26,
        milli_drop,
        ((4.0,), 11),
        ((6.0,), 7.3),
        ((10.0,), 4.4),
    ),
    *of("BS 7671, the same", 1.01, milli_drop, ((1.0,), 44), ((1.5,), 29), ((2.5,), 18)),
    *of(ANNEX_G + ": ohms there and back", 1e-9, supply.cable_ohm, ((10, 1.5), 0.3)),
    *of(
        "IEC 60228, nominal areas, each the smallest that is enough by annex G",
        0,
        area_with,
        ((0.99, 1.5), 1.5),
        ((0.99, 2.5), 2.5),
        ((0.99, 4.0), 4.0),
        ((0.99, 6.0), 6.0),
        ((0.99, 10.0), 10.0),
        ((0.99, 16.0), 16.0),
        ((0.99, 25.0), 25.0),
        ((1.01, 1.5), 2.5),
    ),
    *of("IEC 60364-5-52 table G.52.1", 1e-9, reading(supply, "DROP_LIMIT"), ((), 0.05)),
]

CABLE_ROWS: list[Row] = [
    *of(
        PVC,
        1e-9,
        supply.cable_capacity_a,
        (("A1", 1.5), 14.5),
        (("A1", 2.5), 19.5),
        (("A2", 1.5), 14.0),
        (("A2", 2.5), 18.5),
        (("B1", 1.5), 17.5),
        (("B1", 2.5), 24.0),
        (("B2", 1.5), 16.5),
        (("B2", 2.5), 23.0),
        (("C", 1.5), 19.5),
        (("C", 2.5), 27.0),
        (("D1", 1.5, 20), 22.0),
        (("D1", 2.5, 20), 29.0),
        (("D2", 1.5, 20), 22.0),
        (("D2", 2.5, 20), 28.0),
    ),
    *of(
        PVC + ", larger areas",
        1e-9,
        supply.cable_capacity_a,
        (("B2", 4), 30),
        (("B2", 6), 38),
        (("B2", 10), 52),
        (("B2", 16), 69),
        (("B2", 25), 90),
        (("C", 4), 36),
        (("C", 6), 46),
        (("C", 10), 63),
        (("C", 16), 85),
        (("C", 25), 112),
    ),
    *of(
        "IEC 60364-5-52 table B.52.14, PVC in air: 0.94 and 0.87; 0.79 and 0.71 from memory",
        1e-9,
        factor,
        ((20,), 1.00),
        ((30,), 1.00),
        ((30.5,), 0.94),
        ((35,), 0.94),
        ((35.5,), 0.87),
        ((40,), 0.87),
        ((40.5,), 0.79),
        ((45,), 0.79),
        ((45.5,), 0.71),
        ((50,), 0.71),
    ),
    *of(
        "IEC 60364-5-52 table B.52.15, PVC in the ground, from memory",
        1e-9,
        lambda ground_c: factor(ground_c, "D1", 22.0),
        ((20,), 1.00),
        ((20.3,), 0.95),
        ((25,), 0.95),
        ((25.3,), 0.89),
        ((30,), 0.89),
        ((30.5,), 0.84),
        ((35,), 0.84),
        ((35.5,), 0.77),
        ((40,), 0.77),
    ),
    *of(
        "the same tables, nothing chosen beyond their last line",
        0,
        refused,
        ((supply.cable_capacity_a, "C", 1.5, 50.5), True),
        ((supply.cable_capacity_a, "D1", 1.5, 40.5), True),
    ),
    *of(
        "IEC 60364-4-43, In <= Iz, with the same table",
        0,
        supply.smallest_area_mm2,
        ((16, "B2"), 1.5),
        ((20, "B2"), 2.5),
        ((20, "C", 40), 2.5),
        ((25, "C", 40), 4.0),
    ),
]

BREAKER_ROWS: list[Row] = [
    *of(
        CIRCUIT_BREAKERS + ", preferred rated currents",
        0,
        smallest_rating,
        *(((amperes,), amperes) for amperes in (2, 4, 6, 10, 13, 16, 20, 25, 32, 40, 50, 63)),
    ),
    *of(
        CIRCUIT_BREAKERS + ", magnetic trip: B 3 to 5, C 5 to 10, D 10 to 20 times the rating",
        1e-9,
        band,
        (("B", 0), 30),
        (("B", 1), 50),
        (("C", 0), 50),
        (("C", 1), 100),
        (("D", 0), 100),
        (("D", 1), 200),
    ),
    *of(
        CIRCUIT_BREAKERS + ", no trip within an hour at 1.13, a trip at 1.45 times the rating",
        1e-9,
        lambda name: getattr(Breaker("B", 16), name),
        (("thermal_never_a",), 18.08),
        (("thermal_sure_a",), 23.20),
    ),
    *of(
        CIRCUIT_BREAKERS + ", from the lower edge on",
        0,
        lambda type_, peak_a: Breaker(type_, 16).may_trip_at_start(peak_a),
        (("B", 47.9), False),
        (("B", 48.0), True),
        (("C", 48.0), False),
        (("C", 80.0), True),
    ),
]

MOTOR_ROWS: list[Row] = [
    *of(
        "NEMA MG 1, kVA per horsepower with the rotor locked",
        1e-9,
        locked,
        *(
            case
            for letter, low, high in (
                ("A", 0.0, 3.14),
                ("B", 3.15, 3.54),
                ("C", 3.55, 3.99),
                ("D", 4.0, 4.49),
                ("E", 4.5, 4.99),
                ("F", 5.0, 5.59),
                ("G", 5.6, 6.29),
                ("H", 6.3, 7.09),
                ("J", 7.1, 7.99),
                ("K", 8.0, 8.99),
                ("L", 9.0, 9.99),
                ("M", 10.0, 11.19),
            )
            for case in (((letter, 0), low), ((letter, 1), high))
        ),
    ),
    *of(
        "NEMA MG 1, derived: half a horsepower, letter K, 230 V",
        0.06,
        lambda edge: supply.locked_rotor_a(745.7 / 2, 230.0, "K")[edge],
        ((0,), 17.4),
        ((1,), 19.5),
    ),
    *of(
        "NEC table 430-148, one phase, 230 V, by horsepower",
        1e-9,
        full_load_230,
        ((1 / 6,), 2.2),
        ((1 / 6 * 1.01,), 2.9),
        ((1 / 4,), 2.9),
        ((1 / 4 * 1.01,), 3.6),
        ((1 / 3,), 3.6),
        ((1 / 3 * 1.01,), 4.9),
        ((1 / 2,), 4.9),
        ((1 / 2 * 1.01,), 6.9),
        ((3 / 4,), 6.9),
        ((3 / 4 * 1.01,), 8.0),
        ((1.0,), 8.0),
        ((1.01,), 10.0),
        ((1.5,), 10.0),
        ((1.51,), 12.0),
        ((2.0,), 12.0),
    ),
    *of("the same table ends at 2 here", 0, refused, ((full_load_230, 2.01), True)),
    *of(
        "NEC table 430-148, 115 V is double",
        1e-9,
        supply.full_load_current_a,
        ((0.5, 115.0), 9.8),
        ((2.0, 115.0), 24.0),
    ),
    *of(
        "the same table holds for 220 to 240 V and 110 to 120 V",
        0,
        refused,
        ((supply.full_load_current_a, 0.5, 109), True),
        ((supply.full_load_current_a, 0.5, 110), False),
        ((supply.full_load_current_a, 0.5, 120), False),
        ((supply.full_load_current_a, 0.5, 121), True),
        ((supply.full_load_current_a, 0.5, 219), True),
        ((supply.full_load_current_a, 0.5, 220), False),
        ((supply.full_load_current_a, 0.5, 240), False),
        ((supply.full_load_current_a, 0.5, 241), True),
    ),
    *of(
        "NEMA and NEC together, derived: locked rotor by full load of half a horsepower",
        0.01,
        lambda edge: supply.locked_rotor_a(745.7 / 2, 230, "K")[edge] / full_load_230(0.5),
        ((0,), 3.55),
        ((1,), 3.99),
    ),
]

SUPPLY_ROWS: list[Row] = [*DROP_ROWS, *CABLE_ROWS, *BREAKER_ROWS, *MOTOR_ROWS]
