"""One part of the resistive network, reduced to the nodes that movable elements touch.

Nodes that no movable element touches are eliminated once (a Schur complement, exact), so
that each solve handles only the rest. Answers are kept by the bits the part depends on.
"""

import math

import numpy as np
import numpy.typing as npt
from scipy.linalg.lapack import dposv

from leafwinch_wiring.resistors import Resistor

Array = npt.NDArray[np.float64]

MAX_KEPT = 200_000
"""Answers kept before the store starts afresh, so that long searches end."""


class Probe:
    """A measured voltage between two nodes, or with `element` >= 0 the current through it."""

    __slots__ = ("a", "b", "element", "scale")

    def __init__(self, a: str, b: str, scale: float = 1.0, element: int = -1) -> None:
        self.a = a
        self.b = b
        self.scale = scale
        self.element = element


class Block:
    """One part of the network that shares no conductor with the rest.

    `reduced` is the conductance matrix over the nodes that movable elements touch.
    A measured value is `probes @ voltages + offsets`.
    """

    __slots__ = (
        "bits",
        "conductance",
        "elements",
        "incidence",
        "kept",
        "offsets",
        "positions",
        "probe_element",
        "probes",
        "reduced",
        "rhs",
        "select",
    )

    def __init__(
        self,
        nodes: list[str],
        fixed: list[Resistor],
        movable: list[tuple[int, str, str, float]],
        probes: list[tuple[int, Probe]],
        injected: dict[str, float],
        insulation_ohm: float,
    ) -> None:
        """Eliminate the nodes that stay; `injected` is each node's source current in A."""
        index = {node: i for i, node in enumerate(nodes)}
        matrix = np.zeros((len(nodes), len(nodes)))
        for resistor in fixed:
            stamp(matrix, index.get(resistor.a, -1), index.get(resistor.b, -1), resistor.ohm)
        matrix[np.diag_indices(len(nodes))] += 1.0 / insulation_ohm
        current = np.array([injected.get(node, 0.0) for node in nodes])
        wanted = np.zeros((len(probes), len(nodes)))
        for row, (_, probe) in enumerate(probes):
            if probe.a in index:
                wanted[row, index[probe.a]] += probe.scale
            if probe.b in index:
                wanted[row, index[probe.b]] -= probe.scale
        touched = {node for _, a, b, _ in movable for node in (a, b) if node in index}
        keep = np.array([i for i, node in enumerate(nodes) if node in touched], dtype=np.intp)
        drop = np.array([i for i, node in enumerate(nodes) if node not in touched], dtype=np.intp)
        if len(drop):
            # One solve serves both the reduced matrix and the currents moved onto kept nodes.
            inner = np.linalg.solve(
                matrix[np.ix_(drop, drop)],
                np.column_stack([matrix[np.ix_(drop, keep)], current[drop]]),
            )
            back, inner_current = inner[:, :-1], inner[:, -1]
            coupling = matrix[np.ix_(keep, drop)]
            self.reduced: Array = matrix[np.ix_(keep, keep)] - coupling @ back
            self.rhs: Array = current[keep] - coupling @ inner_current
            self.probes: Array = wanted[:, keep] - wanted[:, drop] @ back
            self.offsets: Array = wanted[:, drop] @ inner_current
        else:
            self.reduced, self.rhs = matrix, current
            self.probes, self.offsets = wanted, np.zeros(len(probes))
        # The elimination is symmetric only up to rounding; the solver reads one triangle.
        self.reduced = np.asfortranarray((self.reduced + self.reduced.T) / 2.0)
        place = {nodes[i]: row for row, i in enumerate(keep)}
        self.incidence: Array = np.zeros((len(movable), len(keep)))
        for row, (_, a, b, _) in enumerate(movable):
            if a in place:
                self.incidence[row, place[a]] = 1.0
            if b in place:
                self.incidence[row, place[b]] = -1.0
        self.conductance: Array = np.array([1.0 / ohm for _, _, _, ohm in movable])
        self.elements = [element for element, _, _, _ in movable]
        self.bits = sum(1 << element for element in self.elements)
        self.positions = [position for position, _ in probes]
        self.probe_element = [probe.element for _, probe in probes]
        self.select = [1 << element for element in self.elements]
        self.kept: dict[int, list[float]] = {}

    def solve(self, mask: int) -> list[float]:
        """Measured values for the closed elements in mask, kept for the next time."""
        mask &= self.bits
        known = self.kept.get(mask)
        if known is not None:
            return known
        closed = [row for row, bit in enumerate(self.select) if mask & bit]
        if not len(self.rhs):
            values: list[float] = self.offsets.tolist()
        else:
            touching = self.incidence[closed]
            matrix = self.reduced + (touching.T * self.conductance[closed]) @ touching
            _, voltage, info = dposv(matrix, self.rhs, lower=1, overwrite_a=1)
            if info != 0:
                raise ArithmeticError(f"The network is not solvable (row {info}).")
            values = (self.probes @ voltage + self.offsets).tolist()
        for row, element in enumerate(self.probe_element):
            if element >= 0 and not mask >> element & 1:
                values[row] = 0.0
        if len(self.kept) >= MAX_KEPT:
            self.kept.clear()
        self.kept[mask] = values
        return values


def stamp(matrix: Array, a: int, b: int, ohm: float) -> None:
    """Add a resistor between two rows; -1 stands for earth, infinite ohm for nothing."""
    if a == b or not math.isfinite(ohm):
        return
    conductance = 1.0 / ohm
    if a >= 0:
        matrix[a, a] += conductance
    if b >= 0:
        matrix[b, b] += conductance
    if a >= 0 and b >= 0:
        matrix[a, b] -= conductance
        matrix[b, a] -= conductance
