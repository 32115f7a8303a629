"""Stretches of a column: of equal values, or short ones that look alike with fewer points."""

from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

CURVE_STRETCHES = 1500  # more than a plot has dots across

Column = NDArray[np.float64]


def runs_of(values: NDArray[Any]) -> list[tuple[int, int, int]]:
    """Return (first, end, value) for each stretch of equal values; `end` is one past the last."""
    if values.size == 0:
        return []
    edges = (np.flatnonzero(values[1:] != values[:-1]) + 1).tolist()
    starts, ends = [0, *edges], [*edges, int(values.size)]
    return [(a, b, int(values[a])) for a, b in zip(starts, ends, strict=True)]


def thinned(time_s: Column, values: Column) -> tuple[Column, Column]:
    """Return fewer points with the same look: lowest and highest of each short stretch.

    Every peak stays, so that a spike of one sample can still be seen.
    """
    count = values.size
    if count <= 4 * CURVE_STRETCHES:
        return time_s, values
    edges = np.linspace(0, count, CURVE_STRETCHES + 1).astype(np.int64)
    kept = {0, int(count) - 1}
    for first, end in pairwise(edges.tolist()):
        stretch = values[first:end]
        kept.update((first + int(stretch.argmin()), first + int(stretch.argmax())))
    chosen = np.asarray(sorted(kept), dtype=np.int64)
    return time_s[chosen], values[chosen]
