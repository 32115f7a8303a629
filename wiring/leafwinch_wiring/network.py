"""The resistive contact network: which inputs read live, which coils pull, what the motor gets.

Every wire, contact, coil, winding and input is a resistor, and each supply is a voltage
behind a resistance. Nodal analysis solves it for one set of closed elements; answers are kept.

The network falls into blocks that share no conductor, such as control and power. Insulation
of stated resistance from every node to earth keeps loose nodes solvable.
"""

import math
from collections.abc import Iterable

from leafwinch_wiring.block import MAX_KEPT, Block, Probe
from leafwinch_wiring.defect_types import Effects
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import CoilData, Netlist, signal_bit
from leafwinch_wiring.resistors import EARTH, Resistor, resistors_of


class Solution:
    """What one set of closed elements gives. Ratios are of the nominal voltage.

    `inputs` is the board's contact bit mask. `coil_ratio` follows `net.coils` and has no
    sign. `windings` is signed: the armature for a DC motor, main and auxiliary for a
    capacitor-run one, whose product is positive when raising. `supply_mv` is the control
    supply at the board. `feed_ratio` is what the control supply itself is fed with (1.0
    without one). `lamp_ratio` follows `circuit.lamp_names`. `trip_mask` has the bits of
    the protective elements that would open, and `short` says that something is shorted.
    """

    __slots__ = (
        "coil_ratio",
        "feed_ratio",
        "inputs",
        "lamp_ratio",
        "short",
        "supply_mv",
        "trip_mask",
        "windings",
    )

    def __init__(
        self,
        inputs: int,
        coil_ratio: tuple[float, ...],
        windings: tuple[float, ...],
        supply_mv: int,
        feed_ratio: float,
        lamp_ratio: tuple[float, ...],
        trip_mask: int,
        short: bool,
    ) -> None:
        self.inputs = inputs
        self.coil_ratio = coil_ratio
        self.windings = windings
        self.supply_mv = supply_mv
        self.feed_ratio = feed_ratio
        self.lamp_ratio = lamp_ratio
        self.trip_mask = trip_mask
        self.short = short


class Circuit:
    """A netlist with zero or more defects, ready to be solved for any set of closed elements."""

    def __init__(
        self, net: Netlist, defects: Iterable[Effects] = (), control_ratio: float = 1.0
    ) -> None:
        """Prepare the network.

        Args:
            net: the netlist.
            defects: wiring defects that are present together.
            control_ratio: voltage of the control supply as a ratio of its nominal one.

        Raises:
            BadInput: a defect names something that is not in this netlist.
        """
        self.net = net
        self.defects = tuple(defects)
        self.control_ratio = control_ratio
        for defect in self.defects:
            self.control_ratio *= defect.control_ratio
        self.held_closed = net.mask_of(n for d in self.defects for n in d.held_closed)
        self.held_open = net.mask_of(n for d in self.defects for n in d.held_open)
        self.force_closed = net.mask_of(n for d in self.defects for n in d.force_closed)
        self.force_open = net.mask_of(n for d in self.defects for n in d.force_open)
        self.inputs_1 = _signals(n for d in self.defects for n in d.inputs_1)
        self.inputs_0 = _signals(n for d in self.defects for n in d.inputs_0)
        self.lamp_names = tuple(
            ref for ref, part in net.parts.items() if part.kind in ("lamp", "buzzer")
        )
        self.fixed = self._fixed_resistors()
        self.movable = [
            (index, self.node(e.a), self.node(e.b), self._ohm_of(e.name, e.ohm))
            for index, e in enumerate(net.elements)
        ]
        self.injected = self._source_currents()
        self._kept: dict[int, Solution] = {}
        self._layout()
        self._blocks = [self._block(group) for group in self._groups()]

    def solve(self, mask: int) -> Solution:
        """Solve for mask, whose bit i is 1 while element i is closed or on."""
        try:
            return self._kept[mask]
        except KeyError:
            return self._solve_anew(mask)

    def effective(self, mask: int) -> int:
        """The mask after the defects: mechanisms first, then bridged, then dead contacts."""
        mask = (mask | self.held_closed) & ~self.held_open
        return (mask | self.force_closed) & ~self.force_open

    def _layout(self) -> None:
        """Fix which measured value stands at which position."""
        net = self.net
        self._probes: list[Probe] = []
        self._input_rows: list[tuple[int, int, float]] = []
        self._supply_row = -1
        for part in net.boards:
            board = part.board
            if board is None:
                continue
            plus, common = (f"{part.ref}:{terminal}" for terminal in board.supply)
            for item in board.inputs:
                row = self._add(Probe(f"{part.ref}:{item.terminal}", common))
                self._input_rows.append((row, signal_bit(item.signal), board.threshold_v))
            self._supply_row = self._add(Probe(plus, common, 1000.0))
        self._coil_rows = [
            self._add(Probe(coil.a, coil.b, self._coil_scale(coil))) for coil in net.coils
        ]
        self._winding_rows: list[int] = []
        self._lamp_rows: list[int] = []
        self._feed_row = -1
        self._source_rows: list[tuple[int, float]] = []
        self._trip_rows: list[tuple[tuple[int, ...], int, float, float]] = []
        nominal: dict[str, float] = {
            p.source.feeds: p.source.nominal_v for p in net.parts.values() if p.source
        }
        for ref, part in net.parts.items():
            for winding in part.windings:
                a, b = (f"{ref}:{terminal}" for terminal in winding.terminals)
                self._winding_rows.append(self._add(Probe(a, b, 1.0 / winding.nominal_v)))
            if ref in self.lamp_names:
                a, b = (f"{ref}:{terminal}" for terminal in part.loads[0].terminals)
                self._lamp_rows.append(self._add(Probe(a, b, 1.0 / nominal["control"])))
            if part.source is not None:
                a, b = (f"{ref}:{terminal}" for terminal in part.source.terminals)
                self._source_rows.append((self._add(Probe(a, b)), self._short_v(part.ref)))
                if part.source.fed_by is not None:
                    a, b = (f"{ref}:{terminal}" for terminal in part.source.fed_by)
                    self._feed_row = self._add(Probe(a, b, 1.0 / nominal["power"]))
            if part.protection is not None:
                self._add_protection(ref)

    def _add(self, probe: Probe) -> int:
        self._probes.append(probe)
        return len(self._probes) - 1

    def _coil_scale(self, coil: CoilData) -> float:
        """Ratio per volt at the terminals; an open coil has voltage but pulls nothing."""
        if math.isinf(self._ohm_of(f"{coil.name}:coil", coil.ohm)):
            return 0.0
        return 1.0 / coil.nominal_v

    def _short_v(self, ref: str) -> float:
        """Source voltage in V below which its current exceeds what counts as a short."""
        source = self.net.parts[ref].source
        if source is None:
            return 0.0
        ratio = self.control_ratio if source.feeds == "control" else 1.0
        return source.nominal_v * ratio - source.short_a * source.ohm

    def _add_protection(self, ref: str) -> None:
        """Measure the current through each pole of a protective device."""
        part = self.net.parts[ref]
        if part.protection is None:
            return
        rows, bits = [], 0
        for element_index, element in enumerate(self.net.elements):
            if element.part == ref and element.role == "protect":
                scale = 1.0 / self._ohm_of(element.name, element.ohm)
                rows.append(self._add(Probe(element.a, element.b, scale, element_index)))
                bits |= 1 << element_index
        residual_a = part.protection.residual_ma / 1000.0
        self._trip_rows.append((tuple(rows), bits, part.protection.trip_a, residual_a))

    def _ohm_of(self, name: str, ohm: float) -> float:
        """Resistance of an element, wire or load after the defects; infinite when open."""
        for defect in self.defects:
            for target, value in defect.series:
                if target == name:
                    ohm = value
        return ohm

    def node(self, terminal: str) -> str:
        """The node of a terminal; all terminals of an earth bar are the one earth node."""
        if terminal == EARTH or self.net.parts[terminal.split(":")[0]].kind == "earth":
            return EARTH
        return terminal

    def _fixed_resistors(self) -> list[Resistor]:
        """Every conductor that does not move, with the defects applied, open ones left out."""
        net = self.net
        fixed = [
            Resistor(item.name, item.a, item.b, self._ohm_of(item.name, item.ohm))
            for item in resistors_of(net)
        ]
        known = {item.name for item in fixed} | set(net.element_names)
        terminals = set(net.terminals) | {EARTH}
        for defect in self.defects:
            for target, _ in defect.series:
                if target not in known:
                    raise BadInput(f"Netlist {net.name} has no wire or element '{target}'.")
            for number, (a, b, ohm) in enumerate(defect.links):
                for end in (a, b):
                    if end not in terminals:
                        raise BadInput(f"Netlist {net.name} has no terminal '{end}'.")
                fixed.append(Resistor(f"link {number}", self.node(a), self.node(b), ohm))
        return [item for item in fixed if math.isfinite(item.ohm)]

    def _source_currents(self) -> dict[str, float]:
        """Each source as a current in A into its plus node, beside its own resistance."""
        injected: dict[str, float] = {}
        for ref, part in self.net.parts.items():
            if part.source is None:
                continue
            ratio = self.control_ratio if part.source.feeds == "control" else 1.0
            amps = part.source.nominal_v * ratio / part.source.ohm
            plus, minus = (f"{ref}:{terminal}" for terminal in part.source.terminals)
            injected[plus] = injected.get(plus, 0.0) + amps
            injected[minus] = injected.get(minus, 0.0) - amps
        return injected

    def _groups(self) -> list[list[str]]:
        """Nodes in groups that conductors or movable elements join; earth joins nothing."""
        nodes = [t for t in self.net.terminals if self.node(t) != EARTH]
        parent = {node: node for node in nodes}

        def root(node: str) -> str:
            while parent[node] != node:
                parent[node] = parent[parent[node]]
                node = parent[node]
            return node

        joints = [(item.a, item.b) for item in self.fixed]
        joints += [(a, b) for _, a, b, _ in self.movable]
        for a, b in joints:
            if EARTH not in (a, b):
                parent[root(b)] = root(a)
        groups: dict[str, list[str]] = {}
        for node in nodes:
            groups.setdefault(root(node), []).append(node)
        return list(groups.values())

    def _block(self, nodes: list[str]) -> Block:
        inside = set(nodes)
        return Block(
            nodes,
            [item for item in self.fixed if item.a in inside or item.b in inside],
            [item for item in self.movable if item[1] in inside or item[2] in inside],
            [
                (position, probe)
                for position, probe in enumerate(self._probes)
                if probe.a in inside or probe.b in inside
            ],
            self.injected,
            self.net.insulation_ohm,
        )

    def values(self, mask: int) -> list[float]:
        """The raw measured values, in the order of the probes."""
        effective = self.effective(mask)
        values = [0.0] * len(self._probes)
        for block in self._blocks:
            for position, value in zip(block.positions, block.solve(effective), strict=True):
                # A probe between two blocks sums what each side contributes.
                values[position] += value
        return values

    def _solve_anew(self, mask: int) -> Solution:
        values = self.values(mask)
        inputs = 0
        for row, bit, threshold_v in self._input_rows:
            if values[row] >= threshold_v:
                inputs |= bit
        inputs = (inputs | self.inputs_1) & ~self.inputs_0
        trip_mask = 0
        for rows, bits, trip_a, residual_a in self._trip_rows:
            currents = [values[row] for row in rows]
            over = max(abs(current) for current in currents) > trip_a
            if over or (residual_a > 0.0 and abs(sum(currents)) > residual_a):
                trip_mask |= bits
        short = trip_mask != 0 or any(values[row] < limit for row, limit in self._source_rows)
        solution = Solution(
            inputs,
            tuple([abs(values[row]) for row in self._coil_rows]),
            tuple([values[row] for row in self._winding_rows]),
            round(values[self._supply_row]) if self._supply_row >= 0 else 0,
            values[self._feed_row] if self._feed_row >= 0 else 1.0,
            tuple([abs(values[row]) for row in self._lamp_rows]),
            trip_mask,
            short,
        )
        if len(self._kept) >= MAX_KEPT:
            self._kept.clear()
        self._kept[mask] = solution
        return solution


def _signals(names: Iterable[str]) -> int:
    mask = 0
    for name in names:
        mask |= signal_bit(name)
    return mask
