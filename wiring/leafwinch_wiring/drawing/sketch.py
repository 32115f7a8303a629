"""Draws one sheet: its symbols, then every wire with its mark, then references to other sheets.

A wire between two terminals of the sheet is one line. Any other wire, and one for which no
clear way is left, is two stubs: at each end a short line with the wire's mark, the far
terminal and where that is drawn.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from leafwinch_wiring.drawing.canvas import Canvas
from leafwinch_wiring.drawing.items import GRID_MM, Item, Pin
from leafwinch_wiring.drawing.marks import clear_of_aprons, mark_places, stub_label
from leafwinch_wiring.drawing.pen import Where
from leafwinch_wiring.drawing.plan import COLUMNS, FRAME, HEAD_MM, LEFT_MM, TOP_MM, Plan, mm
from leafwinch_wiring.drawing.router import (
    BEND,
    CROSS,
    MOVES,
    Cell,
    Router,
    State,
    corners,
)
from leafwinch_wiring.drawing.symbols import POWER_MM, draw
from leafwinch_wiring.drawing.texts import LINE_MM, Box, Label, around, grown, overlap, wrap
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import WireData

TRIES, PATIENCE = 14, 4
"""How often a sheet is drawn anew at most, and how often without gain."""

HALO_MM = 2.0
"""Distance from a text in mm that a wire keeps where it can."""

ASIDE = 1.3
"""Least room between a symbol and a wire beside it, in mm."""

SPLIT = 120.0
"""What a wire cut into two references counts in the score of a sheet, in grid steps."""

LONG = 120
"""Reach in grid steps beyond which a wire is not drawn through but cut."""


@dataclass(slots=True)
class Sketch:
    """One sheet being drawn. `first` are wire ends, as mark and terminal, to be placed first."""

    plan: Plan
    sheet: int
    wires: list[WireData]
    where: Where
    home: str
    first: list[tuple[str, str]] = field(default_factory=list)
    split: set[str] = field(default_factory=set)
    detours: dict[str, float] = field(default_factory=dict)
    failures: Counter[str] = field(default_factory=Counter)
    canvas: Canvas = field(default_factory=Canvas)
    router: Router = field(default_factory=lambda: Router(COLUMNS, 0))
    cell_of: dict[tuple[str, str], Cell] = field(default_factory=dict)
    drawn: set[str] = field(default_factory=set)
    round: dict[Cell, bool] = field(default_factory=dict)

    def draw(self) -> Canvas:
        """Draw everything; raise BadInput when the sheet is too crowded.

        The sheet is drawn several times. Each time the wires that had to go a long way round
        the others are drawn earlier; the best drawing is kept.
        """
        best: tuple[float, Canvas] | None = None
        worse = 0
        for _ in range(TRIES):
            failed = self._attempt()
            self.first = [*failed, *(end for end in self.first if end not in failed)]
            self.failures.update(mark for mark, _ in failed)
            score = self._score()
            if not failed and (best is None or score < best[0]):
                self._dots()
                best, worse = (score, self.canvas), 0
            elif best is not None:
                worse += 1
            if worse >= PATIENCE or (best is not None and not self.detours):
                break
        if best is not None:
            return best[1]
        mark, terminal = self.first[0]
        raise BadInput(
            f"Sheet '{self.plan.title}' has no room left to draw wire '{mark}' at terminal"
            f" '{terminal}'; fewer wires must meet there."
        )

    def _score(self) -> float:
        """Return how ugly the sheet is: its lines, bends, crossings and split wires."""
        router = self.router
        crossings = len((router.across & router.down) - router.corner)
        return (
            len(router.steps) / 2.0
            + BEND * len(router.corner)
            + CROSS * crossings
            + (SPLIT * len(self.split))
        )

    def _attempt(self) -> list[tuple[str, str]]:
        """Draw the sheet once; return the ends of wires that found no room."""
        self.canvas = Canvas()
        self.router = Router(COLUMNS, self.plan.rows)
        self.cell_of, self.drawn, self.round = {}, set(), {}
        self._symbols()
        self.split = set()
        inside = [w for w in self.wires if w.a in self.drawn and w.b in self.drawn]
        inside = [
            wire
            for wire in inside
            if self._length(wire)[2] <= LONG and self.failures[wire.mark] < 3
        ]
        ends = [
            (wire, terminal)
            for wire in self.wires
            if wire not in inside
            for terminal in (wire.a, wire.b)
            if terminal in self.drawn
        ]
        self.router.waiting = Counter(self.cell_of.values())
        urgent = [end for end in ends if (end[0].mark, end[1]) in self.first]
        failed = [(w.mark, t) for w, t in urgent if not self._stub(w, t)]
        for wire in sorted(inside, key=self._length):
            if not self._wire(wire):
                self.split.add(wire.mark)
                self.detours[wire.mark] = self.detours.get(wire.mark, 0.0) + 100.0
                for terminal in (wire.a, wire.b):
                    if not self._stub(wire, terminal):
                        failed.append((wire.mark, terminal))
        for wire, terminal in ends:
            if (wire, terminal) not in urgent and not self._stub(wire, terminal):
                failed.append((wire.mark, terminal))
        return failed

    def _length(self, wire: WireData) -> tuple[int, float, int]:
        """Return what a wire is sorted by: straight down, long way round last time, length."""
        (x0, y0), (x1, y1) = self.cell_of[wire.a, wire.mark], self.cell_of[wire.b, wire.mark]
        reach = abs(x1 - x0) + abs(y1 - y0)
        return (0 if x0 == x1 else 1, -self.detours.get(wire.mark, 0.0), reach)

    def _symbols(self) -> None:
        """Draw the items and mark their room as taken."""
        for item in self.plan.items:
            x, y = mm(item.x, item.y)
            lines, labels = len(self.canvas.segments), len(self.canvas.labels)
            draw(self.canvas, item, x, y, self.where, self.home)
            written = self.canvas.labels[labels:]
            body = around(
                (min(a, c), min(b, d), max(a, c), max(b, d))
                for a, b, c, d in self.canvas.segments[lines:]
            )
            self.canvas.solids.append(body)
            open_below = any(pin.dy for pin in item.pins) or item.kind == "terminal"
            low = body[3] + (-0.1 if open_below else 1.0)
            self._block((body[0] - ASIDE, body[1] + 0.1, body[2] + ASIDE, low))
            for label in written:
                self._block_text(label)
                box = label.box()
                if body[1] < (box[1] + box[3]) / 2.0 < body[3]:
                    # No wire runs between a symbol and the words beside it.
                    left, right = min(box[0], body[0]), max(box[2], body[2])
                    self._block((left, box[1], right, min(box[3], body[3] - 0.1)))
            for pin in item.pins:
                self._pin(item, pin)
        for x, row, text, room in self.plan.notes:
            left, top = mm(x, row)
            for line in wrap(text, room * GRID_MM):
                top += LINE_MM
                self.canvas.text(Label(left, top, line))
                self._block_text(self.canvas.labels[-1])

    def _pin(self, item: Item, pin: Pin) -> None:
        """Open a pin to its wires, and share them among its spots."""
        mine = [w.mark for w in self.wires if pin.terminal in (w.a, w.b)]
        self.drawn.add(pin.terminal)
        for dx, dy, ways in pin.places():
            cell = (item.x + dx, item.y + dy)
            self.router.pins[cell] = ways
            self.round[cell] = item.kind == "terminal"
            for mark in mine[: len(ways)]:
                self.cell_of[(pin.terminal, mark)] = cell
            mine = mine[len(ways) :]

    def _block(self, box: Box) -> None:
        """Close every grid point in a rectangle to wires."""
        self.router.solid.update(self._cells(box))

    def _block_text(self, label: Label) -> None:
        """Close the room of a text to wires, and keep them at a distance where they can."""
        self._block(grown(label.box(), 0.3))
        self.router.halo.update(self._cells(grown(label.box(), HALO_MM)))

    def _cells(self, box: Box) -> Iterator[Cell]:
        """Yield the grid points inside a rectangle."""
        left = int((box[0] - LEFT_MM) // GRID_MM) + 1
        right = int(-(-(box[2] - LEFT_MM) // GRID_MM)) - 1
        top = int((box[1] - TOP_MM) // GRID_MM) + 1
        low = int(-(-(box[3] - TOP_MM) // GRID_MM)) - 1
        for x in range(left, right + 1):
            for y in range(top, low + 1):
                yield (x, y)

    @property
    def area(self) -> Box:
        """Return the rectangle in mm that marks and references may fill."""
        low = mm(0, self.plan.rows)[1] + 1.5
        return (FRAME[0] + 0.5, HEAD_MM + 0.5, FRAME[2] - 0.5, low)

    def _wire(self, wire: WireData) -> bool:
        """Draw a wire as one line with its mark; return whether there was a way."""
        start, end = self.cell_of[wire.a, wire.mark], self.cell_of[wire.b, wire.mark]
        extra: dict[Cell, float] = {}
        reach = abs(start[0] - end[0]) + abs(start[1] - end[1])
        limit = 60.0 + 2.5 * reach
        for _ in range(6):
            cells = self.router.search(
                start, lambda s: (s[0], s[1]) == end, {end}, limit + 60.0, extra
            )
            if not cells:
                return False
            points = [mm(*cell) for cell in corners(cells)]
            place = self._mark(wire, points, cells)
            if place is not None:
                self._commit(wire, cells, points, place, {})
                around_by = len(cells) - 1 - reach + 2.0 * max(0, len(points) - 4)
                if around_by > 4:
                    self.detours[wire.mark] = self.detours.get(wire.mark, 0.0) + around_by
                return True
            for cell in cells[1:-1]:
                extra[cell] = extra.get(cell, 0.0) + 8.0
        return False

    def _mark(
        self, wire: WireData, points: list[tuple[float, float]], cells: list[Cell]
    ) -> Label | None:
        """Return a free place for a wire's mark along its way."""
        lines = [(*one, *other) for one, other in pairwise(points)]
        held = len(self.canvas.segments)
        aprons, own = self.router.aprons(), set(cells)
        self.canvas.segments += lines
        try:
            for label in mark_places(wire.mark, points):
                free = clear_of_aprons(label, aprons, own)
                if free and self.canvas.label_fits(label, self.area):
                    return label
            return None
        finally:
            del self.canvas.segments[held:]

    def _commit(
        self,
        wire: WireData,
        cells: list[Cell],
        points: list[tuple[float, float]],
        label: Label,
        more: dict[str, str],
    ) -> None:
        """Draw a line found for a wire, or for one end of it, and its label."""
        data = {"data-mark": wire.mark, "data-from": wire.a, "data-to": wire.b, **more}
        width = POWER_MM if wire.group == "power" else 0.25
        self.canvas.line(*points, width=width, data=data)
        self.canvas.text(label)
        self.router.take(cells)
        self._block_text(label)
        for cell in (cells[0], cells[-1]):
            if cell in self.router.waiting:
                self.router.waiting[cell] -= 1

    def _stub(self, wire: WireData, terminal: str) -> bool:
        """Draw one end of a wire as a short line with a reference; return whether it fitted."""
        start = self.cell_of[terminal, wire.mark]
        far = wire.b if terminal == wire.a else wire.a
        text = f"{wire.mark} {far} /{self.where(far)}"
        chosen: list[Label] = []
        taken = self.router.across | self.router.down
        aprons = self.router.aprons()

        def arrived(state: State) -> bool:
            if (state[0], state[1]) in taken:
                return False
            label = stub_label(text, wire, far, mm(state[0], state[1]), state[2])
            x, y = mm(state[0], state[1])
            head = (x - 1.3, y - 1.3, x + 1.3, y + 1.3)
            if any(overlap(head, other.box()) for other in self.canvas.labels):
                return False
            free = clear_of_aprons(label, aprons, {start})
            if not free or not self.canvas.label_fits(label, self.area):
                return False
            chosen[:] = [label]
            return True

        cells = self.router.search(start, arrived, set(), 70.0, {})
        if not cells:
            return False
        points = [mm(*cell) for cell in corners(cells)]
        self._commit(wire, cells, points, chosen[0], {"data-end": terminal})
        self._arrow(points[-2], points[-1])
        return True

    def _arrow(self, before: tuple[float, float], tip: tuple[float, float]) -> None:
        """Draw the open arrow head at the end of a stub."""
        dx, dy = tip[0] - before[0], tip[1] - before[1]
        long = abs(dx) + abs(dy)
        ux, uy = dx / long, dy / long
        back = (tip[0] - 1.2 * ux, tip[1] - 1.2 * uy)
        self.canvas.line(
            (back[0] - 0.6 * uy, back[1] + 0.6 * ux), tip, (back[0] + 0.6 * uy, back[1] - 0.6 * ux)
        )

    def _dots(self) -> None:
        """Draw a dot where two or more wires meet at a pin; a strip terminal is a circle."""
        for cell, is_round in self.round.items():
            taken = sum(1 for way in MOVES if (*cell, way) in self.router.steps)
            if is_round:
                self.canvas.over.append((mm(*cell), 0.8, False))
            elif taken > 1:
                self.canvas.over.append((mm(*cell), 0.6, True))
