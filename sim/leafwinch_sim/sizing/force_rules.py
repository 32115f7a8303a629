"""Limits of crushing force, overtravel and gaps at a moving edge, and the words for them.

The numbers are those of EN 12453 and ISO 13854. They say what a measurement is compared
with, nothing else: whether a floor may be used is for those who measure it in its place
and for the local codes.
"""

import math
from dataclasses import dataclass

from leafwinch import requirement_limits

# EN 12453, forces of a power operated leaf.
DYNAMIC_LIMIT_N = 400.0  # at a closing edge, the gap that is left 50 to 500 mm
LARGE_GAP_LIMIT_N = 1400.0  # the gap that is left above 500 mm
LARGE_GAP_MM = 500.0  # from memory
DYNAMIC_MS = 750  # the dynamic force lasts no longer
STATIC_LIMIT_N = 150.0  # after that
RESIDUAL_LIMIT_N = 25.0  # what is left afterwards
RESIDUAL_AFTER_S = 5.0

HOLD_TO_RUN_OVERTRAVEL_MM = float(requirement_limits.R1_OVERRUN_MM)  # after the release, EN 12453

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


def dynamic_limit_n(gap_mm: float) -> float:
    """Return the limit of the dynamic force in N with a gap of so many mm left, EN 12453.

    400 N up to a gap of 500 mm, 1400 N above; where the gap parts them is from memory.
    """
    return LARGE_GAP_LIMIT_N if gap_mm > LARGE_GAP_MM else DYNAMIC_LIMIT_N


def force_verdict(peak_n: float, static_n: float, gap_mm: float = 0.0) -> ForceVerdict:
    """Compare a dynamic and a static force with EN 12453.

    Args:
        peak_n: 0 or more.
        static_n: 0 or more.
        gap_mm: gap that is left at the place; 0 takes the lower limit.
    """
    limit = dynamic_limit_n(gap_mm)
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


def overtravel_mm(speed_m_per_s: float, stop_s: float, deceleration: float) -> float:
    """Return how far an edge goes after the release in mm: v t + v^2 / (2 a).

    This is uniform motion, then uniform deceleration, as any text of kinematics has it.

    Args:
        speed_m_per_s: v, 0 or more.
        stop_s: t, from the release until the brake bites, 0 or more.
        deceleration: a in m/s2, above 0; `math.inf` for a stop at once.

    Raises:
        ValueError: a value is out of range, in one clause.
    """
    if not deceleration > 0.0:
        raise ValueError(f"a deceleration of {deceleration:g} m/s2, allowed is above 0")
    if not (0.0 <= speed_m_per_s < math.inf and 0.0 <= stop_s < math.inf):
        raise ValueError(f"{speed_m_per_s:g} m/s and {stop_s:g} s, allowed is 0 or more")
    return 1000.0 * (speed_m_per_s * stop_s + speed_m_per_s**2 / (2.0 * deceleration))
