"""The next measurement when several miswires explain a sheet equally well."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from leafwinch_wiring.miswires import Miswire
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_candidates import (
    Candidate,
    Found,
    accessible,
    far_apart,
    judged,
    states,
    touched_ends,
)
from leafwinch_wiring.point_limits import expected_words
from leafwinch_wiring.point_readings import OPEN_OHM, WIRES_OHM, Readings, exact

MOST_SUSPECTS = 40
"""More than these are not parted: the sheet itself was then hardly filled."""


@dataclass(frozen=True, slots=True)
class Parting:
    """A measurement and what it tells.

    Attributes:
        what: the measurement, with the sound circuit's readings.
        off: ids of the miswires with which it surely reads something else.
        within: ids of those with which it surely reads as in the sound circuit.
        expected: what it reads with each miswire, in words and in their order.
    """

    what: Candidate
    off: tuple[str, ...]
    within: tuple[str, ...]
    expected: tuple[str, ...]

    @property
    def sound(self) -> str:
        """What it reads in the sound circuit, in words."""
        return expected_words(self.what.low_ohm, self.what.high_ohm, self.what.closed)


def parting(net: Netlist, items: Sequence[Miswire]) -> Parting | None:
    """The measurement that leaves fewest of these miswires, whatever it reads; None if none can.

    Args:
        net: the netlist.
        items: two or more suspects.
    """
    if not 2 <= len(items) <= MOST_SUSPECTS:
        return None
    pairs = sorted(_near(net, items), key=lambda pair: far_apart(net, *pair))
    reading = Readings(net, items)
    best: tuple[Candidate, Found, Found] | None = None
    best_left = len(items)
    for state in states(net):
        made, off = judged(net, reading, state, pairs)
        low, high = reading.between(state[2]).read(pairs)
        for row, what in enumerate(made):
            good = what.limits
            most = np.where(high[row] == 0.0, 0.0, high[row] + WIRES_OHM)
            inside = (low[row] >= good.low) & (most <= good.high)
            inside |= (low[row] >= OPEN_OHM) & (good.low >= OPEN_OHM)
            within = inside[1:] & ~off[row]
            # A good reading rules out those that are off, any other those that are within.
            left = len(items) - min(int(off[row].sum()), int(within.sum()))
            if left < best_left:
                best_left = left
                best = what, off[row], within
    if best is None:
        return None
    what, off_here, within = best
    return Parting(
        what, _ids(items, off_here), _ids(items, within), _expected(net, reading, what, items)
    )


def _expected(
    net: Netlist, reading: Readings, what: Candidate, items: Sequence[Miswire]
) -> tuple[str, ...]:
    """The reading of one measurement with each miswire, in words."""
    mask = next(mask for *key, mask in states(net) if key == [what.operated, what.acts])
    pair = [(what.a, what.b)]
    closed = reading.between(mask).read(pair)[1][0, 1:] == 0.0
    return tuple(
        expected_words(*exact(net, item, mask, pair)[0], bool(joined))
        for item, joined in zip(items, closed, strict=True)
    )


def _near(net: Netlist, items: Sequence[Miswire]) -> list[tuple[str, str]]:
    """Any two of the terminals that the miswires are about."""
    ends = {end for item in items for end in touched_ends(net, item)}
    return list(combinations([t for t in accessible(net) if t in ends], 2))


def _ids(items: Sequence[Miswire], which: Found) -> tuple[str, ...]:
    return tuple(item.id for item, here in zip(items, which, strict=True) if here)
