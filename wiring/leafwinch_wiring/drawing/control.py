"""Divides the columns of the control circuit among sheets and places them."""

from leafwinch_wiring.drawing.chains import Chains
from leafwinch_wiring.drawing.columns import Builder, Column
from leafwinch_wiring.drawing.items import Item
from leafwinch_wiring.drawing.plan import COLUMNS, ROWS, ROWS_TALL, Plan
from leafwinch_wiring.netlist import Netlist

GUTTER = 3
"""Room between neighbouring columns for wires that run down, in grid steps."""

BANK_ROWS, NOTE_ROWS = 32, 6
"""Height of a bank of inputs and of the text beneath each, in grid steps."""


def control_plans(net: Netlist, items: list[Item], home: str, before: int) -> list[Plan]:
    """Place every item of the control circuit; `before` sheets precede."""
    chains = Chains(net, items)
    if not chains.items:
        return []
    strips = {item.pins[0].terminal: item for item in chains.items if item.kind == "terminal"}
    builder = Builder(chains, home, strips)
    supply = builder.supply()
    builder.rail_row = 8 if supply is not None else 2
    groups = builder.coil_groups()
    columns = [column for group in groups for column in group]
    if supply is not None:
        columns.insert(0, supply)
    builder.rail_row = 2
    inputs = _banks(builder.inputs())
    outputs = builder.outputs()
    first = [*outputs]
    taken = {id(cell[0]) for column in (*columns, *inputs, *outputs) for cell in column.cells}
    left = [item for item in chains.items if id(item) not in taken]
    minus = chains.order(chains.minus) if chains.minus else {}
    zero = [i for i in left if i.kind == "terminal" and i.pins[0].terminal in minus]
    host = supply if supply is not None else (columns[0] if columns else None)
    if host is not None:
        for index, item in enumerate(zero):
            host.add(item, ROWS - 1 - 4 * index, home)
        left = [item for item in left if item not in zero]
    first += builder.rest(left)
    plans: list[Plan] = []
    for title, some in (
        ("Control circuit", columns),
        ("Board inputs", inputs),
        ("Board outputs and signals", first),
    ):
        plans += _pack(title, some, before + len(plans))
    return plans


def _banks(columns: list[Column]) -> list[Column]:
    """Set columns that are low and many in two banks, one above the other."""
    wide = sum(column.left + column.right + GUTTER for column in columns) > COLUMNS
    low = all(column.bottom + NOTE_ROWS < BANK_ROWS for column in columns)
    if not wide or not low:
        return columns
    half = (len(columns) + 1) // 2
    for above, below in zip(columns, columns[half:], strict=False):
        above.put_below(below, BANK_ROWS)
    return columns[:half]


def _pack(title: str, columns: list[Column], before: int) -> list[Plan]:
    """Set columns side by side, on as many sheets as they need, evenly filled."""
    widths = [column.left + column.right + GUTTER for column in columns]
    sheets = 1
    while sheets < len(columns) and len(_cut(widths, sheets)) > sheets:
        sheets += 1
    plans: list[Plan] = []
    start = 0
    for count in _cut(widths, sheets):
        some = columns[start : start + count]
        spare = COLUMNS - sum(widths[start : start + count])
        start += count
        plans.append(_place(title, some, before + len(plans) + 1, max(0, spare)))
    return plans


def _cut(widths: list[int], sheets: int) -> list[int]:
    """Return how many columns go on each sheet when they shall be about equally full."""
    aim = sum(widths) / sheets
    counts: list[int] = []
    used = 0.0
    for width in widths:
        full = not counts or used + width > COLUMNS
        if full or (used + width / 2.0 > aim and len(counts) < sheets):
            counts.append(0)
            used = 0.0
        counts[-1] += 1
        used += width
    return counts


def _place(title: str, columns: list[Column], sheet: int, spare: int) -> Plan:
    """Give every item of some columns its place on a sheet; spare room is shared out."""
    noted = any(column.notes for column in columns)
    plan = Plan(title, rows=ROWS_TALL if noted else ROWS)
    extra = min(4, spare // max(1, len(columns)))
    edge = 0
    for column in columns:
        plan.walls.append(edge)
        x = edge + column.left + 1
        for item, dx, y in column.cells:
            item.x, item.y, item.sheet = x + dx, y, sheet
            plan.items.append(item)
            if item.kind == "coil":
                plan.tables.append(item.ref)
        room = column.left + column.right + GUTTER - 2
        plan.notes += [(edge + 1, row, text, room) for row, text in column.notes]
        edge = x + column.right + GUTTER - 1 + extra
    return plan
