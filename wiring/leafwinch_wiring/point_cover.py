"""The smallest set of measurements that finds everything: a set cover.

Greedy first (Chvatal, A Greedy Heuristic for the Set-Covering Problem, Mathematics of
Operations Research 4, 1979), then whatever proves needless is taken out in reverse, and at
last the solver HiGHS gets a few seconds to do better. It also proves a lower bound.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from leafwinch_wiring.block import Array
from leafwinch_wiring.equal_rows import equal_rows

Table = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Cover:
    """Chosen rows of the table, and a number of rows below which no cover can go."""

    chosen: tuple[int, ...]
    lower_bound: int


def smallest_cover(table: Table, cost: Array, seconds: float) -> Cover:
    """Few rows that together have every column which any row has.

    Args:
        table: `table[row, column]` is true where a row finds a column.
        cost: below 0.001 for each row; breaks ties between covers of equal size.
        seconds: how long the solver may try to better the greedy cover; 0 for greedy alone.
    """
    wanted = np.flatnonzero(table.any(axis=0))
    if not len(wanted):
        return Cover((), 0)
    # Columns found by the same rows are one; so are rows that find the same.
    _, first = equal_rows(np.packbits(table[:, wanted], axis=0).T)
    columns = wanted[first]
    by_cost = np.argsort(cost, kind="stable")
    _, first = equal_rows(np.packbits(table[np.ix_(by_cost, columns)], axis=1))
    rows = by_cost[first]
    small = table[np.ix_(rows, columns)]
    chosen = _pruned(small, greedy(small))
    bound = 1
    if seconds > 0.0:
        chosen, bound = _solved(small, cost[rows], chosen, seconds)
    return Cover(tuple(sorted(int(rows[row]) for row in chosen)), bound)


def greedy(table: Table) -> list[int]:
    """Rows in the order in which each finds most of what is left; the first of equals."""
    left = np.ones(table.shape[1], dtype=bool)
    gain = table.sum(axis=1)
    chosen: list[int] = []
    while left.any():
        best = int(np.argmax(gain))
        new = table[best] & left
        chosen.append(best)
        left &= ~new
        gain -= table[:, new].sum(axis=1)
    return chosen


def _pruned(table: Table, chosen: list[int]) -> list[int]:
    """Without the rows that the others make needless, the latest choice looked at first."""
    times = table[chosen].sum(axis=0)
    kept = list(chosen)
    for row in reversed(chosen):
        if (times[table[row]] > 1).all():
            kept.remove(row)
            times = times - table[row]
    return kept


def _solved(table: Table, cost: Array, start: list[int], seconds: float) -> tuple[list[int], int]:
    """A smaller cover where the solver finds one in time, and the proven bound."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    needed = _undominated(table)
    matrix = csr_array(table[:, needed].T.astype(float))
    found = milp(
        1.0 + cost,
        constraints=LinearConstraint(matrix, lb=1.0),
        integrality=np.ones(table.shape[0], dtype=np.int8),
        bounds=Bounds(0.0, 1.0),
        options={"time_limit": seconds},
    )
    bound = 1
    if found.mip_dual_bound is not None and math.isfinite(found.mip_dual_bound):
        # The ties' costs add less than one in all.
        bound = max(1, math.ceil(found.mip_dual_bound - float(cost.max()) * len(start) - 1e-6))
    if found.x is None:
        return start, bound
    better = _pruned(table, [int(row) for row in np.flatnonzero(found.x > 0.5)])
    whole = table[better].any(axis=0).all()
    return (better if whole and len(better) <= len(start) else start), bound


def _undominated(table: Table) -> npt.NDArray[np.intp]:
    """Columns without those that are found whenever a rarer one is found."""
    order = np.argsort(table.sum(axis=0), kind="stable")
    kept: list[int] = []
    free = np.ones(table.shape[1], dtype=bool)
    for column in order:
        if not free[column]:
            continue
        kept.append(int(column))
        rows = np.flatnonzero(table[:, column])
        free &= ~table[rows].all(axis=0)
    return np.array(kept, dtype=np.intp)
