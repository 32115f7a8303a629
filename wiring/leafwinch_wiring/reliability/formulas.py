"""The simplified method of ISO 13849-1 as plain functions.

MTTFD is the mean time to a dangerous failure in years, DC the diagnostic coverage as a share
from 0 to 1, PFHD the probability of a dangerous failure per hour. Values out of range raise
ValueError with one sentence. Clauses are those of the editions of 2006 and 2015.
"""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

HOURS_PER_YEAR = 8760.0
SECONDS_PER_HOUR = 3600.0

DANGEROUS_AT_B10D = 0.1
"""Share of parts that have failed dangerously after B10D operations, annex C.4."""

DANGEROUS_SHARE = 0.5
"""Share of failures counted as dangerous when the maker states B10 only, C.4 (from memory)."""

MISSION_TIME_A = 20.0
"""Mission time in years that table K.1 holds for, 4.5.4 (from memory)."""

MTTFD_CAP_A = 100.0
"""Greatest MTTFD in years that a channel may count with, 4.5.2 (from memory)."""

MTTFD_CAP_CATEGORY_4_A = 2500.0
"""The same in category 4 since the edition of 2015 (from memory)."""

MTTFD_BANDS: tuple[tuple[float, str], ...] = ((3.0, "low"), (10.0, "medium"), (30.0, "high"))
"""Lower edges in years, table 5. Below the first one a channel is not acceptable."""

DC_BANDS: tuple[tuple[float, str], ...] = (
    (0.0, "none"),
    (0.60, "low"),
    (0.90, "medium"),
    (0.99, "high"),
)
"""Lower edges as shares, table 6."""

PL_BANDS: tuple[tuple[float, str], ...] = (
    (0.0, "e"),
    (1e-7, "d"),
    (1e-6, "c"),
    (3e-6, "b"),
    (1e-5, "a"),
    (1e-4, "-"),
)
"""Lower edges of PFHD in 1/h, table 3; from 1e-4 on there is no performance level."""

SIL_OF_PL: dict[str, int] = {"b": 1, "c": 1, "d": 2, "e": 3}
"""Safety integrity level of the same band of PFHD, table 4 (from memory); a has none."""

CCF_NEEDED = 65
"""Least score against common causes for categories 2, 3 and 4, annex F."""


def _positive(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise ValueError(f"{name} is {value:g}, allowed is a finite number above 0")


def _share(name: str, value: float) -> None:
    if not 0.0 <= value <= 1.0:
        raise ValueError(f"{name} is {value:g}, allowed is 0 to 1")


def operations_per_year(days: float, hours_per_day: float, cycle_s: float) -> float:
    """Return nop = dop hop 3600 / tcycle, operations in a year, annex C.4.2.

    Args:
        days: days of use in a year, above 0 to 366.
        hours_per_day: hours of use in a day, above 0 to 24.
        cycle_s: mean time between two operations in s, above 0.
    """
    _positive("the time of a cycle", cycle_s)
    if not 0.0 < days <= 366.0:
        raise ValueError(f"{days:g} days in a year, allowed is above 0 to 366")
    if not 0.0 < hours_per_day <= 24.0:
        raise ValueError(f"{hours_per_day:g} hours in a day, allowed is above 0 to 24")
    return days * hours_per_day * SECONDS_PER_HOUR / cycle_s


def b10d_from_b10(b10: float, dangerous_share: float | None = None) -> float:
    """Return B10D in operations from B10, annex C.4.2; without a known share twice B10."""
    share = DANGEROUS_SHARE if dangerous_share is None else dangerous_share
    _positive("B10", b10)
    _share("the dangerous share", share)
    _positive("the dangerous share", share)
    return b10 / share


def mttfd_from_b10d(b10d: float, per_year: float) -> float:
    """Return MTTFD = B10D / (0.1 nop) in years, annex C.4.2, not capped."""
    _positive("B10D", b10d)
    _positive("the number of operations in a year", per_year)
    return b10d / (DANGEROUS_AT_B10D * per_year)


def t10d(b10d: float, per_year: float) -> float:
    """Return T10D = B10D / nop in years: by then the part has to be replaced, annex C.4.2."""
    _positive("B10D", b10d)
    _positive("the number of operations in a year", per_year)
    return b10d / per_year


def rate_per_hour(mttfd_a: float) -> float:
    """Return the rate of dangerous failures in 1/h of a part with a MTTFD in years."""
    _positive("MTTFD", mttfd_a)
    return 1.0 / (HOURS_PER_YEAR * mttfd_a)


def parts_count(mttfd_a: Iterable[float]) -> float:
    """Return MTTFD in years of parts in one channel, 1/MTTFD = sum of 1/MTTFDi, annex D.1."""
    parts = list(mttfd_a)
    if not parts:
        raise ValueError("a channel has no parts, allowed is one or more")
    for part in parts:
        _positive("MTTFD", part)
    return 1.0 / sum(1.0 / part for part in parts)


def capped(mttfd_a: float, category: str) -> float:
    """Return the MTTFD in years that a channel may count with: at most 100, in category 4 2500."""
    _positive("MTTFD", mttfd_a)
    return min(mttfd_a, MTTFD_CAP_CATEGORY_4_A if category == "4" else MTTFD_CAP_A)


def symmetrised(a: float, b: float) -> float:
    """Return one MTTFD in years for two unequal channels, annex D.2.

    MTTFD = 2/3 (a + b - 1 / (1/a + 1/b)); both channels are capped first.
    """
    _positive("MTTFD", a)
    _positive("MTTFD", b)
    return 2.0 / 3.0 * (a + b - 1.0 / (1.0 / a + 1.0 / b))


def dc_average(parts: Iterable[tuple[float, float]]) -> float:
    """Return DCavg of (DC, MTTFD in years) of all parts, annex E.2: weighted by their rates."""
    pairs = list(parts)
    if not pairs:
        raise ValueError("an average has no parts, allowed is one or more")
    for dc, mttfd_a in pairs:
        _share("DC", dc)
        _positive("MTTFD", mttfd_a)
    return sum(dc / m for dc, m in pairs) / sum(1.0 / m for _, m in pairs)


def _band(bands: Sequence[tuple[float, str]], value: float) -> str:
    """Return the name of the last band whose lower edge is not above the value."""
    name = bands[0][1]
    for edge, found in bands:
        if value >= edge:
            name = found
    return name


def mttfd_band(mttfd_a: float) -> str:
    """Return low, medium or high of a channel's MTTFD in years; `-` where below 3 years."""
    _positive("MTTFD", mttfd_a)
    return "-" if mttfd_a < MTTFD_BANDS[0][0] else _band(MTTFD_BANDS, mttfd_a)


def dc_band(dc: float) -> str:
    """Return none, low, medium or high of a diagnostic coverage from 0 to 1."""
    _share("DC", dc)
    return _band(DC_BANDS, dc)


def performance_level(pfhd: float) -> str:
    """Return the letter a to e of a PFHD in 1/h, `-` where it is 1e-4 or more."""
    if not (math.isfinite(pfhd) and pfhd >= 0.0):
        raise ValueError(f"PFHD is {pfhd:g}, allowed is a finite number not below 0")
    return _band(PL_BANDS, pfhd)


def lower_level(one: str, other: str) -> str:
    """Return the lower of two performance levels; `-`, none at all, is the lowest."""
    order = [name for _, name in reversed(PL_BANDS)]
    return min(one, other, key=order.index)


def bands_follow() -> bool:
    """Return whether every list of bands rises, as its reading needs."""
    return all(
        low < high
        for bands in (MTTFD_BANDS, DC_BANDS, PL_BANDS)
        for (low, _), (high, _) in pairwise(bands)
    )
