"""Writes any state of a circuit as an ngspice deck of resistors and sources.

The deck is made from the netlist and the defects directly, not from the reduced matrices
of the solver, so that ngspice checks the solver's arithmetic and reduction as well.
"""

import math
from collections.abc import Iterable

from leafwinch_wiring.defect_types import Effects
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.resistors import EARTH, resistors_of


class Deck:
    """An ngspice deck, and the expressions whose values it prints, in order.

    `text` is a complete deck without a control section. `probes` are voltages between two
    nodes, written as ngspice expressions.
    """

    def __init__(self, text: str, probes: tuple[str, ...]) -> None:
        self.text = text
        self.probes = probes


def node_names(net: Netlist) -> dict[str, str]:
    """A plain ngspice node name for each terminal; earth is node 0."""
    names = {EARTH: "0"}
    for number, terminal in enumerate(net.terminals, 1):
        earth = net.parts[terminal.split(":")[0]].kind == "earth"
        names[terminal] = "0" if earth else f"n{number}"
    return names


def deck(
    net: Netlist,
    mask: int,
    defects: Iterable[Effects] = (),
    probes: Iterable[tuple[str, str]] = (),
) -> Deck:
    """The state `mask` of a netlist with these defects as an ngspice deck.

    Args:
        net: the netlist.
        mask: bit i is 1 while element i is closed or on.
        defects: wiring defects present together, later ones overriding earlier ones.
        probes: pairs of terminals whose voltage is wanted.
    """
    all_defects = tuple(defects)
    names = node_names(net)
    ohms = {name: ohm for defect in all_defects for name, ohm in defect.series}
    lines = [f"* {net.name}"]

    def resistor(a: str, b: str, ohm: float) -> None:
        if math.isfinite(ohm) and names[a] != names[b]:
            lines.append(f"R{len(lines)} {names[a]} {names[b]} {ohm:.12g}")

    held_closed = {name for d in all_defects for name in d.held_closed}
    held_open = {name for d in all_defects for name in d.held_open}
    bridged = {name for d in all_defects for name in d.force_closed}
    dead = {name for d in all_defects for name in d.force_open}
    for index, element in enumerate(net.elements):
        closed = bool(mask >> index & 1) or element.name in held_closed
        closed = closed and element.name not in held_open
        closed = (closed or element.name in bridged) and element.name not in dead
        if closed:
            resistor(element.a, element.b, ohms.get(element.name, element.ohm))
    for item in resistors_of(net):
        if not item.name.endswith(":source"):
            resistor(item.a, item.b, ohms.get(item.name, item.ohm))
    for defect in all_defects:
        for a, b, ohm in defect.links:
            resistor(a, b, ohm)
    lines.extend(_sources(net, all_defects, names))
    for node in sorted(set(names.values()) - {"0"}):
        lines.append(f"R{len(lines)} {node} 0 {net.insulation_ohm:.12g}")
    lines.append(".end")
    wanted = tuple(_difference(names[a], names[b]) for a, b in probes)
    return Deck("\n".join(lines) + "\n", wanted)


def _sources(net: Netlist, defects: tuple[Effects, ...], names: dict[str, str]) -> list[str]:
    """Each supply as an ideal voltage source in series with its own resistance."""
    lines = []
    control_ratio = math.prod(defect.control_ratio for defect in defects)
    for ref, part in net.parts.items():
        if part.source is None:
            continue
        plus, minus = (names[f"{ref}:{terminal}"] for terminal in part.source.terminals)
        ratio = control_ratio if part.source.feeds == "control" else 1.0
        inner = f"s{ref.lower()}"
        lines.append(f"V{ref} {inner} {minus} DC {part.source.nominal_v * ratio:.12g}")
        lines.append(f"RS{ref} {inner} {plus} {part.source.ohm:.12g}")
    return lines


def _difference(a: str, b: str) -> str:
    """An ngspice expression for the voltage from a to b."""
    if a == b:
        return "0"
    if a == "0":
        return f"-v({b})"
    if b == "0":
        return f"v({a})"
    return f"v({a})-v({b})"
