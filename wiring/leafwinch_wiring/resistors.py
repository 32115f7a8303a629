"""Every fixed resistance of a netlist under one name each, as drawn and as solved."""

from dataclasses import dataclass
from functools import lru_cache

from leafwinch_wiring.netlist import Netlist

EARTH = "PE"
"""The reference node: protective earth, and every terminal of an earth bar."""

SOURCE_EARTH_OHM = 0.5
"""Resistance of the supply's own earth connection in ohm; an assumption for a TN network."""


@dataclass(frozen=True, slots=True)
class Resistor:
    """A fixed resistance in ohm between two nodes, under a name that defects can use."""

    name: str
    a: str
    b: str
    ohm: float


@lru_cache(maxsize=16)
def resistors_of(net: Netlist) -> tuple[Resistor, ...]:
    """Wires, coils, windings, loads, board inputs and source resistances of a netlist."""

    def node(ref: str, terminal: str) -> str:
        return EARTH if net.parts[ref].kind == "earth" else f"{ref}:{terminal}"

    found = [
        Resistor(
            wire.mark,
            node(*wire.a.split(":")),
            node(*wire.b.split(":")),
            wire.ohm,
        )
        for wire in net.wires
    ]
    for ref, part in net.parts.items():
        for load in part.loads:
            a, b = load.terminals
            found.append(Resistor(f"{ref}:{load.name}", node(ref, a), node(ref, b), load.ohm))
        for winding in part.windings:
            a, b = winding.terminals
            found.append(Resistor(f"{ref}:{winding.name}", node(ref, a), node(ref, b), winding.ohm))
        if part.coil is not None:
            a, b = part.coil.terminals
            found.append(Resistor(f"{ref}:coil", node(ref, a), node(ref, b), part.coil.ohm))
        if part.source is not None:
            a, b = part.source.terminals
            found.append(Resistor(f"{ref}:source", node(ref, a), node(ref, b), part.source.ohm))
            if part.source.earthed:
                found.append(Resistor(f"{ref}:earth", node(ref, b), EARTH, SOURCE_EARTH_OHM))
        if part.board is not None:
            plus, common = part.board.supply
            found.append(
                Resistor(f"{ref}:load", node(ref, plus), node(ref, common), part.board.load_ohm)
            )
            for item in part.board.inputs:
                found.append(
                    Resistor(
                        f"{ref}:{item.signal}",
                        node(ref, item.terminal),
                        node(ref, common),
                        part.board.input_ohm,
                    )
                )
    return tuple(found)
