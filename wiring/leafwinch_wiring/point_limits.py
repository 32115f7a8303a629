"""What counts as the expected reading of a meter, in ohm and in words."""

import math
from dataclasses import dataclass

from leafwinch_wiring.continuity import ABSOLUTE_OHM, RELATIVE, as_printed, in_ohm
from leafwinch_wiring.point_readings import OPEN_OHM

CLOSED_OHM = 2.0
"""What contacts and clips may add to a closed path, in ohm, before it counts as not closed."""


SAME = 1e-9
"""Two numbers that differ by less than this share are one reading: 1.13 k and 1130 ohm."""


@dataclass(frozen=True, slots=True)
class Limits:
    """A reading in ohm from `low` to `high`, both of them still right, is as it should be."""

    low: float
    high: float

    def hold(self, ohm: float) -> bool:
        """True when a reading in ohm (infinite: open) lies within."""
        return self.low * (1.0 - SAME) <= ohm <= self.high * (1.0 + SAME)


def limits(low_ohm: float, high_ohm: float, closed: bool) -> Limits:
    """Limits around the lowest and highest reading of a circuit, both in ohm.

    A path of wires and contacts (`closed`) may read up to `CLOSED_OHM` more, a value is held to
    the tolerance of `continuity.differs`, and from `OPEN_OHM` on one open reading is as good as
    another. They are rounded as they are printed, so that paper and program judge alike.
    """
    if low_ohm >= OPEN_OHM:
        return Limits(OPEN_OHM, math.inf)
    if closed:
        return Limits(0.0, as_printed(high_ohm + CLOSED_OHM))
    low = as_printed(max(0.0, low_ohm - max(ABSOLUTE_OHM, RELATIVE * low_ohm)))
    if high_ohm >= OPEN_OHM:
        return Limits(low, math.inf)
    return Limits(low, as_printed(high_ohm + max(ABSOLUTE_OHM, RELATIVE * high_ohm)))


def expected_words(low_ohm: float, high_ohm: float, closed: bool) -> str:
    """The reading of the sound circuit as it stands on the sheet."""
    good = limits(low_ohm, high_ohm, closed)
    if low_ohm >= OPEN_OHM:
        return f"open, at least {in_ohm(OPEN_OHM)}"
    if closed:
        return f"closed, at most {in_ohm(good.high)}"
    if math.isinf(good.high):
        return f"not closed, at least {in_ohm(good.low)}"
    return f"{in_ohm(good.low)} to {in_ohm(good.high)}"
