"""Symbols that are boxes or circles: coils, drivers, supplies, motor, brake, lamps.

Shapes after IEC 60617 (from memory). The origin is the first pin; lengths are in mm.
"""

from leafwinch_wiring.drawing.items import GRID_MM, Item
from leafwinch_wiring.drawing.pen import Pen

TOP_TEXT = 1.75


def numbers(pen: Pen, item: Item) -> None:
    """Write the number of each pin to the right of its lead."""
    for pin in item.pins:
        y = TOP_TEXT if pin.dy == 0 else pin.dy * GRID_MM - TOP_TEXT
        pen.text(pin.dx * GRID_MM + 0.7, y, pin.terminal.split(":")[1])


def leads(pen: Pen, item: Item, upper: float, lower: float) -> None:
    """Draw the lead of each pin to a box whose edges are at the two heights in mm."""
    for pin in item.pins:
        x, y = pin.dx * GRID_MM, pin.dy * GRID_MM
        pen.line((x, y), (x, upper if pin.dy == 0 else lower))


def width(item: Item) -> float:
    """Return the distance in mm from the first pin to the rightmost one."""
    return max(pin.dx for pin in item.pins) * GRID_MM


def coil(pen: Pen, item: Item) -> None:
    """Draw the coil of a contactor, with its suppressor as a small box at its side."""
    pen.rect(-3.5, 3.4, 3.5, 6.6)
    leads(pen, item, 3.4, 6.6)
    numbers(pen, item)
    found = item.part.coil
    if found is not None and found.suppression != "none":
        pen.line((3.5, 4.2), (5.0, 4.2), (5.0, 5.8), (3.5, 5.8))


def driver(pen: Pen, item: Item) -> None:
    """Draw a driver of the board: a make contact in a box; a charge pump has its capacitor."""
    pen.rect(-4.6, 3.3, 4.6, 6.7)
    leads(pen, item, 3.9, 6.1)
    pen.line((0.0, 6.1), (-1.2, 4.2))
    if item.contact().signal.endswith("pulse"):
        pen.line((1.2, 5.7), (1.2, 4.3), (2.1, 4.3), (2.1, 5.7), (3.0, 5.7), (3.0, 4.3), (3.9, 4.3))
        pen.line((-4.0, 4.8), (-2.2, 4.8))
        pen.line((-4.0, 5.3), (-2.2, 5.3))
    else:
        pen.line((1.6, 4.1), (3.4, 5.0), (1.6, 5.9), (1.6, 4.1))
    numbers(pen, item)


INPUT_HALF = 12.0
"""Half the width of a board input in mm: the longest signal name fits."""


def board_input(pen: Pen, item: Item) -> None:
    """Draw an isolated input: the name of its signal over a light-emitting diode."""
    board = item.part.board
    pen.line((0.0, 0.0), (0.0, 3.4))
    pen.rect(-INPUT_HALF, 3.4, INPUT_HALF, 10.0)
    terminal = item.inputs[0].split(":")[1]
    if board is not None:
        signal = next(entry.signal for entry in board.inputs if entry.terminal == terminal)
        pen.text(0.0, 5.2, signal, "middle")
    pen.line((-1.0, 7.2), (1.0, 7.2), (0.0, 8.8), (-1.0, 7.2))
    pen.line((-1.0, 8.8), (1.0, 8.8))
    for x in (2.0, 3.2):
        pen.line((x, 7.4), (x + 1.1, 8.5))
        pen.line((x + 0.5, 8.5), (x + 1.1, 8.5), (x + 1.1, 7.9))


def outline(pen: Pen, item: Item, upper: float, lower: float, dash: str = "") -> float:
    """Draw a box around all pins' columns and return its middle in mm."""
    right = width(item) + 4.5
    pen.rect(-4.5, upper, right, lower, dash=dash)
    return (right - 4.5) / 2.0


def source(pen: Pen, item: Item) -> None:
    """Draw a supply with its voltage and kind of current."""
    middle = outline(pen, item, 0.0, 6.2)
    leads(pen, item, 0.0, 6.2)
    found = item.part.source
    direct = "+" in item.part.terminals
    if found is not None:
        pen.text(middle, 3.1, f"{found.nominal_v:g} V {'DC' if direct else 'AC'}", "middle")
    numbers(pen, item)


def converter(pen: Pen, item: Item) -> None:
    """Draw a converter: a box with a diagonal, alternating or direct current in its corners."""
    middle = outline(pen, item, 3.4, 6.6)
    right = 2.0 * middle + 4.5
    pen.line((-4.5, 6.6), (right, 3.4))
    leads(pen, item, 3.4, 6.6)
    found = item.part.source
    if found is not None:
        pen.text(right + 1.0, 5.0, f"{found.nominal_v:g} V DC")
    numbers(pen, item)


def rectifier(pen: Pen, item: Item) -> None:
    """Draw a rectifier: a box with a diode."""
    middle = outline(pen, item, 3.2, 6.8)
    leads(pen, item, 3.2, 6.8)
    pen.line((middle - 1.1, 3.9), (middle - 1.1, 6.1), (middle + 1.1, 5.0), (middle - 1.1, 3.9))
    pen.line((middle + 1.1, 3.9), (middle + 1.1, 6.1))
    pen.line((middle - 2.6, 5.0), (middle + 2.6, 5.0))
    numbers(pen, item)


def sensor(pen: Pen, item: Item) -> None:
    """Draw a current sensor: a ring around the conductor."""
    pen.line((0.0, 0.0), (0.0, 10.0))
    pen.circle(0.0, 5.0, 1.5)
    pen.line((1.5, 5.0), (3.0, 5.0))
    pen.line((2.0, 4.3), (2.6, 5.7))
    numbers(pen, item)


def signal(pen: Pen, item: Item) -> None:
    """Draw the signal side of a current sensor: a box with a ring."""
    middle = outline(pen, item, 2.6, 6.4)
    leads(pen, item, 0.0, 6.4)
    pen.circle(middle, 4.5, 1.3)
    pen.line((middle - 2.4, 4.5), (middle + 2.4, 4.5))
    numbers(pen, item)


def burden(pen: Pen, item: Item) -> None:
    """Draw the analogue input of the board: a box with its burden resistor."""
    middle = outline(pen, item, 3.6, 7.6)
    leads(pen, item, 3.6, 7.6)
    pen.rect(middle - 2.4, 4.8, middle + 2.4, 6.4)
    pen.line((middle - 3.6, 5.6), (middle - 2.4, 5.6))
    pen.line((middle + 2.4, 5.6), (middle + 3.6, 5.6))
    numbers(pen, item)


def winding(pen: Pen, x0: float, x1: float, y: float) -> None:
    """Draw a winding between two leads: four humps."""
    middle = (x0 + x1) / 2.0
    points = [(x0, y), (middle - 4.0, y)]
    for hump in range(4):
        start = middle - 4.0 + hump * 2.0
        points += [(start + 0.3, y - 0.9), (start + 1.0, y - 1.2), (start + 1.7, y - 0.9)]
        points.append((start + 2.0, y))
    points.append((x1, y))
    pen.line(*points)


def motor(pen: Pen, item: Item) -> None:
    """Draw a motor: windings between their terminals above the letter M in a circle."""
    height = 17.0
    middle = outline(pen, item, 3.4, height, dash="3 0.8 0.6 0.8")
    ends = {pin.terminal.split(":")[1]: pin.dx * GRID_MM for pin in item.pins}
    used: set[str] = set()
    for found in item.part.windings:
        first, second = (ends[name] for name in found.terminals)
        pen.line((first, 0.0), (first, 6.8))
        pen.line((second, 0.0), (second, 6.8))
        winding(pen, min(first, second), max(first, second), 6.8)
        used.update(found.terminals)
    pen.circle(middle, 12.2, 3.6)
    alternating = len(item.part.windings) > 1
    pen.text(middle, 10.9, "M", "middle", bold=True)
    pen.text(middle, 13.7, "1~" if alternating else "=", "middle")
    for name, x in ends.items():
        if name not in used:
            pen.line((x, 0.0), (x, 11.0))
            for index, half in enumerate((1.8, 1.2, 0.6)):
                pen.line((x - half, 11.0 + index * 0.8), (x + half, 11.0 + index * 0.8))
    numbers(pen, item)


def brake(pen: Pen, item: Item) -> None:
    """Draw a spring-applied brake: its coil, the dashed link and the spring on the shoe."""
    middle = outline(pen, item, 3.4, 17.0, dash="3 0.8 0.6 0.8")
    first, second = (pin.dx * GRID_MM for pin in item.pins[:2])
    pen.line((first, 0.0), (first, 6.4), (middle - 3.0, 6.4))
    pen.line((second, 0.0), (second, 6.4), (middle + 3.0, 6.4))
    pen.rect(middle - 3.0, 4.9, middle + 3.0, 7.9)
    pen.line((middle, 7.9), (middle, 12.0), dash="0.9 0.6")
    pen.line((middle - 3.0, 12.0), (middle + 3.0, 12.0))
    pen.circle(middle, 14.2, 1.6)
    spring = [(middle + 3.0, 12.0), (middle + 3.6, 11.4), (middle + 4.2, 12.6)]
    spring += [(middle + 4.8, 11.4), (middle + 5.4, 12.6), (middle + 6.0, 12.0)]
    pen.line(*spring)
    numbers(pen, item)


def lamp(pen: Pen, item: Item) -> None:
    """Draw a lamp: a circle with a cross."""
    leads(pen, item, 3.2, 6.8)
    pen.circle(0.0, 5.0, 1.8)
    pen.line((-1.25, 3.75), (1.25, 6.25))
    pen.line((-1.25, 6.25), (1.25, 3.75))
    numbers(pen, item)


def buzzer(pen: Pen, item: Item) -> None:
    """Draw a buzzer: a half circle on a bar."""
    leads(pen, item, 3.6, 6.4)
    pen.line((-1.8, 3.6), (-1.8, 6.4))
    pen.line((-1.8, 3.6), (0.0, 3.6), (1.2, 4.1), (1.6, 5.0), (1.2, 5.9), (0.0, 6.4), (-1.8, 6.4))
    numbers(pen, item)


def load(pen: Pen, item: Item) -> None:
    """Draw any other load: a resistor."""
    leads(pen, item, 2.6, 7.4)
    pen.rect(-1.2, 2.6, 1.2, 7.4)
    numbers(pen, item)


def block(pen: Pen, item: Item) -> None:
    """Draw the supply of a board and the drivers fed by it, each with its signal."""
    right = width(item) + 4.5
    top, bottom = 3.4, (max(pin.dy for pin in item.pins)) * GRID_MM - 3.4
    pen.rect(-4.5, top, right, bottom)
    leads(pen, item, top + 1.6, bottom - 1.2)
    below = [pin for pin in item.pins if pin.dy]
    last = below[len(item.contacts) - 1].dx * GRID_MM if item.contacts else 0.0
    pen.line((0.0, top + 1.6), (last, top + 1.6))
    for pin, name in zip(below, item.contacts, strict=False):
        x = pin.dx * GRID_MM
        pen.line((x, top + 1.6), (x, top + 3.0))
        pen.line((x, bottom - 1.2), (x, bottom - 2.4), (x - 1.4, top + 3.2))
        found = next(c for c in item.part.contacts if c.name == name.split(":")[1])
        pen.text(x + 1.0, top + 3.9, found.signal)
    numbers(pen, item)


def plain(pen: Pen, item: Item) -> None:
    """Draw anything else as a box with its terminals above and its contacts named inside."""
    bottom = 6.4 + 3.0 * len(item.contacts)
    outline(pen, item, 3.4, bottom)
    leads(pen, item, 3.4, bottom)
    for index, name in enumerate(item.contacts):
        found = item.contact(index)
        ends = "/".join(found.terminals)
        pen.text(-3.6, 6.0 + 3.0 * index, f"{name.split(':')[1]} {found.type} {ends}")
    numbers(pen, item)
