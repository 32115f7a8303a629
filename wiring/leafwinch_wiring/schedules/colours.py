"""Colours of conductors by the practice of IEC 60204-1 clause 13.2.

Black for power circuits, red for AC control, blue for DC control, orange for circuits that stay
live with the isolator off, green-yellow for the protective conductor and nothing else, light blue
for the neutral. Cores of a cable may carry numbers in the place of colours (13.2.1), except
green-yellow and light blue.
"""

from leafwinch_wiring.format import Cable
from leafwinch_wiring.netlist import Netlist, WireData
from leafwinch_wiring.schedules.functions import PASS_THROUGH, Function, functions, joined

GREEN_YELLOW = "green-yellow"
LIGHT_BLUE = "light blue"
BLACK = "black"
RED = "red"
BLUE = "blue"
ORANGE = "orange"

MEANING = {
    BLACK: "power circuits, alternating or direct current",
    RED: "control circuits, alternating current",
    BLUE: "control circuits, direct current",
    ORANGE: "circuits that stay live with the isolator off",
    LIGHT_BLUE: "neutral conductor",
    GREEN_YELLOW: "protective conductor, and nothing else",
}
"""Each colour's meaning in IEC 60204-1 clause 13.2."""

GREEN_YELLOW_SHARE = (0.3, 0.7)
"""Least and greatest share of each of the two colours on any 15 mm (IEC 60204-1, 13.2.2)."""

SOURCE = "IEC 60204-1 clause 13.2"


def excepted(net: Netlist) -> frozenset[str]:
    """Terminals that stay live with every isolator off and do not feed the isolator itself.

    The conductors from the supply to the isolator are live as well, yet belong to the power
    circuit and keep its colour; they need a cover and a warning.
    """
    isolators = {ref for ref, part in net.parts.items() if part.kind == "isolator"}
    if not isolators:
        return frozenset()
    of = joined(net)
    live = {
        of[f"{ref}:{name}"]
        for ref, part in net.parts.items()
        if part.kind == "source"
        for name in part.terminals
    }
    passing = [
        (of[item.a], of[item.b])
        for item in net.elements
        if item.part not in isolators and net.parts[item.part].kind in PASS_THROUGH
    ]
    for _ in passing:
        for a, b in passing:
            if a in live or b in live:
                live |= {a, b}
    return frozenset(terminal for terminal in net.terminals if of[terminal] in live)


class Colours:
    """Answers the colour of each wire of one netlist."""

    def __init__(self, net: Netlist) -> None:
        """Work out what the wires of `net` carry."""
        self._functions: dict[str, Function] = functions(net)
        self._excepted = excepted(net)
        self._ends_at_isolator = {
            f"{ref}:{name}"
            for ref, part in net.parts.items()
            if part.kind in ("isolator", "source")
            for name in part.terminals
        }
        has_supply = any(part.kind == "control_supply" for part in net.parts.values())
        self._control = BLUE if has_supply or net.drive == "dc" else RED

    def of(self, wire: WireData) -> str:
        """Colour of a wire, or of the core if it were marked by colour."""
        if wire.group == "earth":
            return GREEN_YELLOW
        at_isolator = {wire.a, wire.b} <= self._ends_at_isolator
        if wire.a in self._excepted and not at_isolator:
            return ORANGE
        if wire.group == "control":
            return self._control
        return LIGHT_BLUE if self._functions[wire.a].potential == "neutral" else BLACK

    def on_core(self, wire: WireData, cable: Cable) -> str:
        """How a core is marked: its own colour where that is reserved, else its number."""
        colour = self.of(wire)
        if colour in (GREEN_YELLOW, LIGHT_BLUE):
            return colour
        return f"number {wire.core}" if cable.cores > 1 else colour
