"""Published values of sections, timber, duty, heating and forces, and all rows together.

Where a source says 'from memory', the value was recalled and not read again; 'derived' is
arithmetic on the source's formula.
"""

import math
from types import ModuleType

from leafwinch import requirement_limits
from leafwinch_sim.mechanism import GRAVITY
from leafwinch_sim.sizing import duty_rules as duty
from leafwinch_sim.sizing import force_rules as force
from leafwinch_sim.sizing import rope_rules as rope
from leafwinch_sim.sizing import section_mass as section
from leafwinch_sim.sizing import supply_rules as supply
from tests.external.sizing_rows import Row, of, reading, refused
from tests.external.sizing_values_rope import ROPE_ROWS
from tests.external.sizing_values_supply import SUPPLY_ROWS


def square_tube(side_mm: float, wall_mm: float) -> float:
    return section.rectangular_tube_kg_per_m(side_mm, side_mm, wall_mm)


SECTION_ROWS: list[Row] = [
    *of(
        "EN 10219-2, derived from its formula of the section",
        6e-4,
        square_tube,
        ((20, 1.5), 0.826),
        ((20, 2), 1.050),
        ((25, 2), 1.364),
        ((30, 2), 1.678),
        ((40, 2), 2.306),
        ((40, 3), 3.303),
        ((60, 4), 6.710),
    ),
    *of(
        "EN 10219-2, table of square hollow sections as printed",
        5.1e-3,
        square_tube,
        ((20, 2), 1.05),
        ((25, 2), 1.36),
        ((30, 2), 1.68),
        ((40, 2), 2.31),
        ((40, 3), 3.30),
        ((60, 4), 6.71),
    ),
    *of(
        "EN 10219-2, table of rectangular hollow sections, from memory",
        5.1e-3,
        section.rectangular_tube_kg_per_m,
        ((60, 40, 3), 4.25),
    ),
    *of(
        "EN 10219-2, the radii of 2 T and T hold up to walls of 6 mm",
        0,
        refused,
        ((square_tube, 100, 6), False),
        ((square_tube, 100, 6.1), True),
    ),
    *of(
        "mechanical engineers' handbooks, seasoned timber, kg/m3",
        1e-9,
        reading(section, "TIMBER_KG_PER_M3"),
        (("western-red-cedar",), 380),
        (("larch",), (500 + 560) / 2),
        (("douglas-fir",), 530),
        (("scots-pine",), 510),
        (("european-redwood",), 510),
        (("spruce",), (480 + 780) / 2),
        (("canadian-spruce",), 450),
        (("iroko",), 660),
        (("oak",), (600 + 900) / 2),
        (("brown-oak",), 740),
        (("keruing",), 740),
        (("dark-red-meranti",), 710),
        (("sapele",), 640),
        (("greenheart",), 1040),
    ),
    *of(
        "USDA report FPL-GTR-113: 10 % within a species; the handbooks' ranges where wider",
        1e-9,
        section.density_spread,
        (("iroko",), 0.10),
        (("larch",), 0.10),
        (("oak",), 900 / 750 - 1),
        (("spruce",), 780 / 630 - 1),
    ),
    *of(
        "USDA report FPL-GTR-113, derived from its formula, 31.9 lb/ft3",
        0.1,
        section.timber_density,
        ((0.48, 12), 511.1),
        ((0.48, 0), 480.0),
    ),
    *of(
        "USDA report FPL-GTR-113, the same formula solved for the gravity",
        1e-4,
        section.oven_dry_gravity,
        ((511.1, 12), 0.48),
        ((480.0, 0), 0.48),
    ),
    *of(
        "USDA report FPL-GTR-113, derived: from about 12 %, as handbooks have it, to 30 %, and a "
        "tenth more",
        0.1,
        section.heaviest_density,
        (("larch",), 628.5),
    ),
    *of(
        "USDA Wood Handbook: fibre saturation at about 30 %",
        0,
        refused,
        ((section.timber_density, 0.48, 30), False),
        ((section.timber_density, 0.48, 30.5), True),
    ),
    *of("mass is density times volume", 1e-9, section.boards_kg, ((500, 0.02, 3.0), 30.0)),
]

RPM = 2 * math.pi / 60


def load_and_side(
    mass: float, speed: float, rpm: float, efficiency: float, side_nm: float
) -> float:
    """Torque of a lift with another torque that is already reduced to the motor."""
    # The textbooks give the speeds of load and motor instead of drum and gear.
    radius = speed / (rpm * RPM)
    return float(duty.lifting_torque_nm(mass * GRAVITY, radius, 1.0, efficiency)) + side_nm


def hoist_w(mass: float, speed: float, efficiency: float) -> float:
    """Motor power of a lift, as torque times a speed of 1 rad/s."""
    return float(duty.lifting_torque_nm(mass * GRAVITY, speed, 1.0, efficiency))


def power(rated: float, on: float, off: float, tau_on: float, tau_off: float) -> float:
    """Power in endless cycles that heats as much as the rated one for ever: losses as P^2."""
    return rated / math.sqrt(duty.cyclic_rise(1, on, off, tau_on, tau_off))


def preferred(share: float) -> float:
    return duty.preferred_share(share) or math.inf


DUTY_ROWS: list[Row] = [
    *of(
        "Theraja, A Textbook of Electrical Technology III, ch. 45: cold at each start",
        0.01,
        power,
        ((40, 30, math.inf, 90, 90), 75.13),
        ((15, 1, math.inf, 2, 2), 23.91),
    ),
    *of(
        "Dubey, Fundamentals of Electrical Drives, ex. 4.1: 10 s on, 20 s off, tau 60 s, a rise of "
        "104.4 if loaded for ever and of 15 if not",
        0.1,
        lambda: 15 + duty.cyclic_rise(104.4 - 15, 10, 20, 60, 60),
        ((), 49.9),
    ),
    *of("Dubey, ex. 4.4(i)", 0.05, power, ((20, 10, math.inf, 60, 60), 51.04)),
    *of("Dubey, ex. 4.4(ii)", 0.01, power, ((20, 10, 10, 60, 90), 25.14)),
    *of(
        "Theraja III, ch. 45: load cycle, a third of the idle time counts (book 66 kW)",
        0.5,
        duty.rms_current,
        (([(100, 10), (75, 10), (50, 20), (0, 20 / 3)],), 66.48),
    ),
    *of("Gupta and Singhal, ch. 4", 0.01, duty.cyclic_rise, ((55, 15, 25, 100, 140), 27.36)),
    *of(
        "IEC 60034-1, S3 25 %: 2.5 min of 10 min, from memory",
        1e-9,
        lambda: duty.duty_share(150, duty.S3_CYCLE_S),
        ((), 0.25),
    ),
    *of(
        "derived: a quarter of the time at 10 A heats like 5 A",
        1e-9,
        duty.rms_current,
        (([(10, 150), (0, 450)],), 5.0),
    ),
    *of(
        "IEC 60034-1, preferred cyclic duration factors, from memory",
        1e-9,
        preferred,
        ((0.15,), 0.15),
        ((0.151,), 0.25),
        ((0.25,), 0.25),
        ((0.251,), 0.40),
        ((0.40,), 0.40),
        ((0.401,), 0.60),
        ((0.60,), 0.60),
    ),
    *(
        row
        for group, share, starts in (
            ("M1", 0.15, 90),
            ("M2", 0.20, 120),
            ("M3", 0.25, 150),
            ("M4", 0.30, 180),
            ("M5", 0.40, 240),
        )
        for row in of(
            "FEM 9.683, hoist groups, from memory",
            1e-9,
            reading(duty, "HOIST_GROUPS"),
            ((group, "share"), share),
            ((group, "starts_per_h"), starts),
        )
    ),
    *of(
        "Gupta and Singhal, ch. 3: winch, 400 kg at 1 m/s, 1000 rpm, 80 N m without load",
        0.02,
        load_and_side,
        ((400, 1, 1000, 1.0, 80), 117.47),
    ),
    *of(
        "Dubey, ex. 2.1: 1000 kg at 1.5 m/s, 1420 rpm",
        0.1,
        load_and_side,
        ((1000, 1.5, 1420, 0.85, 10 * 0.1 / 0.9), 117.53),
    ),
    *of(
        "J. B. Gupta, ex. 4: 600 kg at 2 m/s, 1500 rpm",
        0.05,
        load_and_side,
        ((600, 2, 1500, 0.88, 50 * 0.1 / 0.9), 90.72),
    ),
    *of(
        "Gupta and Singhal, ch. 1: 3000 kg, 50 m in 1.5 min, efficiency 0.8",
        10,
        hoist_w,
        ((3000, 50 / 90, 0.8), 20440),
    ),
]


def verdict(peak_n: float, static_n: float) -> int:
    """The two yes or no of a verdict as two digits."""
    found = force.force_verdict(peak_n, static_n)
    return 10 * found.dynamic_ok + found.static_ok


def least_gap_mm(part: str) -> float:
    """The least gap that does not crush a part of the body, in half mm."""
    return next(half / 2 for half in range(2000) if part not in force.crushed(half / 2))


FORCE_ROWS: list[Row] = [
    *of(
        "EN 12453: 400 N for at most 0.75 s, then 150 N",
        0,
        verdict,
        ((400, 150), 11),
        ((401, 150), 1),
        ((400, 151), 10),
        ((401, 151), 0),
    ),
    *of("EN 12453: 0.75 s", 0, reading(force, "DYNAMIC_MS"), ((), 750)),
    *of(
        "EN 12453, as a trade federation's safety notice quotes it: 100 mm after the release",
        0,
        reading(requirement_limits, "R1_OVERRUN_MM"),
        ((), 100),
    ),
    *of(
        "ISO 13854, least gaps in mm, from memory",
        0,
        least_gap_mm,
        (("body",), 500),
        (("head",), 300),
        (("leg",), 180),
        (("foot",), 120),
        (("toes",), 50),
        (("arm",), 120),
        (("hand",), 100),
        (("finger",), 25),
    ),
]

ROWS: dict[ModuleType, list[Row]] = {
    section: SECTION_ROWS,
    rope: ROPE_ROWS,
    supply: SUPPLY_ROWS,
    duty: DUTY_ROWS,
    force: FORCE_ROWS,
}
