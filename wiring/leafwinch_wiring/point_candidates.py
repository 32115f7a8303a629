"""Measurements that may stand on the point-to-point sheet, and which miswires each finds.

A path is measured from end to end, which proves all of its wires and contacts at once: so the
candidates are pairs of terminals where a path ends, in each state. What those leave unfound is
looked for once more between any two terminals of the nets it touches.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from leafwinch_wiring.continuity import Measurement, state_for
from leafwinch_wiring.equal_rows import equal_rows
from leafwinch_wiring.miswires import Miswire
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_limits import Limits, limits
from leafwinch_wiring.point_readings import OPEN_OHM, WIRES_OHM, Between, Readings, exact

Progress = Callable[[int, int], None]
Found = npt.NDArray[np.bool_]
Pair = tuple[str, str]
Keys = set[tuple[str, str, str, str]]

CELLS_AT_ONCE = 400_000
FAR_OPEN = 2.0
"""What the quick reading has this many times above `OPEN_OHM` is open whatever the wires do."""

QUICK_SHARE = 0.01
"""How far a quick reading may be off beside the wires it leaves out: insulation, rounding."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A measurement that might be made; `low_ohm` and `high_ohm` are the sound circuit's.

    `closed` says that wires and contacts alone join the two terminals.
    """

    a: str
    b: str
    operated: str
    acts: str
    low_ohm: float
    high_ohm: float
    closed: bool

    @property
    def limits(self) -> Limits:
        """What counts as the expected reading."""
        return limits(self.low_ohm, self.high_ohm, self.closed)


def accessible(net: Netlist) -> list[str]:
    """Every terminal that a tip can touch, an earth bar once."""
    return [
        f"{ref}:{terminal}"
        for ref, part in net.parts.items()
        for terminal in (part.terminals[:1] if part.kind == "earth" else part.terminals)
    ]


def states(net: Netlist) -> list[tuple[str, str, int]]:
    """Device, how it is worked and the elements then closed; first all at rest."""
    found = [("", "", state_for(net, Measurement("", "", "", "", "")))]
    for element in net.elements:
        key = (element.part, element.acts)
        if element.role not in ("driver", "supply") and key not in [item[:2] for item in found]:
            found.append((*key, state_for(net, Measurement("", "", "", *key))))
    return found


class _Paths:
    """Which terminals are paths' ends in a state, and which path each is on."""

    def __init__(self, net: Netlist, mask: int) -> None:
        reading = Readings(net, ())
        labels = reading.labels(mask)[:, 0]
        self.group = {terminal: int(labels[reading.row[terminal]]) for terminal in net.terminals}
        degree = dict.fromkeys(net.terminals, 0)
        joints = [(wire.a, wire.b) for wire in net.wires]
        joints += [(e.a, e.b) for i, e in enumerate(net.elements) if mask >> i & 1]
        for a, b in joints:
            degree[a] += 1
            degree[b] += 1
        self.ends = [t for t in accessible(net) if degree[t] <= 1]
        self.first: dict[int, str] = {}
        for terminal in self.ends:
            self.first.setdefault(self.group[terminal], terminal)
        # A ring has no end: any of its terminals will do.
        for terminal in accessible(net):
            if self.group[terminal] not in self.first:
                self.first[self.group[terminal]] = terminal
                self.ends.append(terminal)


def _pairs(net: Netlist, operated: str, acts: str, mask: int) -> list[Pair]:
    """Ends of paths two and two.

    With a device worked only the ends that its contacts cut off or join on: each with each, and
    each with one end of every other path. The largest path it touches counts as staying.
    """
    paths = _Paths(net, mask)
    if not operated:
        return list(combinations(paths.ends, 2))
    moved = [e for e in net.elements if e.part == operated and e.acts == acts]
    apart = _Paths(net, mask & ~net.mask_of(e.name for e in moved)).group
    touched = {apart[t] for e in moved for t in (e.a, e.b)}
    size = Counter(apart.values())
    near = [
        t for t in paths.ends if apart[t] in touched - {max(sorted(touched), key=lambda g: size[g])}
    ]
    pairs = list(combinations(near, 2))
    pairs += [(t, other) for t in near for other in paths.first.values() if other not in near]
    return pairs


def candidates(
    net: Netlist, items: Sequence[Miswire], progress: Progress | None = None
) -> tuple[list[Candidate], Found, Found]:
    """The candidates, for each (row) which of `items` (column) it surely finds, and the unreadable.

    Unreadable are items that leave the same terminals joined in every state, so that no reading
    changes.

    Args:
        net: the netlist.
        items: the miswires to find.
        progress: called with the number of states done and their total.
    """
    every = states(net)
    wanted = [_pairs(net, *state) for state in every]
    listed, table, same = _tables(net, items, wanted, progress)
    for look in (_second_look, _third_look):
        left = np.flatnonzero(~table.any(axis=0) & ~same)
        if not len(left):
            break
        more, proven = look(net, [items[int(column)] for column in left])
        extra, extra_table, _ = _tables(net, items, more, None)
        for row, candidate in enumerate(extra):
            for place, column in enumerate(left):
                key = (candidate.operated, candidate.acts, candidate.a, candidate.b)
                extra_table[row, column] |= key in proven[place]
        listed += extra
        table = np.concatenate([table, extra_table])
    return listed, table, same


def _tables(
    net: Netlist,
    items: Sequence[Miswire],
    wanted: Sequence[Sequence[Pair]],
    progress: Progress | None,
) -> tuple[list[Candidate], Found, Found]:
    """Which items each of the wanted pairs of each state finds, and which change no reading."""
    reading = Readings(net, items)
    same: Found = np.ones(len(items), dtype=bool)
    listed: list[Candidate] = []
    tables = [np.zeros((0, len(items)), dtype=bool)]
    for number, (state, pairs) in enumerate(zip(states(net), wanted, strict=True)):
        if pairs:
            made, found = judged(net, reading, state, pairs)
            listed += made
            tables.append(found)
        labels = reading.labels(state[2])
        same &= (labels[:, 1:] == labels[:, :1]).all(axis=0)
        if progress:
            progress(number + 1, len(wanted))
    return listed, np.concatenate(tables), same


def judged(
    net: Netlist, reading: Readings, state: tuple[str, str, int], pairs: Sequence[Pair]
) -> tuple[list[Candidate], Found]:
    """Candidates of one state, and where a quick reading is surely outside their limits."""
    operated, acts, mask = state
    between = reading.between(mask)
    sound = _sound(net, between, mask, pairs)
    made: list[Candidate] = []
    found: Found = np.zeros((len(pairs), reading.count - 1), dtype=bool)
    # Few pairs at once, so that the tables of thousands of circuits stay in the cache.
    at_once = max(1, CELLS_AT_ONCE // reading.count)
    for start in range(0, len(pairs), at_once):
        part = pairs[start : start + at_once]
        low, high = between.read(part)
        good = np.zeros((len(part), 2))
        for row, ((a, b), ohms) in enumerate(zip(part, sound[start:], strict=False)):
            made.append(Candidate(a, b, operated, acts, *ohms, bool(high[row, 0] == 0.0)))
            good[row] = made[-1].limits.low, made[-1].limits.high
        above = low * (1.0 - QUICK_SHARE) > good[:, 1:]
        below = high * (1.0 + QUICK_SHARE) + WIRES_OHM < good[:, :1]
        found[start : start + at_once] = (above | below)[:, 1:]
    return made, found


def _sound(
    net: Netlist, between: Between, mask: int, pairs: Sequence[Pair]
) -> list[tuple[float, float]]:
    """Lowest and highest reading of each pair in the sound circuit, whole where that matters."""
    low, high = between.read(pairs, 1)
    found = list(zip(low[:, 0].tolist(), high[:, 0].tolist(), strict=True))
    # Most pairs are open by far, and how far makes no difference.
    near = [place for place, ohms in enumerate(found) if ohms[0] < FAR_OPEN * OPEN_OHM]
    if near:
        whole = exact(net, None, mask, [pairs[place] for place in near])
        for place, ohms in zip(near, whole, strict=True):
            found[place] = ohms
    return found


def _second_look(net: Netlist, items: Sequence[Miswire]) -> tuple[list[list[Pair]], list[Keys]]:
    """For each state pairs of any terminals on the nets touched that find what ends do not.

    Of those that find the same the closest together are kept, and the first state that finds
    a miswire is enough.
    """
    nets = {net.net_of[end] for item in items for end in touched_ends(net, item)}
    near = [t for t in accessible(net) if net.net_of[t] in nets]
    pairs = sorted(combinations(near, 2), key=lambda pair: far_apart(net, *pair))
    reading = Readings(net, items)
    wanted: list[list[Pair]] = []
    missing = np.ones(len(items), dtype=bool)
    for state in states(net):
        chosen: list[Pair] = []
        if missing.any():
            _, found = judged(net, reading, state, pairs)
            found &= missing
            useful = np.flatnonzero(found.any(axis=1))
            if len(useful):
                _, first = equal_rows(np.packbits(found[useful], axis=1))
                chosen = [pairs[row] for row in useful[first]]
            missing &= ~found.any(axis=0)
        wanted.append(chosen)
    return wanted, [set() for _ in items]


def _third_look(net: Netlist, items: Sequence[Miswire]) -> tuple[list[list[Pair]], list[Keys]]:
    """What the quick reading is too coarse for: each circuit solved whole, near the mistake."""
    wanted: list[list[Pair]] = []
    proven: list[Keys] = [set() for _ in items]
    reading = Readings(net, ())
    for operated, acts, mask in states(net):
        chosen: set[Pair] = set()
        between = reading.between(mask)
        for item, keys in zip(items, proven, strict=True):
            ends = touched_ends(net, item)
            near = list(combinations([t for t in accessible(net) if t in ends], 2))
            if not near:
                continue
            closed = between.read(near)[1][:, 0] == 0.0
            sound, found = exact(net, None, mask, near), exact(net, item, mask, near)
            for (a, b), ohms, joined, (low, high) in zip(near, sound, closed, found, strict=True):
                good = limits(*ohms, bool(joined))
                if low > good.high or high < good.low:
                    chosen.add((a, b))
                    keys.add((operated, acts, a, b))
        wanted.append(sorted(chosen))
    return wanted, proven


def touched_ends(net: Netlist, item: Miswire) -> set[str]:
    """The terminals that a miswire is about."""
    marks = {mark for mark, _ in item.effects.series}
    ends = {end for a, b, _ in item.effects.links for end in (a, b)}
    ends |= {end for wire in net.wires if wire.mark in marks for end in (wire.a, wire.b)}
    ends |= {end for e in net.elements if e.name in item.inverted for end in (e.a, e.b)}
    return ends


def far_apart(net: Netlist, a: str, b: str) -> int:
    """0 for two terminals of one device, 1 for two in one place, 2 when a long lead is needed."""
    if a.split(":")[0] == b.split(":")[0]:
        return 0
    return 1 if net.location_of(a) == net.location_of(b) else 2
