"""Table K.1 of ISO 13849-1: PFHD by MTTFD of each channel, category and DCavg.

From memory but for the rows that a published example confirms; the tests say which. It holds
for a mission time of 20 years. Category 1 and B share a column, since neither is tested.
"""

from bisect import bisect_right

from leafwinch_wiring.reliability.formulas import dc_band, mttfd_band

COLUMNS: tuple[tuple[str, str], ...] = (
    ("1", "none"),
    ("2", "low"),
    ("2", "medium"),
    ("3", "low"),
    ("3", "medium"),
    ("4", "high"),
)
"""Category and band of DCavg of each column of `ROWS`."""

ROWS: tuple[tuple[float, ...], ...] = (
    # MTTFD in years, then PFHD in 1/h; category 4 begins at 30 years.
    (3.0, 3.80e-5, 2.58e-5, 1.99e-5, 1.26e-5, 6.09e-6),
    (3.3, 3.46e-5, 2.33e-5, 1.79e-5, 1.13e-5, 5.41e-6),
    (3.6, 3.17e-5, 2.13e-5, 1.62e-5, 1.03e-5, 4.86e-6),
    (3.9, 2.93e-5, 1.95e-5, 1.48e-5, 9.37e-6, 4.40e-6),
    (4.3, 2.65e-5, 1.76e-5, 1.33e-5, 8.39e-6, 3.89e-6),
    (4.7, 2.43e-5, 1.60e-5, 1.20e-5, 7.58e-6, 3.48e-6),
    (5.1, 2.24e-5, 1.47e-5, 1.10e-5, 6.91e-6, 3.15e-6),
    (5.6, 2.04e-5, 1.33e-5, 9.87e-6, 6.21e-6, 2.80e-6),
    (6.2, 1.84e-5, 1.19e-5, 8.80e-6, 5.53e-6, 2.47e-6),
    (6.8, 1.68e-5, 1.08e-5, 7.93e-6, 4.98e-6, 2.20e-6),
    (7.5, 1.52e-5, 9.75e-6, 7.10e-6, 4.45e-6, 1.95e-6),
    (8.2, 1.39e-5, 8.87e-6, 6.43e-6, 4.02e-6, 1.74e-6),
    (9.1, 1.25e-5, 7.94e-6, 5.71e-6, 3.57e-6, 1.53e-6),
    (10.0, 1.14e-5, 7.18e-6, 5.14e-6, 3.21e-6, 1.36e-6),
    (11.0, 1.04e-5, 6.44e-6, 4.53e-6, 2.81e-6, 1.18e-6),
    (12.0, 9.51e-6, 5.84e-6, 4.04e-6, 2.49e-6, 1.04e-6),
    (13.0, 8.78e-6, 5.33e-6, 3.64e-6, 2.23e-6, 9.21e-7),
    (15.0, 7.61e-6, 4.53e-6, 3.01e-6, 1.82e-6, 7.44e-7),
    (16.0, 7.13e-6, 4.21e-6, 2.77e-6, 1.67e-6, 6.76e-7),
    (18.0, 6.34e-6, 3.68e-6, 2.37e-6, 1.41e-6, 5.67e-7),
    (20.0, 5.71e-6, 3.26e-6, 2.06e-6, 1.22e-6, 4.85e-7),
    (22.0, 5.19e-6, 2.93e-6, 1.82e-6, 1.07e-6, 4.21e-7),
    (24.0, 4.76e-6, 2.65e-6, 1.62e-6, 9.47e-7, 3.70e-7),
    (27.0, 4.23e-6, 2.32e-6, 1.39e-6, 8.04e-7, 3.10e-7),
    (30.0, 3.80e-6, 2.06e-6, 1.21e-6, 6.94e-7, 2.65e-7, 9.54e-8),
    (33.0, 3.46e-6, 1.85e-6, 1.06e-6, 5.94e-7, 2.30e-7, 8.57e-8),
    (36.0, 3.17e-6, 1.67e-6, 9.39e-7, 5.16e-7, 2.01e-7, 7.77e-8),
    (39.0, 2.93e-6, 1.53e-6, 8.40e-7, 4.53e-7, 1.78e-7, 7.11e-8),
    (43.0, 2.65e-6, 1.37e-6, 7.34e-7, 3.87e-7, 1.54e-7, 6.37e-8),
    (47.0, 2.43e-6, 1.24e-6, 6.49e-7, 3.35e-7, 1.34e-7, 5.76e-8),
    (51.0, 2.24e-6, 1.13e-6, 5.80e-7, 2.93e-7, 1.19e-7, 5.26e-8),
    (56.0, 2.04e-6, 1.02e-6, 5.10e-7, 2.52e-7, 1.03e-7, 4.73e-8),
    (62.0, 1.84e-6, 9.06e-7, 4.43e-7, 2.13e-7, 8.84e-8, 4.22e-8),
    (68.0, 1.68e-6, 8.17e-7, 3.90e-7, 1.84e-7, 7.68e-8, 3.80e-8),
    (75.0, 1.52e-6, 7.31e-7, 3.40e-7, 1.57e-7, 6.62e-8, 3.41e-8),
    (82.0, 1.39e-6, 6.61e-7, 3.01e-7, 1.35e-7, 5.79e-8, 3.08e-8),
    (91.0, 1.25e-6, 5.88e-7, 2.61e-7, 1.14e-7, 4.94e-8, 2.74e-8),
    (100.0, 1.14e-6, 5.28e-7, 2.29e-7, 1.01e-7, 4.29e-8, 2.47e-8),
)

CATEGORY_4_MORE: tuple[tuple[float, float], ...] = (
    (110.0, 2.23e-8),
    (130.0, 1.87e-8),
    (150.0, 1.61e-8),
    (200.0, 1.19e-8),
    (300.0, 7.76e-9),
    (510.0, 4.52e-9),
    (1000.0, 2.28e-9),
    (1500.0, 1.51e-9),
    (2000.0, 1.13e-9),
    (2500.0, 9.06e-10),
)
"""Category 4 above 100 years since the edition of 2015: MTTFD in years, PFHD in 1/h."""

HIGHEST_LEVEL: dict[str, str] = {"B": "b", "1": "c", "2": "d", "3": "e", "4": "e"}
"""Highest performance level of each category, clause 6.2 (from memory)."""


def _column(category: str, band: str) -> list[tuple[float, float]]:
    """Return (MTTFD, PFHD) of one column in rising order of MTTFD."""
    index = COLUMNS.index((category, band)) + 1
    found = [(row[0], row[index]) for row in ROWS if len(row) > index]
    return [*found, *CATEGORY_4_MORE] if category == "4" else found


def listed(category: str, mttfd_a: float, dc: float) -> tuple[float, float]:
    """Return the row's MTTFD in years and its PFHD in 1/h.

    The row is the next lower listed one, as the table asks, so that the result never flatters.
    Category B and 1 take no credit for coverage; 2 and 3 count at most as medium.

    Args:
        category: B, 1, 2, 3 or 4.
        mttfd_a: MTTFD of each channel in years, 3 or more; 30 or more in category 1 and 4.
        dc: DCavg as a share; 0.60 or more in category 2 and 3, 0.99 or more in category 4.

    Raises:
        ValueError: the category does not allow these values.
    """
    if category not in HIGHEST_LEVEL:
        raise ValueError(f"category {category} is unknown, allowed are {', '.join(HIGHEST_LEVEL)}")
    band, size = dc_band(dc), mttfd_band(mttfd_a)
    if size == "-":
        raise ValueError(f"MTTFD is {mttfd_a:g} years, allowed is 3 or more")
    if category in ("1", "4") and size != "high":
        raise ValueError(f"MTTFD is {mttfd_a:g} years, category {category} asks for 30 or more")
    if category == "4" and band != "high":
        raise ValueError(f"DCavg is {dc:g}, category 4 asks for 0.99 or more")
    if category in ("2", "3") and band == "none":
        raise ValueError(f"DCavg is {dc:g}, category {category} asks for 0.60 or more")
    if category in ("B", "1"):
        column = _column("1", "none")
    elif category == "4":
        column = _column("4", "high")
    else:
        column = _column(category, "low" if band == "low" else "medium")
    if category == "B":
        # Its channel has a medium MTTFD at most, figure 5 (from memory).
        column = [row for row in column if mttfd_band(row[0]) != "high"]
    place = bisect_right([years for years, _ in column], mttfd_a)
    return column[place - 1]


def pfhd(category: str, mttfd_a: float, dc: float) -> float:
    """Return PFHD in 1/h by `listed`."""
    return listed(category, mttfd_a, dc)[1]
