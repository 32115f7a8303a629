"""The circuit drawings of a netlist: A4 sheets as SVG, every wire and contact once.

Drawn after the practice of IEC 61082-1 and IEC 60204-1: devices unoperated and without
power, references by IEC 81346-2, contacts with their terminal numbers, a table of contacts
under each contactor coil, and sheet.path wherever something goes on elsewhere.
"""

from dataclasses import dataclass

from leafwinch_wiring.drawing.canvas import Canvas
from leafwinch_wiring.drawing.control import control_plans
from leafwinch_wiring.drawing.frame import frame
from leafwinch_wiring.drawing.items import Item, make_items
from leafwinch_wiring.drawing.plan import Plan, home_of
from leafwinch_wiring.drawing.power import power_plans
from leafwinch_wiring.drawing.sketch import Sketch
from leafwinch_wiring.drawing.tables import feet, legend
from leafwinch_wiring.netlist import Netlist


@dataclass(frozen=True, slots=True)
class Sheet:
    """One page. `name` is fit for a file name, `svg` is the whole file."""

    name: str
    title: str
    svg: str


@dataclass(frozen=True, slots=True)
class Finder:
    """Tells where things are drawn, as sheet.path."""

    plans: list[Plan]
    pins: dict[str, Item]
    coils: dict[str, Item]

    def __call__(self, name: str) -> str:
        """Return sheet.path of a terminal, or of the coil of a part."""
        item = self.pins.get(name) or self.coils.get(name)
        if item is None:
            return "-"
        x = item.pin_at(name)[0] if name in self.pins else item.x
        return f"{item.sheet}.{self.plans[item.sheet - 1].path_at(x)}"


def circuit_sheets(net: Netlist) -> list[Sheet]:
    """Return the circuit drawings of a netlist, A4 on its side, in the order to read them.

    The first sheets hold the power circuit, then come the control circuit, the inputs of the
    board, its outputs. Raises BadInput when a sheet is too crowded to be drawn.
    """
    items = make_items(net)
    home = home_of(items)
    plans = _plans(net, items, home)
    finder = Finder(
        plans,
        {pin.terminal: item for item in items for pin in item.pins},
        {item.coil: item for item in items if item.coil},
    )
    found: list[Sheet] = []
    for index, plan in enumerate(plans):
        canvas = _one(net, plan, index + 1, finder, home)
        frame(canvas, net, plan, index + 1, len(plans))
        name = f"{net.name}-circuit-{index + 1}"
        title = f"{net.name}, sheet {index + 1} of {len(plans)}: {plan.title}"
        found.append(Sheet(name, plan.title, canvas.svg(title)))
    return found


def circuit_titles(net: Netlist) -> list[str]:
    """Return the titles of the sheets of `circuit_sheets`, which takes no time."""
    items = make_items(net)
    return [plan.title for plan in _plans(net, items, home_of(items))]


def _plans(net: Netlist, items: list[Item], home: str) -> list[Plan]:
    plans = power_plans(net, items, home)
    return plans + control_plans(net, items, home, len(plans))


def _one(net: Netlist, plan: Plan, sheet: int, finder: Finder, home: str) -> Canvas:
    """Draw what one sheet holds, without its frame."""
    here = {pin.terminal for item in plan.items for pin in item.pins}
    wires = [wire for wire in net.wires if wire.a in here or wire.b in here]
    sketch = Sketch(plan, sheet, wires, finder, home)
    canvas = sketch.draw()
    feet(canvas, net, plan, finder)
    if any(item.power for item in plan.items):
        legend(canvas, net, plan)
    return canvas
