"""What the walk over the inputs shows, for thousands of miswired circuits at once.

As in `point_readings`, wires and closed contacts count as joined, and only what lies between is
solved: each way of joining once, by nodal analysis. Where a short, a trip or a voltage near its
threshold might hang on the wires that are left out, the answer is "perhaps", and
`input_walk.finds` has to solve that circuit whole. No answer is given that it would not give.
"""

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from leafwinch_wiring.block import Array
from leafwinch_wiring.miswires import Miswire
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_readings import Patterns, Readings, loads_of
from leafwinch_wiring.resistors import EARTH

Flags = npt.NDArray[np.bool_]

BOARD_RUNS_MV = 18_000
"""Below this supply in mV the board counts as dark; three quarters of 24 V, common practice."""

NEAR = 0.1
"""A voltage this near to its threshold, as a share of it, is left to the whole solution."""

CALM = 0.5
"""Up to this share of what trips a device nothing trips, whatever the wires' resistance is."""


def least_feed(net: Netlist) -> float:
    """Ratio of its feed's nominal voltage below which the control supply gives nothing.

    Zero where no control supply is fed from the power side.
    """
    sources = [part.source for part in net.parts.values() if part.source and part.source.fed_by]
    return sources[0].feed_min if sources else 0.0


class QuickWalk:
    """The circuits of some miswires with the supply on, column 0 being the sound one."""

    def __init__(self, net: Netlist, items: Sequence[Miswire]) -> None:
        """Lay out the circuits and what is looked at in them."""
        self.net = net
        self.reading = Readings(net, items)
        row = self.reading.row
        self.loads = [(row[item.a], row[item.b], 1.0 / item.ohm) for item in loads_of(net)]
        self.sources = [
            (
                row[f"{ref}:{part.source.terminals[0]}"],
                row[f"{ref}:{part.source.terminals[1]}"],
                part.source,
            )
            for ref, part in net.parts.items()
            if part.source is not None
        ]
        # Two ends, the least voltage that counts, and whether its sign does.
        self.seen: list[tuple[int, int, float, bool]] = []
        self._look_at_boards()
        self.seen += [
            (row[coil.a], row[coil.b], coil.pull_in * coil.nominal_v, False) for coil in net.coils
        ]
        # Poles stay resistances, so that the current through each is known.
        self.guards: list[tuple[list[tuple[int, int, float]], float, float]] = []
        self.poles = 0
        for ref, part in net.parts.items():
            if part.protection is not None:
                own = [e for e in net.elements if e.part == ref and e.role == "protect"]
                own = [e for e in own if e.closed_at_rest]
                self.poles |= net.mask_of(e.name for e in own)
                poles = [(row[e.a], row[e.b], 1.0 / e.ohm) for e in own]
                residual_a = part.protection.residual_ma / 1000.0 or np.inf
                self.guards.append((poles, part.protection.trip_a, residual_a))
                self.loads += poles

    def _look_at_boards(self) -> None:
        """The boards' supplies and inputs, and what the control supply is fed with."""
        row = self.reading.row
        nominal = {p.source.feeds: p.source.nominal_v for p in self.net.parts.values() if p.source}
        for part in self.net.boards:
            if part.board is not None:
                plus, common = (row[f"{part.ref}:{name}"] for name in part.board.supply)
                self.seen.append((plus, common, BOARD_RUNS_MV / 1000.0, True))
                self.seen += [
                    (row[f"{part.ref}:{item.terminal}"], common, part.board.threshold_v, True)
                    for item in part.board.inputs
                ]
        for ref, part in self.net.parts.items():
            if part.source is not None and part.source.fed_by is not None:
                plus, minus = (row[f"{ref}:{name}"] for name in part.source.fed_by)
                least = part.source.feed_min * nominal["power"]
                self.seen.append((plus, minus, least, self.net.drive != "capacitor_run"))

    def step(self, mask: int, which: Flags) -> tuple[Flags, Flags]:
        """For each circuit of `which` whether it surely differs from the sound one, or might.

        Args:
            mask: the elements closed in the sound circuit.
            which: the circuits to solve, true for each; the sound one is solved anyway.
        """
        columns = np.concatenate([[0], np.flatnonzero(which[1:]) + 1])
        ends = [end for a, b, _ in self.loads for end in (a, b)]
        ends += [end for a, b, _ in self.sources for end in (a, b)]
        ends += [end for a, b, _, _ in self.seen for end in (a, b)]
        earth = self.reading.row[EARTH]
        labels = self.reading.labels(mask & ~self.poles)
        found = Patterns(labels[:, columns], [*ends, earth])
        volts = self._volts(found, earth)
        one = [found.place[item[0]] for item in self.seen]
        two = [found.place[item[1]] for item in self.seen]
        least = np.array([item[2] for item in self.seen])[:, None]
        across = volts[one] - volts[two]
        signed = np.array([item[3] for item in self.seen])[:, None]
        across = np.where(signed, across, np.abs(across))
        near = (np.abs(across - least) < NEAR * least).any(axis=0)
        doubt = (near | self._uneasy(found, volts))[found.kind]
        live = (across >= least)[:, found.kind]
        differs = (live != live[:, :1]).any(axis=0)
        shown, perhaps = np.zeros_like(which), np.zeros_like(which)
        # Nothing is sure in comparison with a sound circuit that is not.
        doubt |= doubt[0]
        shown[columns] = differs & ~doubt
        perhaps[columns] = doubt
        return shown, perhaps

    def _volts(self, found: Patterns, earth: int) -> Array:
        """Voltage in V against earth of each end (row) in each pattern (column)."""
        matrix = found.matrices(self.loads, self.net.insulation_ohm)
        current = np.zeros((found.count, found.size, 1))
        for plus, minus, source in self.sources:
            amps = source.nominal_v / source.ohm
            current[found.every, found.groups[found.place[plus]], 0] += amps
            current[found.every, found.groups[found.place[minus]], 0] -= amps
        ground = found.groups[found.place[earth]]
        matrix[found.every, ground, :] = 0.0
        matrix[found.every, :, ground] = 0.0
        matrix[found.every, ground, ground] = 1.0
        current[found.every, ground, 0] = 0.0
        solved: Array = np.asarray(np.linalg.solve(matrix, current)[:, :, 0], dtype=np.float64)
        volts: Array = solved[found.every[None, :], found.groups]
        return volts

    def _uneasy(self, found: Patterns, volts: Array) -> Flags:
        """Patterns in which a source or a protective device carries more than it does calmly."""
        uneasy: Flags = np.zeros(found.count, dtype=bool)
        for plus, minus, source in self.sources:
            drop = source.nominal_v - (volts[found.place[plus]] - volts[found.place[minus]])
            uneasy |= np.abs(drop) > CALM * source.short_a * source.ohm
        for poles, trip_a, residual_a in self.guards:
            sums = np.zeros(found.count)
            for a, b, conductance in poles:
                one, two = found.place[a], found.place[b]
                current = (volts[one] - volts[two]) * conductance
                sums += current
                uneasy |= np.abs(current) > CALM * trip_a
                # How two ways side by side share the current hangs on the wires.
                uneasy |= found.groups[one] == found.groups[two]
            uneasy |= np.abs(sums) > CALM * residual_a
        return uneasy


def quick_walk(
    net: Netlist,
    items: Sequence[Miswire],
    masks: Sequence[int],
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Flags, Flags]:
    """Which miswires some step surely shows, and which of the others some step might show.

    Args:
        net: the netlist.
        items: the miswires.
        masks: for each step the elements closed in the sound circuit.
        progress: called with the number of steps done and their total.
    """
    walk = QuickWalk(net, items)
    shown: Flags = np.zeros(len(items) + 1, dtype=bool)
    perhaps: Flags = np.zeros(len(items) + 1, dtype=bool)
    for number, mask in enumerate(masks, 1):
        surely, might = walk.step(mask, ~shown)
        shown |= surely
        perhaps |= might
        if progress:
            progress(number, len(masks))
    return shown[1:], (perhaps & ~shown)[1:]
