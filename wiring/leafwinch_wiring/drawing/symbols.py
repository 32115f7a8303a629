"""Symbols of whole items, after IEC 60617 (its shapes from memory).

Each function draws one kind of item with its reference, its terminal numbers and its cross
references. Pins lie on the drawing grid; numbers stand to the right of their pin, the
reference to the left of the symbol.
"""

from collections.abc import Callable

from leafwinch_wiring.drawing import symbols_boxes as boxes
from leafwinch_wiring.drawing import symbols_contacts as contacts
from leafwinch_wiring.drawing.canvas import Canvas, number
from leafwinch_wiring.drawing.items import GRID_MM, POLE, SPOT, Item
from leafwinch_wiring.drawing.pen import Pen, Where

STEP = POLE * GRID_MM
POWER_MM = 0.4
"""Width of the lines of power symbols and wires in mm; those of control are thinner."""

TOP_TEXT, FOOT_TEXT = 1.75, 8.25
"""Middle lines of the numbers of an upper and a lower pin, in mm below the upper pin."""


def draw(canvas: Canvas, item: Item, x: float, y: float, where: Where, home: str) -> None:
    """Draw an item with its upper left pin at (x, y) in mm.

    Args:
        canvas: where to draw.
        item: what to draw.
        x: of its first pin, in mm from the left edge.
        y: of its first pin, in mm from the top edge.
        where: returns sheet.path for a terminal or the reference of a coil's part.
        home: location that needs no mention.
    """
    data = {"data-part": item.ref, "data-kind": item.kind}
    lists = (
        ("data-contact", item.contacts),
        ("data-load", item.loads),
        ("data-winding", item.windings),
        ("data-input", item.inputs),
        ("data-coil", (item.coil,) if item.coil else ()),
    )
    data.update({key: " ".join(names) for key, names in lists if names})
    if item.power:
        data["stroke-width"] = number(POWER_MM)
    pen = Pen(canvas, x, y, where)
    with canvas.group(data):
        DRAW[item.kind](pen, item)
        place = "" if item.part.at == home else f"+{item.part.at}"
        REFERENCE[item.kind](pen, item, place)
        for pin in item.pins:
            if pin.spots > 1:
                start, level = pin.dx * GRID_MM, pin.dy * GRID_MM
                pen.line((start, level), (start + (pin.spots - 1) * SPOT * GRID_MM, level))
    for pin in item.pins:
        for dx, dy, _ in pin.places():
            mark_pin(canvas, pin.terminal, x + dx * GRID_MM, y + dy * GRID_MM)


def mark_pin(canvas: Canvas, terminal: str, x: float, y: float) -> None:
    """Note for a reader of the file where a terminal lies; nothing is seen of it."""
    canvas.parts.append(
        f'<circle cx="{number(x)}" cy="{number(y)}" r="0" stroke="none"'
        f' data-terminal="{terminal}"/>'
    )


def numbers(pen: Pen, item: Item) -> None:
    """Write the number of each pin to its right."""
    for pin in item.pins:
        y = TOP_TEXT if pin.dy == 0 else pin.dy * GRID_MM - TOP_TEXT
        pen.text(pin.dx * GRID_MM + 0.7, y, pin.terminal.split(":")[1])


def contact(pen: Pen, item: Item) -> None:
    """Draw one auxiliary contact with what works it and where its coil is."""
    found = item.contact()
    contacts.blade(pen, 0.0, found)
    contacts.link(pen, found, item.part.kind)
    if found.role == "mirror":
        contacts.mirror(pen, -2.9)
    numbers(pen, item)


def poles(pen: Pen, item: Item) -> None:
    """Draw the poles of a device side by side with the dashed link between them."""
    count = len(item.contacts)
    for index in range(count):
        contacts.pole(pen, index * STEP, item.contact(index), item.part.kind)
    if item.part.kind != "fuse":
        first = item.contact()
        starts = -0.95 if first.type == "no" or item.part.kind in ("isolator", "breaker") else 1.1
        pen.line(
            (starts + (count - 1) * STEP, contacts.MIDDLE),
            (contacts.LEVER, contacts.MIDDLE),
            dash="0.9 0.6",
        )
        actuator(pen, item)
    numbers(pen, item)


def actuator(pen: Pen, item: Item) -> None:
    """Draw what works the poles of a device at the left end of their link."""
    found, kind = item.contact(), item.part.kind
    end, middle = contacts.LEVER, contacts.MIDDLE
    if kind == "isolator":
        pen.line((end, middle - 1.2), (end, middle + 1.2))
    elif kind == "breaker":
        pen.rect(end - 2.0, middle - 1.0, end, middle + 1.0)
        if item.part.protection is not None and item.part.protection.residual_ma:
            pen.circle(end - 1.0, middle, 0.6)
    elif found.acts == "limit":
        pen.circle(end - 0.8, middle, 0.8)
    elif found.acts == "coil":
        pen.rect(end - 1.6, middle - 0.8, end, middle + 0.8)
    else:
        pen.line(
            (end + 0.9, middle - 1), (end, middle - 1), (end, middle + 1), (end - 0.9, middle + 1)
        )


def side_reference(pen: Pen, item: Item, place: str) -> None:
    """Write the reference, the place and where the coil is to the left of the symbol."""
    left = -9.6 if item.kind in ("contact", "poles") else -5.0
    if item.kind in ("load", "lamp", "buzzer", "sensor") or item.part.kind == "fuse":
        left = -3.4
    turned = item.kind in ("contact", "poles") and item.contact().acts in ("raise", "lower")
    locked = item.kind == "poles" and bool(item.part.interlocked_with)
    upper = contacts.MIDDLE - (2.7 if turned or locked else 1.4)
    pen.text(left, upper, item.ref, "end", bold=True)
    second = place
    data: dict[str, str] = {}
    if item.kind in ("contact", "poles") and item.part.coil is not None:
        second = f"/{pen.where(item.ref)}"
        data = {"data-xref": item.ref}
    elif turned:
        pen.text(left, contacts.MIDDLE, item.contact().acts, "end")
        pen.text(-2.6, FOOT_TEXT, second, "end")
        return
    elif item.kind == "sensor":
        second, data = signal_reference(pen, item)
    if locked:
        pen.text(left, contacts.MIDDLE + 2.7, f"lock {item.part.interlocked_with}", "end")
        corner = contacts.LEVER + 1.4
        pen.line((corner, 5.1), (corner + 1.2, 5.1), (corner + 0.6, 6.2), (corner, 5.1))
    if second:
        low = second.startswith("+") and item.kind in ("contact", "poles")
        spot = (-2.6, FOOT_TEXT) if low else (left, contacts.MIDDLE + (0.0 if locked else 1.4))
        pen.text(*spot, second, "end", data=data)


def signal_reference(pen: Pen, item: Item) -> tuple[str, dict[str, str]]:
    """Return where the signal side of a current sensor is drawn, and what that points at."""
    mine = {pin.terminal for pin in item.pins}
    others = [f"{item.ref}:{end}" for end in item.part.terminals]
    other = next((end for end in others if end not in mine), "")
    return (f"/{pen.where(other)}", {"data-xref": other}) if other else ("", {})


def top_reference(pen: Pen, item: Item, place: str) -> None:
    """Write the reference of a wide box at its left, beside the outline."""
    pen.text(-6.2, 3.6, item.ref, "end", bold=True)
    if item.kind == "signal":
        text, data = signal_reference(pen, item)
        pen.text(-6.2, 6.4, text, "end", data=data)
    elif place:
        pen.text(-6.2, 6.4, place, "end")


def terminal_reference(pen: Pen, item: Item, place: str) -> None:
    """Write strip and number to the left of a terminal of a strip."""
    pen.text(-1.5, -1.8, item.pins[0].terminal, "end")


def earth_reference(pen: Pen, item: Item, place: str) -> None:
    """Write bar and number beside an earth symbol."""
    pen.text(2.4, 3.6, item.pins[0].terminal)


def input_reference(pen: Pen, item: Item, place: str) -> None:
    """Write the terminal of a board input to the left of its lead."""
    pen.text(-1.0, TOP_TEXT, item.ref, "end", bold=True)
    numbers(pen, item)


def driver_reference(pen: Pen, item: Item, place: str) -> None:
    """Write the board's reference and what the driver does beside it."""
    pen.text(-5.6, contacts.MIDDLE - 1.4, item.ref, "end", bold=True)
    pen.text(-5.6, contacts.MIDDLE + 1.4, item.contact().signal, "end")


def terminal(pen: Pen, item: Item) -> None:
    """Draw a terminal of a strip: a circle, or several on a bar for many wires."""
    for dx, _, _ in item.pins[0].places():
        pen.circle(dx * GRID_MM, 0.0, 0.8)


def earth(pen: Pen, item: Item) -> None:
    """Draw protective earth."""
    pen.line((0.0, 0.0), (0.0, 2.6))
    for index, half in enumerate((2.0, 1.3, 0.6)):
        pen.line((-half, 2.6 + index * 0.8), (half, 2.6 + index * 0.8))


DRAW: dict[str, Callable[[Pen, Item], None]] = {
    "contact": contact,
    "poles": poles,
    "terminal": terminal,
    "earth": earth,
    "coil": boxes.coil,
    "driver": boxes.driver,
    "input": boxes.board_input,
    "source": boxes.source,
    "converter": boxes.converter,
    "rectifier": boxes.rectifier,
    "sensor": boxes.sensor,
    "signal": boxes.signal,
    "burden": boxes.burden,
    "motor": boxes.motor,
    "brake": boxes.brake,
    "lamp": boxes.lamp,
    "buzzer": boxes.buzzer,
    "load": boxes.load,
    "block": boxes.block,
    "box": boxes.plain,
}

_SIDE = ("contact", "poles", "coil", "lamp", "buzzer", "load", "sensor")
_TOP = ("source", "converter", "rectifier", "signal", "burden", "motor", "brake", "block", "box")
REFERENCE: dict[str, Callable[[Pen, Item, str], None]] = {
    **dict.fromkeys(_SIDE, side_reference),
    **dict.fromkeys(_TOP, top_reference),
    "terminal": terminal_reference,
    "earth": earth_reference,
    "input": input_reference,
    "driver": driver_reference,
}
