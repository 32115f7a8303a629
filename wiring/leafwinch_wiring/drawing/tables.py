"""What stands beneath the columns of a control sheet: contact tables and device texts."""

from leafwinch_wiring.drawing.canvas import Canvas
from leafwinch_wiring.drawing.pen import Where
from leafwinch_wiring.drawing.plan import (
    COLUMNS,
    FRAME,
    HEAD_MM,
    ROWS,
    TABLES_MM,
    TITLE_MM,
    Plan,
    mm,
)
from leafwinch_wiring.drawing.texts import LINE_MM, SIZE_MM, Label, wrap
from leafwinch_wiring.netlist import Netlist

LEGEND_MM = (125.0, 110.0, 95.0, 80.0, 65.0, 50.0)
"""Widths to try for the list of devices of a power sheet, in mm."""

ROWS_OF_TABLE = 6
"""Contacts in one table before the next begins beside it."""

TABLE_MM = 24.5
"""Width of a contact table in mm."""


def feet(canvas: Canvas, net: Netlist, plan: Plan, where: Where) -> None:
    """Write the foot of each column: of a coil its contacts, of others what the devices are."""
    if plan.rows != ROWS:
        return
    for index, wall in enumerate(plan.walls):
        end = plan.walls[index + 1] if index + 1 < len(plan.walls) else float(COLUMNS)
        mine = [item for item in plan.items if wall <= item.x < end]
        coils = [item for item in mine if item.kind == "coil"]
        left, right = mm(wall, 0)[0], mm(end, 0)[0]
        if coils:
            table(canvas, net, coils[0].ref, left + 0.5, right - left - 1.5, where)
            continue
        skip = ("terminal", "block", "input", "driver", "burden", "earth")
        parts = dict.fromkeys(item.ref for item in mine if item.kind not in skip)
        y = TABLES_MM + 2.0
        for ref in parts:
            for line in wrap(f"{ref} {net.parts[ref].text}", right - left - 2.0):
                if y < TITLE_MM - 1.0:
                    canvas.text(Label(left + 1.0, y, line))
                y += LINE_MM


def legend(canvas: Canvas, net: Netlist, plan: Plan) -> None:
    """Write what the devices of a power sheet are, where there is a free corner for it."""
    refs = dict.fromkeys(i.ref for i in plan.items if i.kind not in ("terminal", "earth"))
    for width in LEGEND_MM:
        lines = [line for ref in refs for line in wrap(f"{ref} {net.parts[ref].text}", width)]
        left = FRAME[2] - width - 2.0
        labels = [
            Label(left, HEAD_MM + 5.0 + index * LINE_MM, line) for index, line in enumerate(lines)
        ]
        if all(canvas.label_fits(label, FRAME, 1.0) for label in labels):
            for label in labels:
                canvas.text(label)
            return


def table(canvas: Canvas, net: Netlist, ref: str, left: float, width: float, where: Where) -> None:
    """Write the table of a contactor's contacts: kind, terminals, and where each is drawn."""
    part = net.parts[ref]
    top = TABLES_MM
    rows = min(len(part.contacts), ROWS_OF_TABLE)
    room = int((TITLE_MM - TABLES_MM - 1.0 - rows * LINE_MM) / LINE_MM)
    lines = wrap(f"{ref} {part.text}", width)
    if len(lines) > room:
        lines = [*lines[: room - 1], "..."]
    for line in lines:
        canvas.text(Label(left, top + 2.0, line))
        top += LINE_MM
    top += 0.6
    for index, contact in enumerate(part.contacts):
        column, row = divmod(index, ROWS_OF_TABLE)
        x, y = left + column * (TABLE_MM + 1.0), top + row * LINE_MM
        terminal = f"{ref}:{contact.terminals[0]}"
        base = y + LINE_MM / 2.0 + 0.26 * SIZE_MM
        data = (("data-xref", terminal), ("data-table", ref))
        canvas.text(Label(x + 0.8, base, contact.type.upper()))
        canvas.text(Label(x + 6.4, base, "/".join(contact.terminals)))
        canvas.text(Label(x + TABLE_MM - 0.8, base, where(terminal), "end", data=data))
    for column in range(-(-len(part.contacts) // ROWS_OF_TABLE)):
        x = left + column * (TABLE_MM + 1.0)
        canvas.rect((x, top, x + TABLE_MM, top + rows * LINE_MM))
