"""Measurements on a circuit beyond what a run needs: resistances and contact currents.

Both solve the whole unreduced network, so they also check the reduced one.
"""

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from leafwinch_wiring.block import Array, stamp
from leafwinch_wiring.network import Circuit
from leafwinch_wiring.resistors import EARTH


@lru_cache(maxsize=8)
def _fixed_matrix(circuit: Circuit) -> tuple[dict[str, int], Array]:
    """Each node's row, and the conductance matrix in S of what does not move."""
    index: dict[str, int] = {}
    fixed = [(item.a, item.b, item.ohm) for item in circuit.fixed]
    for a, b, _ in [*fixed, *((a, b, 0.0) for _, a, b, _ in circuit.movable)]:
        for node in (a, b):
            if node != EARTH:
                index.setdefault(node, len(index))
    matrix = np.zeros((len(index), len(index)))
    for a, b, ohm in fixed:
        stamp(matrix, index.get(a, -1), index.get(b, -1), ohm)
    matrix[np.diag_indices(len(index))] += 1.0 / circuit.net.insulation_ohm
    return index, matrix


def _full_matrix(circuit: Circuit, mask: int) -> tuple[dict[str, int], Array]:
    """Each node's row, and the conductance matrix in S over all nodes."""
    effective = circuit.effective(mask)
    index, fixed = _fixed_matrix(circuit)
    matrix = fixed.copy()
    for bit, a, b, ohm in circuit.movable:
        if effective >> bit & 1:
            stamp(matrix, index.get(a, -1), index.get(b, -1), ohm)
    return index, matrix


def resistances(circuit: Circuit, mask: int, pairs: Sequence[tuple[str, str]]) -> list[float]:
    """Resistance in ohm between each pair of terminals, as an ohmmeter reads it in circuit.

    Take the supplies' bits out of `mask` first, as the isolator would. An open circuit
    reads the insulation resistance.
    """
    index, matrix = _full_matrix(circuit, mask)
    # A unit current in at one end and out at the other, one column for each pair.
    currents = np.zeros((len(index), len(pairs)))
    rows = [(index.get(circuit.node(a), -1), index.get(circuit.node(b), -1)) for a, b in pairs]
    for column, (a, b) in enumerate(rows):
        if a >= 0:
            currents[a, column] += 1.0
        if b >= 0:
            currents[b, column] -= 1.0
    voltages = np.linalg.solve(matrix, currents)
    found = []
    for column, (a, b) in enumerate(rows):
        high = voltages[a, column] if a >= 0 else 0.0
        low = voltages[b, column] if b >= 0 else 0.0
        # A terminal that every conductor has left is in no matrix and touches nothing.
        lost = any(
            row < 0 and circuit.node(name) != EARTH
            for row, name in zip((a, b), pairs[column], strict=True)
        )
        found.append(math.inf if lost else float(high - low))
    return found


def voltages(circuit: Circuit, mask: int) -> dict[str, float]:
    """Voltage in V of every node against earth."""
    index, matrix = _full_matrix(circuit, mask)
    current = np.array([circuit.injected.get(node, 0.0) for node in index])
    solved = np.linalg.solve(matrix, current)
    return {EARTH: 0.0, **{node: float(solved[row]) for node, row in index.items()}}


def contact_currents(circuit: Circuit, mask: int) -> dict[str, float]:
    """Current in A through every closed element, from its first terminal to its second."""
    effective = circuit.effective(mask)
    volts = voltages(circuit, mask)
    return {
        circuit.net.elements[bit].name: (volts[a] - volts[b]) / ohm
        for bit, a, b, ohm in circuit.movable
        if effective >> bit & 1
    }
