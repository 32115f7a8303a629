"""Published values of ISO 13849-1 for the reliability estimate, as rows.

Where a source says 'from memory', the value was recalled and not read again; 'derived' is
arithmetic on the source's formula; the others were read in a public text.
"""

from collections.abc import Callable
from types import ModuleType
from typing import Any

from leafwinch_wiring.reliability import formulas, parts_data, table_k1
from tests.external.sizing_rows import Row, of, reading, refused

K1_COLUMNS = (("1", "none"), ("2", "low"), ("2", "medium"), ("3", "low"), ("3", "medium"))
COVERAGE_OF_BAND = {"none": 0.0, "low": 0.60, "medium": 0.90, "high": 0.99}

# Table K.1, from memory: high for the first column and the rows of 30 and 100 years. The first
# column, the smoothness and two-channel arithmetic are checked apart from it.
K1 = """
3    3.80E-5 2.58E-5 1.99E-5 1.26E-5 6.09E-6
3.3  3.46E-5 2.33E-5 1.79E-5 1.13E-5 5.41E-6
3.6  3.17E-5 2.13E-5 1.62E-5 1.03E-5 4.86E-6
3.9  2.93E-5 1.95E-5 1.48E-5 9.37E-6 4.40E-6
4.3  2.65E-5 1.76E-5 1.33E-5 8.39E-6 3.89E-6
4.7  2.43E-5 1.60E-5 1.20E-5 7.58E-6 3.48E-6
5.1  2.24E-5 1.47E-5 1.10E-5 6.91E-6 3.15E-6
5.6  2.04E-5 1.33E-5 9.87E-6 6.21E-6 2.80E-6
6.2  1.84E-5 1.19E-5 8.80E-6 5.53E-6 2.47E-6
6.8  1.68E-5 1.08E-5 7.93E-6 4.98E-6 2.20E-6
7.5  1.52E-5 9.75E-6 7.10E-6 4.45E-6 1.95E-6
8.2  1.39E-5 8.87E-6 6.43E-6 4.02E-6 1.74E-6
9.1  1.25E-5 7.94E-6 5.71E-6 3.57E-6 1.53E-6
10   1.14E-5 7.18E-6 5.14E-6 3.21E-6 1.36E-6
11   1.04E-5 6.44E-6 4.53E-6 2.81E-6 1.18E-6
12   9.51E-6 5.84E-6 4.04E-6 2.49E-6 1.04E-6
13   8.78E-6 5.33E-6 3.64E-6 2.23E-6 9.21E-7
15   7.61E-6 4.53E-6 3.01E-6 1.82E-6 7.44E-7
16   7.13E-6 4.21E-6 2.77E-6 1.67E-6 6.76E-7
18   6.34E-6 3.68E-6 2.37E-6 1.41E-6 5.67E-7
20   5.71E-6 3.26E-6 2.06E-6 1.22E-6 4.85E-7
22   5.19E-6 2.93E-6 1.82E-6 1.07E-6 4.21E-7
24   4.76E-6 2.65E-6 1.62E-6 9.47E-7 3.70E-7
27   4.23E-6 2.32E-6 1.39E-6 8.04E-7 3.10E-7
30   3.80E-6 2.06E-6 1.21E-6 6.94E-7 2.65E-7 9.54E-8
33   3.46E-6 1.85E-6 1.06E-6 5.94E-7 2.30E-7 8.57E-8
36   3.17E-6 1.67E-6 9.39E-7 5.16E-7 2.01E-7 7.77E-8
39   2.93E-6 1.53E-6 8.40E-7 4.53E-7 1.78E-7 7.11E-8
43   2.65E-6 1.37E-6 7.34E-7 3.87E-7 1.54E-7 6.37E-8
47   2.43E-6 1.24E-6 6.49E-7 3.35E-7 1.34E-7 5.76E-8
51   2.24E-6 1.13E-6 5.80E-7 2.93E-7 1.19E-7 5.26E-8
56   2.04E-6 1.02E-6 5.10E-7 2.52E-7 1.03E-7 4.73E-8
62   1.84E-6 9.06E-7 4.43E-7 2.13E-7 8.84E-8 4.22E-8
68   1.68E-6 8.17E-7 3.90E-7 1.84E-7 7.68E-8 3.80E-8
75   1.52E-6 7.31E-7 3.40E-7 1.57E-7 6.62E-8 3.41E-8
82   1.39E-6 6.61E-7 3.01E-7 1.35E-7 5.79E-8 3.08E-8
91   1.25E-6 5.88E-7 2.61E-7 1.14E-7 4.94E-8 2.74E-8
100  1.14E-6 5.28E-7 2.29E-7 1.01E-7 4.29E-8 2.47E-8
"""

MEMORY = "ISO 13849-1, from memory"


def band_is(function: Callable[[float], str], value: float, name: str) -> float:
    """Return 1 where a value lies in the named band."""
    return float(function(value) == name)


Case = tuple[tuple[Any, ...], float]


def edges(function: Callable[[float], str], *bands: tuple[float, str]) -> list[Case]:
    """Each edge belongs to its band, and a hundredth below it lies in the one before."""
    cases: list[Case] = []
    for index, (edge, name) in enumerate(bands):
        cases.append(((function, edge, name), 1.0))
        if edge:
            before = bands[index - 1][1] if index else "-"
            cases.append(((function, 0.99 * edge, before), 1.0))
    return cases


FORMULA_ROWS: list[Row] = [
    *of(
        "ISO 13849-1 C.4.3, the standard's example; inputs from memory, digits derived",
        1e2,
        formulas.operations_per_year,
        ((220, 16, 5), 2.5344e6),
    ),
    *of(
        "the same example: MTTFD, printed 237 a",
        0.05,
        formulas.mttfd_from_b10d,
        ((60e6, 2.5344e6), 236.74),
    ),
    *of("the same example: T10D, printed 23.7 a", 0.005, formulas.t10d, ((60e6, 2.5344e6), 23.674)),
    *of(
        "a maker's application of ISO 13849-1: emergency stop, B10 1e5, 20 % dangerous, 365/a",
        5.0,
        lambda b10, share, per_year: formulas.mttfd_from_b10d(
            formulas.b10d_from_b10(b10, share), per_year
        ),
        ((1e5, 0.2, 365.0), 13_698.63),
    ),
    *of(
        "the same: contactor, B10 1e6, 73 % dangerous, hourly (the page's words say daily)",
        0.05,
        lambda b10, share, per_year: formulas.mttfd_from_b10d(
            formulas.b10d_from_b10(b10, share), per_year
        ),
        ((1e6, 0.73, 8760.0), 1563.77),
    ),
    *of(
        "a maker's questions and answers: pressure switch once a minute, 8 h, 220 days",
        0.5,
        formulas.operations_per_year,
        ((220, 8, 60), 105_600),
    ),
    *of(
        "the same, printed 9.47 a",
        0.005,
        formulas.mttfd_from_b10d,
        ((1e5, 105_600), 9.47),
    ),
    *of(
        "a maker's relay: B10D 250000 at 5280 operations a year is 241.1 FIT",
        1e-10,
        lambda b10d, per_year: formulas.rate_per_hour(formulas.mttfd_from_b10d(b10d, per_year)),
        ((250_000, 5280), 2.411e-7),
    ),
    *of(
        "EN 62061: 7.3e-8 per hour of a contactor operated hourly, B10 1e6, 73 % dangerous",
        1e-11,
        lambda b10, share, per_year: formulas.rate_per_hour(
            formulas.mttfd_from_b10d(formulas.b10d_from_b10(b10, share), per_year)
        ),
        ((1e6, 0.73, 8760.0), 7.3e-8),
    ),
    *of(
        "typical values at four operations a day, derived",
        0.5,
        formulas.mttfd_from_b10d,
        ((1.3e6, 4 * 365), 8904),
        ((20e6, 4 * 365), 136_986),
        ((1e5, 4 * 365), 684.9),
        ((1e5, 52), 19_231),
    ),
    *of(
        f"{MEMORY}: without a known share B10D is twice B10",
        1.0,
        formulas.b10d_from_b10,
        ((1e5,), 2e5),
    ),
    *of(
        "ISO 13849-1 D.2, the standard's example, printed 66 a; D.2 derived",
        0.005,
        formulas.symmetrised,
        ((3, 100), 66.72),
        ((30, 60), 46.667),
        ((42, 42), 42.0),
    ),
    *of(
        "ISO 13849-1 D.1 derived: 2000, 100 and 50 a in one channel",
        0.001,
        lambda *parts: formulas.parts_count(parts),
        ((2000, 100, 50), 32.787),
    ),
    *of(
        "ISO 13849-1 E.2 derived: DC 99, 90, 60 % of 2000, 100, 50 a",
        1e-5,
        lambda *parts: formulas.dc_average(parts),
        (((0.99, 2000), (0.90, 100), (0.60, 50)), 0.70475),
    ),
    *of(
        "ISO 13849-1 table 5; below 3 a from memory",
        0,
        band_is,
        *edges(formulas.mttfd_band, (3, "low"), (10, "medium"), (30, "high")),
    ),
    *of(
        "ISO 13849-1 table 6",
        0,
        band_is,
        *edges(formulas.dc_band, (0.0, "none"), (0.6, "low"), (0.9, "medium"), (0.99, "high")),
    ),
    *of(
        "ISO 13849-1 table 3",
        0,
        band_is,
        *edges(
            formulas.performance_level,
            (0.0, "e"),
            (1e-7, "d"),
            (1e-6, "c"),
            (3e-6, "b"),
            (1e-5, "a"),
            (1e-4, "-"),
        ),
    ),
    *of(
        f"{MEMORY}: since 2015 level e is anything below 1e-7",
        0,
        reading(formulas, "PL_BANDS"),
        ((0, 0), 0.0),
    ),
    *of("ISO 13849-1 table 6: none begins at 0", 0, reading(formulas, "DC_BANDS"), ((0, 0), 0.0)),
    *of(
        f"{MEMORY}: caps of 100 a and, in category 4 since 2015, 2500 a",
        0,
        formulas.capped,
        ((13_698.63, "3"), 100.0),
        ((13_698.63, "4"), 2500.0),
        ((66.0, "3"), 66.0),
    ),
    *of(f"{MEMORY}: mission time 20 a", 0, reading(formulas, "MISSION_TIME_A"), ((), 20.0)),
    *of("ISO 13849-1 annex F: 65 points", 0, reading(formulas, "CCF_NEEDED"), ((), 65)),
    *of(
        f"{MEMORY}: level b and c are SIL 1, d is SIL 2, e is SIL 3",
        0,
        reading(formulas, "SIL_OF_PL"),
        (("b",), 1),
        (("c",), 1),
        (("d",), 2),
        (("e",), 3),
    ),
    *of(
        "ISO 13849-1, domain of the formulas",
        0,
        refused,
        ((formulas.mttfd_from_b10d, 0.0, 1.0), True),
        ((formulas.parts_count, ()), True),
        ((formulas.dc_average, ((1.1, 10.0),)), True),
        ((formulas.operations_per_year, 367, 24, 1), True),
    ),
]


def _table() -> list[Row]:
    rows: list[Row] = []
    last: dict[tuple[str, str], float] = {}
    for line in K1.split("\n")[1:-1]:
        years, *values = (float(word) for word in line.split())
        for (listed, band), value in zip((*K1_COLUMNS, ("4", "high")), values, strict=False):
            # Category 1 asks for a high MTTFD, so the first column is category B's below it.
            category = "B" if listed == "1" and years < 30 else listed
            dc = COVERAGE_OF_BAND[band]
            case = (((category, years, dc), value),)
            rows += of("ISO 13849-1 table K.1, from memory", 1e-12, table_k1.pfhd, *case)
            below = ((category, years * 1.001, dc), value)
            rows += of("the same, next lower row", 1e-12, table_k1.pfhd, below)
            # Just below a listed MTTFD the row before it counts; below the first one none does.
            if (category, band) in last:
                before = ((category, years * 0.985, dc), last[category, band])
                rows += of("the same, row before", 1e-12, table_k1.pfhd, before)
            last[category, band] = value
    return rows


TABLE_ROWS: list[Row] = [
    *_table(),
    *of("ISO 13849-1 table K.1: it begins at 3 a", 0, reading(table_k1, "ROWS"), ((0, 0), 3.0)),
    *of("published example: category 1, 100 a", 0, table_k1.pfhd, (("1", 100, 0), 1.14e-6)),
    *of("published example: category 3, medium", 1.1e-10, table_k1.pfhd, (("3", 100, 0.9), 4.3e-8)),
    *of("published example: category 4, 100 a", 0, table_k1.pfhd, (("4", 100, 0.99), 2.47e-8)),
    *of(
        "a maker's application of ISO 13849-1: category 4 capped at 2500 a",
        0,
        table_k1.pfhd,
        (("4", 2500, 0.99), 9.06e-10),
        (("4", 13_698.63, 0.99), 9.06e-10),
    ),
    *of(
        "ISO 13849-1, figure 5, from memory: category B has a medium MTTFD at most",
        0,
        table_k1.pfhd,
        (("B", 100, 0), 4.23e-6),
        (("B", 29.7, 0), 4.23e-6),
        (("B", 9.9, 0), 1.25e-5),
    ),
    *of(
        "ISO 13849-1 clause 6.2: what a category does not allow",
        0,
        refused,
        ((table_k1.pfhd, "3", 100, 0.59), True),
        ((table_k1.pfhd, "2", 100, 0.59), True),
        ((table_k1.pfhd, "4", 100, 0.98), True),
        ((table_k1.pfhd, "1", 29.9, 0.0), True),
        ((table_k1.pfhd, "B", 2.9, 0.0), True),
        ((table_k1.pfhd, "5", 100, 0.0), True),
    ),
    *of(
        "ISO 13849-1 edition of 2015, category 4 above 100 a, from memory (medium)",
        1e-12,
        table_k1.pfhd,
        (("4", 108.35, 0.99), 2.47e-8),
        (("4", 110, 0.99), 2.23e-8),
        (("4", 128.05, 0.99), 2.23e-8),
        (("4", 130, 0.99), 1.87e-8),
        (("4", 147.75, 0.99), 1.87e-8),
        (("4", 150, 0.99), 1.61e-8),
        (("4", 197, 0.99), 1.61e-8),
        (("4", 200, 0.99), 1.19e-8),
        (("4", 295.5, 0.99), 1.19e-8),
        (("4", 300, 0.99), 7.76e-9),
        (("4", 502.35, 0.99), 7.76e-9),
        (("4", 510, 0.99), 4.52e-9),
        (("4", 985, 0.99), 4.52e-9),
        (("4", 1000, 0.99), 2.28e-9),
        (("4", 1477.5, 0.99), 2.28e-9),
        (("4", 1500, 0.99), 1.51e-9),
        (("4", 1970, 0.99), 1.51e-9),
        (("4", 2000, 0.99), 1.13e-9),
        (("4", 2499, 0.99), 1.13e-9),
    ),
]

PART_ROWS: list[Row] = [
    *of(
        f"{MEMORY}: table C.1, B10D",
        0,
        reading(parts_data, "TYPICAL"),
        (("contactor", "b10d"), 1_300_000),
        (("contactor_small_load", "b10d"), 20_000_000),
        (("relay", "b10d"), 400_000),
        (("relay_small_load", "b10d"), 20_000_000),
        (("position_switch", "b10d"), 20_000_000),
        (("stop_button", "b10d"), 100_000),
        (("push_button", "b10d"), 100_000),
    ),
    *of(
        "an assumption of this project, no source",
        0,
        reading(parts_data, "TYPICAL"),
        (("loaded_switch", "b10d"), 100_000),
        (("board", "mttfd_a"), 10),
        (("current_sensor", "mttfd_a"), 50),
    ),
    *of(
        "no value where the other one is used",
        0,
        reading(parts_data, "TYPICAL"),
        *(((name, "mttfd_a"), 0.0) for name, item in parts_data.TYPICAL.items() if item.b10d),
        *(((name, "b10d"), 0.0) for name, item in parts_data.TYPICAL.items() if item.mttfd_a),
    ),
    *of(
        "ISO 13849-1 table E.1: a contactor watched by its mirror contact 99 %",
        0,
        reading(parts_data, "COVERAGE"),
        (("mirror", "dc"), 0.99),
    ),
    *of(
        f"{MEMORY}: table E.1",
        0,
        reading(parts_data, "COVERAGE"),
        (("crossed", "dc"), 0.90),
        (("watchdog", "dc"), 0.60),
        (("none", "dc"), 0.0),
    ),
    *of(
        "table E.1 gives 0 to 99 %; this value in it is an assumption, no source",
        0,
        reading(parts_data, "COVERAGE"),
        (("seldom", "dc"), 0.60),
    ),
    *of(
        f"{MEMORY}: annex F, points",
        0,
        reading(parts_data, "COMMON_CAUSES"),
        (("separation", "points"), 15),
        (("diversity", "points"), 20),
        (("overvoltage", "points"), 15),
        (("well_tried", "points"), 5),
        (("analysis", "points"), 5),
        (("training", "points"), 5),
        (("emc", "points"), 25),
        (("environment", "points"), 10),
    ),
]

ROWS: dict[ModuleType, list[Row]] = {
    formulas: FORMULA_ROWS,
    table_k1: TABLE_ROWS,
    parts_data: PART_ROWS,
}
