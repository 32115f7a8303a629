"""Published values of ropes, sheaves, purchase and drum.

Where a source says 'from memory', the value was recalled and not read again; 'derived' is
arithmetic on the source's formula.
"""

from leafwinch_sim.drum import Drum
from leafwinch_sim.sizing import rope_rules as rope
from tests.external.sizing_rows import Row, of, reading

FEYRER = "Feyrer, Wire Ropes, table 1.9 (EN 12385-4, ISO 2408)"


def breaking_kn(construction: str, diameter_mm: float, grade: float = 1770) -> float:
    return rope.breaking_force_n(construction, diameter_mm / 1000, grade) / 1000


def unit_factor(construction: str) -> float:
    """K, as the force of a rope of 1 mm and a grade of 1 N/mm2."""
    return rope.breaking_force_n(construction, 0.001, 1.0)


def kg_per_100_m(construction: str, diameter_mm: float) -> float:
    return rope.rope_kg_per_m(construction, diameter_mm / 1000) * 100


def anchor(wraps: float) -> float:
    return rope.anchor_share_after_wraps(wraps, rope.ANCHOR_FRICTION)


def share(parts: int, factor: float, extra: int = 0) -> float:
    return float(rope.lead_line_share(parts, factor, extra))


def lead_line(parts: int, bearing: str, extra: int = 0) -> float:
    return share(parts, rope.SHEAVE_FACTORS[bearing], extra)


def advantage(parts: int, efficiency: float) -> float:
    """Load over lead line of a block; a sheave of efficiency E has the factor 1 / E."""
    return 1.0 / share(parts, 1.0 / efficiency)


def drum_turns(travel_m: float, parts: int, pitch_diameter_m: float) -> float:
    """Turns of one layer that take in a travel, and the dead wraps."""
    drum = Drum(0.5 * pitch_diameter_m - 0.002, 0.004, 1000.0)
    return drum.turns_for(travel_m * parts) + rope.DEAD_WRAPS


def discard(construction: str, column: int) -> int:
    found = rope.discard_wires(construction)
    assert found is not None
    return found[column]


FORCE_ROWS: list[Row] = [
    *of(
        FEYRER + ", K",
        1e-6,
        unit_factor,
        (("6x7 FC",), 0.332),
        (("6x7 IWRC",), 0.359),
        (("6x7 WSC",), 0.388),
        (("6x19 FC",), 0.330),
        (("6x19 IWRC",), 0.356),
        (("6x36 FC",), 0.330),
        (("6x36 IWRC",), 0.356),
        (("8x19 FC",), 0.293),
        (("8x19 IWRC",), 0.356),
        (("8x36 FC",), 0.293),
        (("8x36 IWRC",), 0.356),
        (("6x19M FC",), 0.307),
        (("6x19M IWRC",), 0.332),
        (("7x19",), 0.362),
        (("6x37M FC",), 0.295),
        (("6x37M IWRC",), 0.319),
        (("6x37M WSC",), 0.346),
        (("18x7 FC",), 0.328),
    ),
    *of(
        FEYRER + ", derived, kN at 1770 N/mm2",
        5.1e-3,
        breaking_kn,
        (("6x19 FC", 3), 5.26),
        (("6x19 FC", 4), 9.35),
        (("6x36 FC", 5), 14.60),
        (("6x36 FC", 6), 21.03),
        (("6x19 IWRC", 3), 5.67),
        (("6x19 IWRC", 4), 10.08),
        (("6x36 IWRC", 6), 22.68),
        (("7x19", 3), 5.77),
        (("7x19", 4), 10.25),
        (("7x19", 5), 16.02),
        (("7x19", 6), 23.07),
        (("6x19M FC", 4), 8.69),
        (("6x19M FC", 6), 19.56),
    ),
    *of(
        "rope table of EN 12385-4, 6x7 with fibre core, as printed, kN",
        0.051,
        breaking_kn,
        (("6x7 FC", 6, 1770), 21.2),
        (("6x7 FC", 6, 1960), 23.4),
        (("6x7 FC", 10, 1770), 58.8),
        (("6x7 FC", 10, 1960), 65.1),
    ),
    *of("the same table, kg per 100 m", 0.051, kg_per_100_m, (("6x7 FC", 6), 12.4)),
    *of(
        FEYRER + ", W",
        1e-6,
        kg_per_100_m,
        (("6x7 FC", 1), 0.345),
        (("6x7 IWRC", 1), 0.384),
        (("6x19 FC", 1), 0.359),
        (("6x19 IWRC", 1), 0.400),
        (("6x36 FC", 1), 0.367),
        (("6x36 IWRC", 1), 0.409),
        (("8x19 FC", 1), 0.340),
        (("8x19 IWRC", 1), 0.407),
        (("8x36 FC", 1), 0.348),
        (("8x36 IWRC", 1), 0.417),
        (("7x19", 1), 0.381),
        (("18x7 FC", 1), 0.382),
    ),
    *of(FEYRER + ", W, 0.344 to 0.346", 1.01e-3, kg_per_100_m, (("6x19M FC", 1), 0.345)),
    *of(
        "Machinery Directive annex I, 4.1.2.4: 5 for ropes, from memory; kN of a 7x19 of 4 mm",
        5.1e-3,
        lambda: breaking_kn("7x19", 4) / rope.WORKING_COEFFICIENT,
        ((), 2.05),
    ),
    *of(
        "handbook table of safe loads, 6x19 of 3/8 in: 54.3 kN for 10.9 kN, a fifth",
        0.02,
        rope.design_factor,
        ((54.3, 1.0, 10.9), 5.0),
    ),
    *of("derived: ends of 80 %", 1e-9, rope.design_factor, ((10e3, 0.8, 2e3), 4.0)),
]

GROUP_ROWS: list[Row] = [
    *(
        row
        for group, running in (
            ("M1", 3.15),
            ("M2", 3.35),
            ("M3", 3.55),
            ("M4", 4.00),
            ("M5", 4.50),
        )
        for row in of(
            "ISO 4308-1, Zp of running ropes",
            1e-9,
            reading(rope, "GROUPS"),
            ((group, "running"), running),
        )
    ),
    *(
        row
        for group, drum, sheave in (
            ("M1", 11.2, 12.5),
            ("M2", 12.5, 14),
            ("M3", 14, 16),
            ("M4", 16, 18),
            ("M5", 18, 20),
        )
        for row in of(
            "ISO 4308-1, h1 and h2, from memory",
            1e-9,
            reading(rope, "GROUPS"),
            ((group, "drum_ratio"), drum),
            ((group, "sheave_ratio"), sheave),
        )
    ),
    *of("derived: M1, 4 mm", 1e-9, rope.least_pitch_diameter_m, ((11.2, 0.004), 0.0448)),
    *of("derived: D/d", 1e-9, rope.bend_ratio, ((0.064, 0.004), 16.0)),
]

REEVING_ROWS: list[Row] = [
    *of(
        "hoist handbooks: Z = H i / (pi D) + 2",
        1e-3,
        drum_turns,
        ((2.5, 2, 0.10), 17.915),
    ),
    *of(
        "OSHA 1910.179(h)(2)(iii), two wraps, from memory",
        1e-9,
        reading(rope, "DEAD_WRAPS"),
        ((), 2),
    ),
    *of(
        "Wire Rope Users Manual: four parts on plain bearings, then two lead sheaves more",
        5.1e-4,
        lead_line,
        ((4, "plain"), 0.309),
        ((4, "plain", 2), 0.367),
    ),
    *of(
        "Wire Rope Users Manual, derived: two parts",
        5.1e-5,
        lead_line,
        ((2, "plain"), 0.5685),
        ((2, "rolling"), 0.5302),
    ),
    *of(
        "Wire Rope Users Manual: a static pull of W / N",
        1e-9,
        share,
        ((4, 1.0), 0.25),
        ((2, 1.0), 0.5),
    ),
    *of(
        "Wire Rope Users Manual, derived: without a lead sheave, and while the load comes down",
        1e-6,
        share,
        ((2, 1.04, -1), 1.04 / 2.04),
        ((2, 1 / 1.04, 0), 1 / (1.04 * 2.04)),
    ),
    *of(
        "wire-rope handbooks, table of block ratios: bronze bushes, K 1.045",
        5.1e-3,
        advantage,
        ((1, 1 / 1.045), 0.96),
        ((2, 1 / 1.045), 1.87),
        ((3, 1 / 1.045), 2.75),
        ((4, 1 / 1.045), 3.59),
    ),
    *of(
        "the same table: roller bearings, K 1.02",
        5.1e-3,
        advantage,
        ((1, 1 / 1.02), 0.98),
        ((2, 1 / 1.02), 1.94),
        ((3, 1 / 1.02), 2.88),
        ((4, 1 / 1.02), 3.81),
    ),
    *of(
        "rigging handbook: efficiency 0.917, four parts, 3250 lb by 1000 lb (exactly 3.236)",
        0.015,
        advantage,
        ((4, 0.917), 3.25),
    ),
    *of("derived: no friction", 1e-9, advantage, ((4, 1.0), 4.0)),
    *of(
        "wire-rope handbooks, force on a sheave by the angle between the two parts",
        5.1e-3,
        rope.sheave_reaction_factor,
        ((0,), 2.00),
        ((60,), 1.73),
        ((90,), 1.41),
        ((120,), 1.00),
        ((150,), 0.52),
        ((180,), 0.0),
    ),
    *of(
        "EN 14492-1, 2.5 times the static force with friction 0.1, from memory; belt friction",
        6e-4,
        anchor,
        ((0,), 2.5),
        ((1,), 2.5 / 1.874),
        ((2,), 0.711),
        ((3,), 2.5 / 6.586),
    ),
    *of(
        "wire-rope handbooks: 1.5 degrees are 1 in 38, 2 degrees 1 in 29, from memory",
        0.03,
        rope.fleet_angle_deg,
        ((1, 38), 1.5),
        ((-1, 29), 2.0),
    ),
    *of(
        "Khurmi and Gupta, Theory of Machines, ex. 10.2: 40 % is below 50 %",
        0,
        rope.self_sustaining,
        ((0.40,), True),
        ((0.495,), True),
        ((0.505,), False),
    ),
]

DISCARD_ROWS: list[Row] = [
    *of(
        "ISO 4309, visible broken wires over 6 and 30 rope diameters, by wires in the outer "
        "strands: up to 50, 75, 120, 220, 240 and 300 of them; 19 wires of unknown lay as Seale, "
        "two lines up",
        0,
        discard,
        *(
            case
            for construction, six, thirty in (
                ("6x7 FC", 2, 4),
                ("6x19 IWRC", 3, 6),
                ("6x19M FC", 5, 10),
                ("7x19", 5, 10),
                ("8x19 FC", 5, 10),
                ("6x36 IWRC", 9, 18),
                ("6x37M WSC", 10, 19),
                ("8x36 IWRC", 12, 24),
            )
            for case in (((construction, 0), six), ((construction, 1), thirty))
        ),
    ),
    *of(
        "ISO 4309: counted over lengths of 6 and 30 rope diameters",
        0,
        reading(rope, "DISCARD_LENGTHS"),
        ((0,), 6),
        ((1,), 30),
    ),
]

ROPE_ROWS: list[Row] = [*FORCE_ROWS, *GROUP_ROWS, *REEVING_ROWS, *DISCARD_ROWS]
