"""Places the power circuit: devices in rows, from the supply at the top to the motor."""

from leafwinch_wiring.drawing.items import POLE, Item
from leafwinch_wiring.drawing.plan import COLUMNS, ROWS_TALL, Plan, extents, height
from leafwinch_wiring.netlist import Netlist

SIDE = 2
"""Least room between the labels of neighbouring devices, in grid steps."""


def power_plans(net: Netlist, items: list[Item], home: str) -> list[Plan]:
    """Place every power item and return its sheets, mostly one."""
    mine = [item for item in items if item.power]
    if not mine:
        return []
    near = _neighbours(net, mine)
    rows = _rows(mine, near)
    placed: dict[str, int] = {}
    for row in rows:
        _across(row, near, home, placed)
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
        above = [
            rank[other]
            for other in linked[ref]
            if place[other] < place[ref] and partner[ref] != other
        ]
        rank[ref] = max(above) + 1 if above else (0 if not rank else -1)
    for ref in reversed(parts):
        if rank[ref] < 0:
            below = [rank[other] for other in linked[ref] if rank[other] >= 0]
            rank[ref] = min(below, default=0)
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
    row: list[Item], near: dict[str, list[str]], home: str, placed: dict[str, int]
) -> None:
    """Set the items of a row side by side, each under what it is wired to where it can be."""
    wished: dict[int, float] = {}
    for item in row:
        found = [
            x - pin.dx
            for pin in item.pins
            for x in (placed[other] for other in near[pin.terminal] if other in placed)
        ]
        wished[id(item)] = min(found) if found else COLUMNS
    # What ends here, such as a control supply, stands at the right of what goes on.
    row.sort(key=lambda item: (item.kind in ("converter", "earth"), wished[id(item)]))
    edge = 0
    for item in row:
        left, _, right, _ = extents(item, home)
        wish = wished[id(item)]
        item.x = max(edge + left, int(wish) if wish < COLUMNS else edge + left)
        if item.kind == "terminal" and edge:
            item.x = max(item.x, edge + POLE - SIDE)
        edge = item.x + right + SIDE
    for item in row:
        for pin in item.pins:
            placed[pin.terminal] = item.x + pin.dx


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
    gaps = [_sideways(above, below, near) for above, below in zip(rows, rows[1:], strict=False)]
    tall = [max(height(item) for item in row) for row in rows]
    plans: list[Plan] = []
    spare = ROWS_TALL - 1 - sum(tall) - sum(2 for _ in gaps)
    wanted = sum(gaps)
    scale = min(1.0, spare / wanted) if wanted and spare > 0 else 0.5
    y = ROWS_TALL
    for index, row in enumerate(rows):
        if y + tall[index] > ROWS_TALL - 1:
            plans.append(Plan("Power circuit"))
            y = 1
        for item in row:
            item.y = y
            item.sheet = len(plans)
            plans[-1].items.append(item)
        gap = 2 + int(scale * gaps[index]) if index < len(gaps) else 0
        y += tall[index] + gap
    for plan in plans:
        plan.walls = [index * COLUMNS / 10.0 for index in range(10)]
        plan.rows = ROWS_TALL
    return plans


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
