"""What a meter reads between any two terminals, for thousands of miswired circuits at once.

Wires and closed contacts count as joined, all circuits are followed side by side, and only
what is left between the joined groups is solved as resistances. That is within `WIRES_OHM`
of `measure.resistances`, which solves each circuit whole and takes a hundred times as long.

The supply is taken off with both poles, so nothing of the network outside is measured.

An electronic load has no resistance that a meter could be held to: a lamp may be a diode, a
supply's input a rectifier. It reads its stated resistance or anything above, up to open. By
Rayleigh's monotonicity law (Doyle and Snell, Random Walks and Electric Networks, 1984,
section 1.4.1) every reading then lies between the one with these loads as stated and the one
without them; only coils, windings and contacts are copper that can be relied on.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from leafwinch_wiring.block import Array
from leafwinch_wiring.defect_types import Effects
from leafwinch_wiring.equal_rows import equal_rows
from leafwinch_wiring.measure import resistances
from leafwinch_wiring.miswires import Miswire
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit
from leafwinch_wiring.resistors import EARTH, Resistor, resistors_of

Labels = npt.NDArray[np.int16]
Columns = npt.NDArray[np.intp]

WIRES_OHM = 3.0
"""Largest sum of wires and contacts along one path in ohm, which the quick reading leaves out."""

OPEN_OHM = 1e5
"""Above this a path counts as open in ohm.

It lies above all loads of a machine in series, and below the 1 Mohm of insulation that
IEC 60204-1, 18.3, asks for (from memory).
"""

JOINT_OHM = 0.5
"""A fixed resistance below this is a conductor, such as the primary of a current sensor."""


DIODE_OHM = 100.0
"""Least reading of a rectifier's leg in ohm, whatever it has under load.

A silicon junction drops some 0.5 V, and a meter sends 1 mA or less: textbook values, from memory.
"""


@dataclass(frozen=True, slots=True)
class Prepared:
    """The circuit as it is measured: each fixed resistance's lowest and highest reading.

    `low` and `high` hold what differs from the netlist: the supply's own connection is off, and
    electronic loads read from `low` up to open.
    """

    low: Effects
    high: Effects


@lru_cache(maxsize=16)
def prepared(net: Netlist) -> Prepared:
    """What each fixed resistance of a netlist reads with the supply taken off."""
    copper = {f"{coil.name}:coil" for coil in net.coils}
    off, legs = set(), set()
    for ref, part in net.parts.items():
        copper |= {f"{ref}:{winding.name}" for winding in part.windings}
        if part.source is not None:
            off |= {f"{ref}:source", *([f"{ref}:earth"] if part.source.earthed else [])}
        if part.kind == "rectifier":
            legs |= {f"{ref}:{load.name}" for load in part.loads}
    copper |= {wire.mark for wire in net.wires}
    low, high = [], []
    for item in resistors_of(net):
        if item.name in off:
            low.append((item.name, math.inf))
        elif item.name in legs and item.ohm < DIODE_OHM:
            low.append((item.name, DIODE_OHM))
        if item.name not in copper and (item.ohm >= JOINT_OHM or item.name in off):
            high.append((item.name, math.inf))
    return Prepared(Effects(series=tuple(low)), Effects(series=tuple(high)))


def loads_of(net: Netlist) -> tuple[Resistor, ...]:
    """Every fixed resistance that is no mere conductor: neither a wire nor below `JOINT_OHM`."""
    marks = {wire.mark for wire in net.wires}
    lost = {name for name, _ in prepared(net).high.series}
    return tuple(
        item
        for item in resistors_of(net)
        if item.name not in marks and (item.ohm >= JOINT_OHM or item.name in lost)
    )


@lru_cache(maxsize=8)
def _circuits(net: Netlist, item: Miswire | None) -> tuple[Circuit, Circuit]:
    """One circuit with the lowest and one with the highest readings."""
    effects = (item.effects,) if item else ()
    both = prepared(net)
    return Circuit(net, (*effects, both.low)), Circuit(net, (*effects, both.high))


def exact(
    net: Netlist, item: Miswire | None, mask: int, pairs: Sequence[tuple[str, str]]
) -> list[tuple[float, float]]:
    """Lowest and highest reading in ohm of each pair in one circuit, solved whole.

    Args:
        net: the netlist.
        item: the mistake, or None for the sound circuit.
        mask: elements closed in the sound circuit, supplies and drivers out.
        pairs: two terminals each.
    """
    state = item.state(net, mask) if item else mask
    low, high = (resistances(circuit, state, pairs) for circuit in _circuits(net, item))
    return list(zip(low, high, strict=True))


class Readings:
    """Quick readings of many circuits; column 0 is the sound one, column i mistake i - 1."""

    def __init__(self, net: Netlist, items: Sequence[Miswire]) -> None:
        """Lay out the conductors, and in which columns each is missing or added."""
        self.net = net
        self.count = len(items) + 1
        self.row = {terminal: row for row, terminal in enumerate(net.terminals)}
        earths = [t for t in net.terminals if net.parts[t.split(":")[0]].kind == "earth"]
        # The reference node is one row more, joined to every earth bar.
        self.row[EARTH] = len(self.row)
        marks = {wire.mark for wire in net.wires}
        cut: dict[str, list[int]] = {wire.mark: [] for wire in net.wires}
        turned: dict[str, list[int]] = {name: [] for name in net.element_names}
        slots: list[list[tuple[int, int, int]]] = []
        for column, item in enumerate(items, 1):
            for mark, _ in item.effects.series:
                cut[mark].append(column)
            for name in item.inverted:
                turned[name].append(column)
            for slot, (a, b, _) in enumerate(item.effects.links):
                if slot == len(slots):
                    slots.append([])
                slots[slot].append((column, self.row[a], self.row[b]))
        self._joints = [(self.row[w.a], self.row[w.b], _columns(cut[w.mark])) for w in net.wires]
        self._joints += [(self.row[t], self.row[EARTH], _columns([])) for t in earths]
        lows, highs = dict(prepared(net).low.series), dict(prepared(net).high.series)
        loads = loads_of(net)
        apart = marks | {item.name for item in loads}
        self._joints += [
            (self.row[r.a], self.row[r.b], _columns([]))
            for r in resistors_of(net)
            if r.name not in apart
        ]
        self._loads = [
            [(self.row[r.a], self.row[r.b], 1.0 / ohms.get(r.name, r.ohm)) for r in loads]
            for ohms in (lows, highs)
        ]
        self._turned = {name: _columns(columns) for name, columns in turned.items()}
        self._links = [np.array(slot, dtype=np.intp).T for slot in slots]
        self._mask = -1
        self._labels: Labels = np.zeros((0, 0), dtype=np.int16)

    def labels(self, mask: int) -> Labels:
        """For each terminal and circuit, the lowest row joined to it by wires and contacts."""
        if mask == self._mask:
            return self._labels
        joints = list(self._joints)
        extra = list(self._links)
        for index, element in enumerate(self.net.elements):
            a, b, turned = self.row[element.a], self.row[element.b], self._turned[element.name]
            if mask >> index & 1:
                joints.append((a, b, turned))
            elif len(turned):
                extra.append(np.array([turned, turned * 0 + a, turned * 0 + b]))
        joints = _along_paths(joints, len(self.row))
        found = np.repeat(np.arange(len(self.row), dtype=np.int16)[:, None], self.count, axis=1)
        while True:
            before = found.copy()
            for order in (joints, joints[::-1]):
                for column, a, b in extra:
                    low = np.minimum(found[a, column], found[b, column])
                    found[a, column] = low
                    found[b, column] = low
                for one, two, missing in order:
                    kept = found[one, missing], found[two, missing]
                    np.minimum(found[one], found[two], out=found[one])
                    found[two] = found[one]
                    found[one, missing], found[two, missing] = kept
            if np.array_equal(before, found):
                break
        self._mask, self._labels = mask, found
        return found

    def between(self, mask: int) -> "Between":
        """The readings of one state, for any pairs of terminals."""
        labels = self.labels(mask)
        found = Patterns(labels, {row for a, b, _ in self._loads[0] for row in (a, b)})
        # One group more is for what no resistance touches: open to every other.
        size = found.size + 1
        node = np.full((found.count, len(self.row)), found.size, dtype=np.intp)
        node[found.every[None, :], found.names] = found.rank
        solved = []
        for loads in self._loads:
            inverse = np.linalg.inv(found.matrices(loads, self.net.insulation_ohm))
            own = np.diagonal(inverse, axis1=1, axis2=2).copy()
            inverse *= 2.0
            ohms = np.full((found.count, size, size), np.inf)
            inner = ohms[:, :-1, :-1]
            # In place, since the tables have millions of cells.
            np.add(own[:, :, None], own[:, None, :], out=inner)
            inner -= inverse
            solved.append(ohms.reshape(-1))
        groups = node[found.kind[None, :], labels]
        return Between(self.row, labels, groups, found.kind * size, (size, solved[0], solved[1]))


class Patterns:
    """How the ends of loads are joined: each way of joining them once, whatever circuit has it.

    `kind` has each circuit's pattern. In each pattern (column) the groups of joined ends are
    numbered from 0: `groups` for each end (row, by `place`), `rank` for each of `names`.
    """

    def __init__(self, labels: Labels, ends: Iterable[int]) -> None:
        """Find the patterns of a table that `Readings.labels` returned, at some of its rows."""
        chosen = sorted(set(ends))
        self.place = {row: number for number, row in enumerate(chosen)}
        joined = labels[chosen].T
        # In the order in which they appear neighbours have patterns close by.
        self.kind, first = equal_rows(joined)
        self.count = len(first)
        self.every = np.arange(self.count)
        patterns = joined[first]
        order = np.argsort(patterns, axis=1)
        self.names = np.take_along_axis(patterns, order, axis=1).T
        rank = np.zeros(patterns.shape, dtype=np.intp)
        rank[:, 1:] = np.cumsum(self.names[1:] != self.names[:-1], axis=0).T
        groups = np.zeros(patterns.shape, dtype=np.intp)
        np.put_along_axis(groups, order, rank, axis=1)
        self.rank, self.groups = rank.T, groups.T
        self.size = int(self.rank[-1].max()) + 1

    def matrices(self, loads: Iterable[tuple[int, int, float]], insulation_ohm: float) -> Array:
        """Conductances in S between the groups of each pattern.

        Args:
            loads: the rows of two ends, and the conductance in S between them.
            insulation_ohm: resistance in ohm of each group to what is around it.
        """
        matrix: Array = np.zeros((self.count, self.size, self.size))
        for a, b, conductance in loads:
            one, two = self.groups[self.place[a]], self.groups[self.place[b]]
            other = one != two
            one, two, at = one[other], two[other], self.every[other]
            matrix[at, one, one] += conductance
            matrix[at, two, two] += conductance
            matrix[at, one, two] -= conductance
            matrix[at, two, one] -= conductance
        matrix[:, np.arange(self.size), np.arange(self.size)] += 1.0 / insulation_ohm
        return matrix


class Between:
    """Readings of all circuits in one state."""

    def __init__(
        self,
        row: dict[str, int],
        labels: Labels,
        groups: Columns,
        start: Columns,
        solved: tuple[int, Array, Array],
    ) -> None:
        """Keep what `Readings.between` solved.

        Args:
            row: the row of each terminal in both tables.
            labels: the lowest row joined to each terminal (row) in each circuit (column).
            groups: the group of each terminal in the pattern of each circuit.
            start: where in `solved` each circuit's pattern starts, in groups.
            solved: number of groups, and for any two of each pattern the two readings in ohm.
        """
        self._row = row
        self._labels = labels
        self._groups = groups
        self._start = start
        self._size, self._low, self._high = solved

    def read(
        self, pairs: Sequence[tuple[str, str]], most: int | None = None
    ) -> tuple[Array, Array]:
        """Lowest and highest reading in ohm of each pair of terminals (row) and circuit (column).

        Zero says that wires and contacts join the two.

        Args:
            pairs: two terminals each.
            most: how many of the circuits are read, the sound one first; all of them when None.
        """
        one, two = [self._row[a] for a, _ in pairs], [self._row[b] for _, b in pairs]
        groups, labels = self._groups[:, :most], self._labels[:, :most]
        place = (self._start[:most] + groups[one]) * self._size + groups[two]
        low, high = self._low.take(place), self._high.take(place)
        same = labels[one] == labels[two]
        low[same] = 0.0
        high[same] = 0.0
        return low, high


def _columns(found: list[int]) -> Columns:
    return np.array(found, dtype=np.intp)


def _along_paths(
    joints: list[tuple[int, int, Columns]], rows: int
) -> list[tuple[int, int, Columns]]:
    """The joints in the order in which a walk meets them, so that few sweeps are enough."""
    touching: list[list[int]] = [[] for _ in range(rows)]
    for number, (a, b, _) in enumerate(joints):
        touching[a].append(number)
        touching[b].append(number)
    order: list[int] = []
    taken = [False] * len(joints)
    seen = [False] * rows
    for start in range(rows):
        waiting = [start]
        while waiting:
            here = waiting.pop()
            if seen[here]:
                continue
            seen[here] = True
            for number in touching[here]:
                if not taken[number]:
                    taken[number] = True
                    order.append(number)
                a, b, _ = joints[number]
                waiting.append(b if a == here else a)
    return [joints[number] for number in order]
