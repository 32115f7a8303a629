"""Finds a way for each wire between the symbols: straight, with few bends and crossings.

Wires run on the drawing grid. Two wires may cross at a right angle but never share a step
or bend on each other. The way is the cheapest one (the A* search of Hart, Nilsson and
Raphael, 1968).
"""

import heapq
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

Cell = tuple[int, int]
State = tuple[int, int, str]

MOVES = {"N": (0, -1), "S": (0, 1), "E": (1, 0), "W": (-1, 0)}
BACK = {"N": "S", "S": "N", "E": "W", "W": "E"}

HALO = 0.4
"""Cost in grid steps of running close by a text."""

BEND, CROSS, CLOSE, APRON, TIGHT = 4.0, 5.0, 0.7, 6.0, 40.0
"""Costs in grid steps: of a bend, of a crossing, of running beside another wire, of passing
right in front of a pin that still waits for a wire, and where that needs every way it has."""


@dataclass(slots=True)
class Router:
    """What is taken on one sheet. `columns` and `rows` are its size in grid steps.

    `pins` are the ways in which wires may leave each pin's cell, and `waiting` how many
    wires are still to come there. No wire enters a `solid` cell; `halo` cells lie close by a
    text.
    """

    columns: int
    rows: int
    solid: set[Cell] = field(default_factory=set)
    halo: set[Cell] = field(default_factory=set)
    pins: dict[Cell, str] = field(default_factory=dict)
    waiting: dict[Cell, int] = field(default_factory=dict)
    across: set[Cell] = field(default_factory=set)
    down: set[Cell] = field(default_factory=set)
    corner: set[Cell] = field(default_factory=set)
    steps: set[State] = field(default_factory=set)

    def aprons(self) -> dict[Cell, float]:
        """Return the cells right in front of pins that wait for wires, with their cost.

        They cost most where a pin has no more free ways than wires to come.
        """
        found: dict[Cell, float] = {}
        for (x, y), ways in self.pins.items():
            waiting = self.waiting.get((x, y), 0)
            open_ways = [way for way in ways if (x, y, way) not in self.steps]
            price = APRON if len(open_ways) > waiting else TIGHT
            if waiting:
                for way in open_ways:
                    cell = (x + MOVES[way][0], y + MOVES[way][1])
                    found[cell] = max(price, found.get(cell, 0.0))
        return found

    def moves(self, state: State, start: Cell, ends: set[Cell]) -> Iterator[tuple[State, float]]:
        """Yield every state that one step leads to, with its cost."""
        x, y, way = state
        here = (x, y)
        for turn, (dx, dy) in MOVES.items():
            if turn == BACK.get(way, "") or (x, y, turn) in self.steps:
                continue
            if here == start and turn not in self.pins.get(start, "NESW"):
                continue
            there = (x + dx, y + dy)
            if not (0 <= there[0] <= self.columns and 0 <= there[1] <= self.rows):
                continue
            if there in ends:
                if BACK[turn] not in self.pins.get(there, "NESW"):
                    continue
            elif there in self.solid or there in self.pins or there in self.corner:
                continue
            bent = way not in ("", turn)
            if bent and (here in self.across or here in self.down):
                continue
            mine, others = (self.across, self.down) if dx else (self.down, self.across)
            if there in mine and there not in ends:
                continue
            price = 1.0 + (BEND if bent else 0.0)
            price += CROSS if there in others and there not in ends else 0.0
            one, other = (x + dx + dy, y + dy + dx), (x + dx - dy, y + dy - dx)
            price += CLOSE * ((one in mine) + (other in mine))
            price += HALO if there in self.halo else 0.0
            yield (there[0], there[1], turn), price

    def search(
        self,
        start: Cell,
        arrived: Callable[[State], bool],
        ends: set[Cell],
        limit: float,
        extra: dict[Cell, float],
    ) -> list[Cell]:
        """Return the cheapest way from a pin to where `arrived` is true, or no cells.

        `ends` are pins that may be entered, `limit` is the greatest cost, and `extra` are
        further costs of cells.
        """
        aprons = self.aprons()
        goal = next(iter(ends)) if len(ends) == 1 else None

        def ahead(cell: Cell) -> float:
            if goal is None:
                return 0.0
            dx, dy = abs(cell[0] - goal[0]), abs(cell[1] - goal[1])
            return dx + dy + (BEND if dx and dy else 0.0)

        first: State = (start[0], start[1], "")
        best: dict[State, float] = {first: 0.0}
        before: dict[State, State] = {}
        queue = [(ahead(start), first)]
        done: set[State] = set()
        while queue:
            _, state = heapq.heappop(queue)
            if state in done:
                continue
            done.add(state)
            if state[2] and arrived(state):
                return _cells(before, state)
            for following, price in self.moves(state, start, ends):
                cell = (following[0], following[1])
                total = best[state] + price + extra.get(cell, 0.0)
                if cell in aprons and cell not in ends:
                    total += aprons[cell]
                if total <= limit and total < best.get(following, total + 1.0):
                    best[following] = total
                    before[following] = state
                    heapq.heappush(queue, (total + ahead(cell), following))
        return []

    def take(self, cells: list[Cell]) -> None:
        """Mark a way as taken."""
        ways = []
        for (x0, y0), (x1, y1) in pairwise(cells):
            way = next(name for name, move in MOVES.items() if move == (x1 - x0, y1 - y0))
            ways.append(way)
            self.steps.add((x0, y0, way))
            self.steps.add((x1, y1, BACK[way]))
        for index, cell in enumerate(cells):
            before = ways[index - 1] if index else ""
            after = ways[index] if index < len(ways) else ""
            if before != after:
                self.corner.add(cell)
            for way in (before, after):
                if way:
                    (self.across if way in "EW" else self.down).add(cell)


def _cells(before: dict[State, State], state: State) -> list[Cell]:
    cells = [(state[0], state[1])]
    while state in before:
        state = before[state]
        cells.insert(0, (state[0], state[1]))
    return cells


def corners(cells: list[Cell]) -> list[Cell]:
    """Return a way without the cells at which it runs straight on."""
    kept = [cells[0]]
    for before, here, after in zip(cells, cells[1:], cells[2:], strict=False):
        if (here[0] - before[0], here[1] - before[1]) != (after[0] - here[0], after[1] - here[1]):
            kept.append(here)
    return [*kept, cells[-1]]
