"""Puts the items of the control circuit into columns, each a current path read downwards."""

from dataclasses import dataclass, field

from leafwinch_wiring.drawing.chains import Chains
from leafwinch_wiring.drawing.items import TALL, Item
from leafwinch_wiring.drawing.plan import ROWS, extents, height

GAP = 2
"""Least length of a wire between two items of a column, in grid steps: its mark fits."""

WIDE_GAP = 3
"""Length of such a wire where there is room."""

LONGEST_INPUT = 6
"""Items of an input's chain that one column holds."""


@dataclass(slots=True)
class Column:
    """Items with their places in grid steps, across from the column's own line and down.

    `left` and `right` are the room it takes on each side of that line. `notes` are texts
    with the row beneath which they stand.
    """

    cells: list[tuple[Item, int, int]] = field(default_factory=list)
    left: int = 3
    right: int = 3
    notes: list[tuple[int, str]] = field(default_factory=list)

    def add(self, item: Item, y: int, home: str, dx: int = 0) -> None:
        """Add an item with its first pin at (dx, y)."""
        left, _, right, _ = extents(item, home)
        self.cells.append((item, dx, y))
        self.left = max(self.left, left - dx)
        self.right = max(self.right, right + dx)

    def put_below(self, other: "Column", rows: int) -> None:
        """Take over all cells and notes of another column, moved down by some rows."""
        self.cells += [(item, dx, y + rows) for item, dx, y in other.cells]
        self.notes += [(y + rows, text) for y, text in other.notes]
        self.left = max(self.left, other.left)
        self.right = max(self.right, other.right)

    @property
    def bottom(self) -> int:
        """Return the lowest row that an item of the column fills."""
        return max((y + height(item) for item, _, y in self.cells), default=0)


@dataclass(slots=True)
class Builder:
    """Makes columns. `home` is the location that needs no mention in a drawing.

    `strips` are the strip terminals that have no place yet, by their name.
    """

    chains: Chains
    home: str
    strips: dict[str, Item]
    rail_row: int = 2

    def laced(self, chain: list[Item]) -> list[Item]:
        """Return a chain with the free strip terminals that its wires pass between its items."""
        found: list[Item] = []
        for index, item in enumerate(chain):
            found.append(item)
            if index + 1 < len(chain):
                ahead = chain[index + 1].pins[0].terminal
                for name in self.chains.way(item.pins[-1].terminal, ahead):
                    if name in self.strips:
                        found.append(self.strips.pop(name))
        return found

    def feeding(self, terminal: str, root: str) -> Item | None:
        """Return the free strip terminal that feeds a pin from a rail, if one does at once."""
        nets = self.chains.net.net_of
        if not root or nets[terminal] != nets[root]:
            return None
        way = self.chains.way(terminal, root)
        return self.strips.pop(way[0], None) if way else None

    def stack(self, items: list[Item], top: int, bottom: int, coil_at: int = 0) -> Column:
        """Set items one below the other from a row on, and a coil with its driver at the foot."""
        column = Column()
        need = sum(height(item) for item in items)
        gaps = max(1, len(items) - 1)
        spare = bottom - top - need - GAP * gaps
        y = top
        for index, item in enumerate(items):
            column.add(item, y, self.home)
            y += height(item) + (WIDE_GAP if index < spare else GAP)
        if coil_at:
            self._sink(column, coil_at, WIDE_GAP if spare >= gaps else GAP)
        return column

    def _sink(self, column: Column, coil_at: int, gap: int) -> None:
        """Move the coil at the end, with its driver, down to where all coils stand."""
        low = coil_at
        for index in range(len(column.cells) - 1, -1, -1):
            item, dx, _ = column.cells[index]
            if item.kind not in ("coil", "driver"):
                break
            column.cells[index] = (item, dx, low)
            low -= TALL + gap

    def fitting(self, items: list[Item], room: int) -> int:
        """Return how many of the items fit one below the other into a number of rows."""
        used = 0
        for index, item in enumerate(items):
            used += height(item)
            if used > room:
                return index
            used += GAP
        return len(items)

    def coil_columns(self, chain: list[Item], coil_at: int) -> list[Column]:
        """Return the columns of a coil and the chain before it, more than one if it is long."""
        root = self.chains.rail_root
        feed = self.feeding(chain[0].pins[0].terminal, root)
        items = self.laced(chain)
        top = self.rail_row + GAP
        if feed is not None:
            items.insert(0, feed)
            top = self.rail_row
        columns: list[Column] = []
        while (count := self.fitting(items, coil_at + TALL - top)) < len(items):
            columns.append(self.stack(items[:count], top, coil_at + TALL))
            items, top = items[count:], self.rail_row + GAP
        return [*columns, self.stack(items, top, coil_at + TALL, coil_at)]

    def supply(self) -> Column | None:
        """Return the column between the control supply and its rail, such as its fuse."""
        found = [
            item
            for item in self.chains.free.values()
            if self.chains.net.net_of[item.pins[1].terminal] == self.chains.rail
            and self.chains.far.get(self.chains.net.net_of[item.pins[0].terminal]) == 0
            and self.chains.net.net_of[item.pins[0].terminal] != self.chains.rail
        ]
        if not found:
            return None
        self.chains.take(found[0])
        return self.stack([found[0]], 2, ROWS)

    def coil_groups(self) -> list[list[Column]]:
        """Return one group for each contactor coil: its chain, then what hangs beside it."""
        coils = [item for item in self.chains.free.values() if item.kind == "coil"]
        groups: list[list[Column]] = []
        coil_at = ROWS - TALL - 3
        for coil in coils:
            self.chains.take(coil)
            above = self.chains.net.net_of[coil.pins[0].terminal]
            chain = [*self.chains.take_up(above), coil]
            columns = self.coil_columns(chain, coil_at)
            foot = self.feeding(coil.pins[1].terminal, self.chains.minus)
            if foot is not None:
                columns[-1].add(foot, coil_at + TALL + 2, self.home)
            groups.append(columns)
        found: list[list[Column]] = []
        for group in groups:
            # All columns of a chain keep together; what bridges it stands before them.
            whole = Column([cell for column in group for cell in column.cells])
            found.append([*self.bridges(whole), *group, *self.beside(whole)])
        return found

    def rows_of(self, main: Column) -> dict[str, list[int]]:
        """Return the rows at which each net of a chain is to be had, its rails left out."""
        net_of = self.chains.net.net_of
        rows: dict[str, list[int]] = {}
        for item, _, y in main.cells:
            for pin in item.pins:
                rows.setdefault(net_of[pin.terminal], []).append(y + pin.dy)
        for rail in (self.chains.rail, net_of.get(self.chains.minus, "")):
            rows.pop(rail, None)
        return rows

    def bridges(self, main: Column) -> list[Column]:
        """Return columns of what bridges a part of a chain, for its left side."""
        net_of = self.chains.net.net_of
        rows = self.rows_of(main)
        found: list[Column] = []
        for item in list(self.chains.free.values()):
            ends = [net_of[pin.terminal] for pin in item.pins]
            if all(end in rows for end in ends):
                self.chains.take(item)
                levels = [sum(rows[end]) / len(rows[end]) for end in ends]
                column = Column()
                column.add(item, int(sum(levels) / 2.0) - height(item) // 2, self.home)
                found.append(column)
        return found

    def beside(self, main: Column) -> list[Column]:
        """Return columns of the board's inputs that read a chain, for its right side."""
        net_of = self.chains.net.net_of
        rows = self.rows_of(main)
        wanted: list[tuple[int, Item]] = []
        for item in self.chains.items:
            if item.kind == "input" and not item.sheet:
                name = net_of[item.pins[0].terminal]
                if name in rows:
                    item.sheet = -1  # taken; the sheet's number comes when it is placed
                    wanted.append((max(rows[name]) + 2, item))
        columns: list[Column] = []
        for y, item in sorted(wanted, key=lambda pair: pair[0]):
            if not columns or columns[-1].bottom + 2 > y:
                columns.append(Column())
            columns[-1].add(item, min(y, ROWS - 4 - height(item)), self.home)
        return columns

    def inputs(self) -> list[Column]:
        """Return a column for each input of the board that is left, in the order of the rail."""
        root = self.chains.rail_root
        places = self.chains.order(root) if root else {}
        chains: list[list[Item]] = []
        for item in self.chains.items:
            if item.kind == "input" and not item.sheet:
                item.sheet = -1
                net = self.chains.net.net_of[item.pins[0].terminal]
                # What a longer chain has besides finds its place among the rest.
                chains.append([*self.chains.take_up(net), item][-LONGEST_INPUT:])
        chains.sort(key=lambda chain: places.get(chain[0].pins[0].terminal, 10**6))
        return [self._input(chain, root) for chain in chains]

    def _input(self, chain: list[Item], root: str) -> Column:
        """Return the column of one input: rail, contact, strip terminal, board."""
        feed = self.feeding(chain[0].pins[0].terminal, root)
        items = self.laced(chain)
        top = self.rail_row + WIDE_GAP
        column = self.stack(items, top, ROWS)
        if feed is not None:
            column.add(feed, self.rail_row, self.home)
        if not any(item.kind == "terminal" for item in items) and len(items) > 1:
            # All inputs stand in line, with a strip terminal before them or without.
            last, dx, y = column.cells[len(items) - 1]
            column.cells[len(items) - 1] = (last, dx, y + WIDE_GAP)
        devices = dict.fromkeys(item.ref for item in chain[:-1])
        text = "; ".join(f"{ref} {self.chains.net.parts[ref].text}" for ref in devices)
        column.notes.append((column.bottom, text))
        return column

    def outputs(self) -> list[Column]:
        """Return a wide column for each board block: outputs, with what they feed beneath."""
        found: list[Column] = []
        for item in self.chains.items:
            if item.kind != "block":
                continue
            column = Column()
            column.add(item, 2, self.home)
            for pin in item.pins:
                if not pin.dy:
                    continue
                down = self.chains.take_down(self.chains.net.net_of[pin.terminal])
                if not down:
                    continue
                lead = [
                    self.strips.pop(name)
                    for name in self.chains.way(pin.terminal, down[0].pins[0].terminal)
                    if name in self.strips
                ]
                items = [*lead, *self.laced(down)]
                foot = self.feeding(down[-1].pins[1].terminal, self.chains.minus)
                y = 2 + pin.dy + WIDE_GAP
                for under in [*items, *([foot] if foot is not None else [])]:
                    column.add(under, y, self.home, pin.dx)
                    y += height(under) + WIDE_GAP + (1 if under.kind == "terminal" else 0)
            found.append(column)
        return found

    def rest(self, unplaced: list[Item]) -> list[Column]:
        """Return columns for everything that is left: signals with their receivers, singles."""
        found: list[Column] = []
        left = sorted(unplaced, key=lambda item: item.kind != "signal")
        while left:
            item = left.pop(0)
            column = Column()
            column.add(item, 2, self.home)
            mates = {other for pin in item.pins for other in self.chains.neighbours[pin.terminal]}
            if item.kind == "signal":
                for other in left:
                    if sum(pin.terminal in mates for pin in other.pins) > 1:
                        left.remove(other)
                        column.add(other, 2 + TALL + WIDE_GAP, self.home)
                        break
            found.append(column)
        return found
