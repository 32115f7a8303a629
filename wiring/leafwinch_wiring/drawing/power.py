"""Places the power circuit: devices in rows, from the supply at the top to the motor."""

from itertools import pairwise

from leafwinch_wiring.drawing.items import POLE, Item
from leafwinch_wiring.drawing.plan import COLUMNS, ROWS_TALL, Plan, extents, height
from leafwinch_wiring.netlist import Netlist

SIDES = range(16, 1, -1)
"""Room between the labels of neighbouring devices in grid steps; the widest that fits."""


def power_plans(net: Netlist, items: list[Item], home: str) -> list[Plan]:
    """Place every power item and return its sheets, mostly one."""
    mine = [item for item in items if item.power]
    if not mine:
        return []
    near = _neighbours(net, mine)
    rows = _rows(mine, near)
    base = max(extents(row[0], home)[0] for row in rows)
    for side in SIDES:
        placed: dict[str, int] = {}
        edges = [_across(row, near, home, placed, base, side) for row in rows]
        if max(edges) <= COLUMNS:
            break
    _strips(rows, near, placed)
    rows = [part for row in rows for part in _split(row, home)]
    return _down(rows, near, home)


def _neighbours(net: Netlist, items: list[Item]) -> dict[str, list[str]]:
    """Return, for each pin of an item, the pins of the same items that wires lead to."""
    pins = {pin.terminal for item in items for pin in item.pins}
    near: dict[str, list[str]] = {pin: [] for pin in pins}
    for wire in net.wires:
        if wire.a in pins and wire.b in pins:
            near[wire.a].append(wire.b)
            near[wire.b].append(wire.a)
    return near


def _rows(items: list[Item], near: dict[str, list[str]]) -> list[list[Item]]:
    """Give each part a row below every earlier part that it is wired to.

    The order of the parts in the file is taken as the order from supply to motor. Parts
    that lock each other share a row; an earth terminal goes where its wire ends.
    """
    owner = {pin.terminal: item for item in items for pin in item.pins}
    parts = list(dict.fromkeys(item.ref for item in items if item.kind != "earth"))
    place = {ref: index for index, ref in enumerate(parts)}
    partner = {item.ref: item.part.interlocked_with for item in items}
    linked: dict[str, set[str]] = {ref: set() for ref in parts}
    for pin, others in near.items():
        for other in others:
            one, two = owner[pin].ref, owner[other].ref
            if one in place and two in place and one != two:
                linked[one].add(two)
    rank: dict[str, int] = {}
    for ref in parts:
        before = [other for other in linked[ref] if place[other] < place[ref]]
        above = [rank[other] for other in before if partner[ref] != other and other in rank]
        if partner[ref] in rank:
            above.append(rank[partner[ref]] - 1)
        if above or not rank:
            rank[ref] = max(above, default=-1) + 1
    # What is fed from a later part, such as a rectifier at the motor, stands beside that.
    for ref in parts:
        if ref not in rank:
            ahead = [rank[o] for o in linked[ref] if place[o] < place[ref] and o in rank]
            after = [rank[o] for o in linked[ref] if o in rank]
            rank[ref] = max(ahead) + 1 if ahead else min(after, default=0)
    for ref in parts:
        if partner[ref] in rank:
            rank[ref] = max(rank[ref], rank[partner[ref]])
    rows: list[list[Item]] = [[] for _ in range(max(rank.values(), default=0) + 1)]
    for item in items:
        if item.kind != "earth":
            rows[rank[item.ref]].append(item)
    for item in items:
        if item.kind == "earth":
            ends = near[item.pins[0].terminal]
            row = rows[rank.get(owner[ends[0]].ref, 0)] if ends else rows[0]
            row.append(item)
    return [row for row in rows if row]


def _across(
    row: list[Item],
    near: dict[str, list[str]],
    home: str,
    placed: dict[str, int],
    base: int,
    side: int,
) -> int:
    """Set the items of a row side by side, each under what it is wired to where it can be.

    Pins that have their column are in `placed`. Returns the right edge of the row.
    """
    # What ends here, such as a control supply, stands at the right of what goes on.
    place = {pin.terminal: index for index, item in enumerate(row) for pin in item.pins}

    def order(item: Item) -> tuple[bool, int, bool]:
        ends = near[item.pins[0].terminal] if item.kind == "earth" else []
        host = row[place[ends[0]]] if ends and ends[0] in place else item
        return host.kind == "converter", row.index(host), item.kind == "earth"

    row[:] = sorted(row, key=order)
    edge = last = 0
    strip = False
    for item in row:
        left, _, right, _ = extents(item, home)
        wished = [
            placed[other] - pin.dx
            for pin in item.pins
            for other in near[pin.terminal]
            if other in placed
        ]
        item.x = max(edge + left, base, min(wished, default=0))
        if strip and item.kind == "terminal":
            item.x = last + max(POLE, left + 1)
        strip, last = item.kind == "terminal", item.x
        edge = item.x + right + (side if item.kind != "earth" else 2)
    for item in row:
        for pin in item.pins:
            placed[pin.terminal] = item.x + pin.dx
    return last + right


def _strips(rows: list[list[Item]], near: dict[str, list[str]], placed: dict[str, int]) -> None:
    """Move strip terminals right to where they stand straight above what they lead to."""
    for row, below in pairwise(rows):
        pins = {pin.terminal for item in below for pin in item.pins}
        limit = COLUMNS
        for item in reversed(row):
            if item.kind == "terminal":
                name = item.pins[0].terminal
                aims = [placed[other] for other in near[name] if other in pins]
                if aims and item.x < min(aims) <= limit:
                    item.x = placed[name] = min(aims)
            limit = item.x - POLE


def _split(row: list[Item], home: str) -> list[list[Item]]:
    """Break a row that is wider than the paper."""
    parts: list[list[Item]] = [[]]
    shift = 0
    for item in row:
        left, _, right, _ = extents(item, home)
        if item.x - shift + right > COLUMNS and parts[-1]:
            parts.append([])
            shift = item.x - left
        item.x -= shift
        parts[-1].append(item)
    return parts


def _down(rows: list[list[Item]], near: dict[str, list[str]], home: str) -> list[Plan]:
    """Set the rows one below the other, with more room where more wires run sideways."""
    gaps = [_sideways(above, below, near) for above, below in pairwise(rows)]
    tall = [max(height(item) for item in row) for row in rows]
    plans: list[Plan] = []
    gaps = _shared(gaps, ROWS_TALL - 2 - sum(tall))
    y = ROWS_TALL
    for index, row in enumerate(rows):
        if y + tall[index] > ROWS_TALL - 1:
            plans.append(Plan("Power circuit"))
            y = 1
        for item in row:
            item.y = y
            item.sheet = len(plans)
            plans[-1].items.append(item)
        y += tall[index] + (gaps[index] if index < len(gaps) else 0)
    owner = {pin.terminal: item for row in rows for item in row for pin in item.pins}
    for row in rows:
        for item in row:
            hosts = near[item.pins[0].terminal]
            if item.kind == "earth" and hosts:
                item.y = owner[hosts[0]].pin_at(hosts[0])[1]
    for plan in plans:
        plan.walls = [index * COLUMNS / 10.0 for index in range(10)]
        plan.rows = ROWS_TALL
    return plans


def _shared(wanted: list[int], room: int) -> list[int]:
    """Return the gap below each row: 2 steps at least, the rest by how many wires need it."""
    spare = max(len(wanted) * 2, room - 2 * len(wanted))
    scale = min(2.0, spare / max(1, sum(wanted)))
    return [2 + int(scale * count) for count in wanted]


def _sideways(above: list[Item], below: list[Item], near: dict[str, list[str]]) -> int:
    """Return how many wires between two rows do not run straight down."""
    lower = {pin.terminal: item.x + pin.dx for item in above for pin in item.pins if pin.dy}
    lower.update({i.pins[0].terminal: i.x for i in above if i.kind == "terminal"})
    upper = {pin.terminal: item.x + pin.dx for item in below for pin in item.pins if not pin.dy}
    count = 0
    for pins in (lower, upper):
        for pin, x in pins.items():
            for other in near[pin]:
                straight = (lower | upper).get(other) == x
                count += 0 if straight else 1
    return count
