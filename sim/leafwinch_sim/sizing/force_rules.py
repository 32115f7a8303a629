"""Limits of crushing force and gaps at a moving edge, and the words for them.

The numbers are those of EN 12453 and ISO 13854. They say what a measurement is compared
with, nothing else: whether a floor may be used is for those who measure it in its place
and for the local codes.
"""

from dataclasses import dataclass

# EN 12453, forces of a power operated leaf.
DYNAMIC_LIMIT_N = 400.0  # at a closing edge, the gap that is left 50 to 500 mm
DYNAMIC_MS = 750  # the dynamic force lasts no longer
STATIC_LIMIT_N = 150.0  # after that

# ISO 13854, least gaps that don't crush a part of the body, mm, from memory.
GAPS_MM: dict[str, float] = {
    "body": 500.0,
    "head": 300.0,
    "leg": 180.0,
    "foot": 120.0,
    "toes": 50.0,
    "arm": 120.0,
    "hand": 100.0,
    "finger": 25.0,
}


@dataclass(frozen=True, slots=True)
class ForceVerdict:
    """What two measured forces in newtons are against EN 12453.

    Attributes:
        peak_n: the dynamic force, within the first 0.75 s.
        static_n: the force after that.
        dynamic_ok: the peak is not above its limit.
        static_ok: the static force is not above its limit.
        words: one sentence for people.
    """

    peak_n: float
    static_n: float
    dynamic_ok: bool
    static_ok: bool
    words: str


def crushed(gap_mm: float) -> list[str]:
    """Return the parts of the body that a gap of so many mm crushes, ISO 13854."""
    return [part for part, least_mm in GAPS_MM.items() if gap_mm < least_mm]


def force_verdict(peak_n: float, static_n: float) -> ForceVerdict:
    """Compare a dynamic and a static force with EN 12453.

    Where a gap of more than 500 mm is left the standard allows a greater dynamic force; a
    folding deck leaves less in the end, so that is not used.

    Args:
        peak_n: 0 or more.
        static_n: 0 or more.
    """
    limit = DYNAMIC_LIMIT_N
    dynamic_ok, static_ok = peak_n <= limit, static_n <= STATIC_LIMIT_N
    if dynamic_ok and static_ok:
        words = (
            f"Within EN 12453: {peak_n:.0f} N of {limit:.0f} N for at most {DYNAMIC_MS / 1000:g} s,"
            f" then {static_n:.0f} N of {STATIC_LIMIT_N:.0f} N."
        )
    else:
        over = []
        if not dynamic_ok:
            over.append(f"{peak_n:.0f} N at first, allowed are {limit:.0f} N")
        if not static_ok:
            over.append(f"{static_n:.0f} N after that, allowed are {STATIC_LIMIT_N:.0f} N")
        words = f"Above EN 12453: {' and '.join(over)}; this can crush a person."
    return ForceVerdict(peak_n, static_n, dynamic_ok, static_ok, words)
