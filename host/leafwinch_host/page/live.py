"""Which conductors carry voltage at one moment: the network solved at every terminal.

Voltage counts from the minus pole of the supply that feeds that part of the network, so that a
battery whose poles are both free of earth reads as one expects of a voltmeter. Defects are in it:
behind a broken wire a conductor is dead, or fed backwards through what hangs on it.
"""

from dataclasses import dataclass

import numpy as np

from leafwinch_wiring.block import stamp
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit
from leafwinch_wiring.resistors import EARTH

LIVE_RATIO = 0.1
"""What has more than this part of its supply's nominal voltage counts as live."""

KEPT_MAX = 2000


@dataclass(frozen=True, slots=True)
class Live:
    """What carries voltage.

    Attributes:
        nets: names of nets of which any terminal does.
        wires: marks of wires of which both ends do.
    """

    nets: tuple[str, ...]
    wires: tuple[str, ...]


class LiveFinder:
    """Solves and keeps what is live for each set of closed elements of a netlist."""

    def __init__(self, net: Netlist) -> None:
        self.net = net
        self._kept: dict[tuple[int, int], Live] = {}
        self._circuits: dict[int, Circuit] = {}  # keeps them, so that no number comes again

    def of(self, circuit: Circuit, mask: int) -> Live:
        """Return what is live in a circuit with these elements closed (see Circuit.solve)."""
        key = (id(circuit), mask)
        found = self._kept.get(key)
        if found is None:
            if len(self._kept) >= KEPT_MAX or len(self._circuits) > KEPT_MAX // 20:
                self._kept.clear()
                self._circuits.clear()
            self._circuits[id(circuit)] = circuit
            found = self._kept[key] = self._work_out(circuit, mask)
        return found

    def _work_out(self, circuit: Circuit, mask: int) -> Live:
        volts = terminal_volts(circuit, mask)
        nominal = self._references(circuit, mask)
        live = set()
        for terminal in self.net.terminals:
            node = circuit.node(terminal)
            for group, minus, nominal_v in nominal:
                if node in group and abs(volts[node] - volts[minus]) > LIVE_RATIO * nominal_v:
                    live.add(terminal)
        nets = dict.fromkeys(self.net.net_of[t] for t in self.net.terminals if t in live)
        wires = [w.mark for w in self.net.wires if w.a in live and w.b in live]
        return Live(tuple(nets), tuple(wires))

    def _references(self, circuit: Circuit, mask: int) -> list[tuple[set[str], str, float]]:
        """Return for each source: nodes it may feed, its minus node, its nominal voltage."""
        joined = _joined(circuit, circuit.effective(mask))
        found = []
        for ref, part in self.net.parts.items():
            if part.source is not None:
                plus, minus = (circuit.node(f"{ref}:{t}") for t in part.source.terminals)
                nodes = {node for pole in (plus, minus) for node in joined.get(pole, {pole})}
                found.append((nodes, minus, part.source.nominal_v))
        return found


def terminal_volts(circuit: Circuit, mask: int) -> dict[str, float]:
    """Return the voltage to earth in V of every node with these elements closed.

    Nodal analysis with the same conductors, supplies and insulation as the bench's own network
    (method: any textbook of circuit analysis, from memory).
    """
    effective = circuit.effective(mask)
    nodes = [*dict.fromkeys(circuit.node(t) for t in circuit.net.terminals if t != EARTH)]
    index = {node: place for place, node in enumerate(nodes) if node != EARTH}
    matrix = np.zeros((len(nodes), len(nodes)))
    for item in circuit.fixed:
        stamp(matrix, index.get(item.a, -1), index.get(item.b, -1), item.ohm)
    for bit, a, b, ohm in circuit.movable:
        if effective >> bit & 1:
            stamp(matrix, index.get(a, -1), index.get(b, -1), ohm)
    matrix[np.diag_indices(len(nodes))] += 1.0 / circuit.net.insulation_ohm
    current = np.array([circuit.injected.get(node, 0.0) for node in nodes])
    solved = np.linalg.solve(matrix, current)
    volts = {node: float(solved[place]) for node, place in index.items()}
    volts[EARTH] = 0.0
    return volts


def _joined(circuit: Circuit, effective: int) -> dict[str, set[str]]:
    """Return for each node the nodes that conductors join to it, earth left out."""
    joints = [(item.a, item.b) for item in circuit.fixed]
    joints += [(a, b) for bit, a, b, _ in circuit.movable if effective >> bit & 1]
    groups: dict[str, set[str]] = {}
    for a, b in joints:
        if EARTH in (a, b):
            continue
        one, other = groups.setdefault(a, {a}), groups.setdefault(b, {b})
        if one is not other:
            one |= other
            for node in other:
                groups[node] = one
    return groups
