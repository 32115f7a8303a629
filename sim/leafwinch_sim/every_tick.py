"""Every single defect at every control tick of a piece of the healthy run.

A (defect, tick) is merged, and not run, where it is known to be another branch already run:

- A wiring defect that acts through the network alone and changes none of its answers within
  a step is its own branch of the next tick.
- Two wiring defects of equal mechanics whose networks give the same outcome in every state
  that a branch of the one visited at this tick are one branch. The states visited are kept
  as a tree of answers for each tick.
- Any other defect whose first step ends in the very state with which its branch of the
  next tick begins is that branch.
- A branch whose whole state is the healthy run's again is its branch of that tick.
- A branch that comes into the very state in which one of a later tick was at that time
  ends as that one does.

`run` counts the branches that were followed to an end of their own.

A branch is over once a requirement is broken, once the defect was found and the machine
stands still for SETTLED_MS, or after TAIL_MS.
"""

import bisect
from typing import Any, Final

from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.bench_state import BenchState
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.branch_run import AS_NEXT, JOINED, OWN_END, BranchRun, Mark
from leafwinch_sim.nominal import Nominal
from leafwinch_sim.outcomes import Outcome
from leafwinch_sim.requirements import Monitors
from leafwinch_sim.scripts import Script
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.equivalence import outcome
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit

PIECE_TICKS = 250
TAIL_MS: Final = 1000
SETTLED_MS: Final = 50
DARK_MS: Final = 100  # a board without power for so long is dark, and its drivers are open

Watched = tuple[BenchState, Any]


def as_tick(tick: int) -> int:
    """Return the code of 'ends as the branch of this tick does', a negative number."""
    return -1 - tick


class Answers:
    """The distinct outcomes of every network, as numbers that can be compared quickly."""

    def __init__(self, net: Netlist, healthy: Circuit) -> None:
        self.net = net
        self.healthy = healthy
        self.numbers: dict[Any, int] = {}
        self.known: dict[int, dict[int, int]] = {}  # of the defect with this index, by mask
        self.circuits: dict[int, Circuit] = {}
        self.sound: dict[int, int] = {}

    def of(self, index: int, mask: int) -> int:
        """Return the number of the outcome with the defect of this index."""
        known = self.known[index]
        number = known.get(mask, -1)
        if number < 0:
            number = self._number(self.circuits[index], mask)
            known[mask] = number
        return number

    def of_sound(self, mask: int) -> int:
        """Return the number of the outcome with nothing wrong."""
        number = self.sound.get(mask, -1)
        if number < 0:
            number = self._number(self.healthy, mask)
            self.sound[mask] = number
        return number

    def _number(self, circuit: Circuit, mask: int) -> int:
        key = outcome(circuit, mask)
        number: int = self.numbers.setdefault(key, len(self.numbers))
        return number


class Node:
    """A state of the network that a branch visited; the answer decides what follows."""

    __slots__ = ("after", "mask")

    def __init__(self, mask: int) -> None:
        self.mask = mask
        self.after: dict[int, Node | int] = {}


class Piece:
    """What came of one piece: for each defect the codes of its ticks, and the worst figures.

    Attributes:
        first, ticks: the ticks from `first` on that it covers.
        run, merged: (defect, tick) pairs run and merged.
        codes: what a code that is not negative means: verdict, requirement, text, found,
            fault and whether the motor was fed.
        spans: for each defect [tick, code] from which tick on which code holds, ascending.
        worst: for each defect and column [reaction_ms, its tick, overrun_mm, its tick].
    """

    def __init__(self, first: int, ticks: int) -> None:
        self.first = first
        self.ticks = ticks
        self.run = 0
        self.merged = 0
        self.codes: list[tuple[str, str, str, str, int, bool]] = []
        self.spans: dict[int, list[list[int]]] = {}
        self.worst: dict[int, dict[int, list[Any]]] = {}
        self._numbers: dict[tuple[str, str, str, str, int, bool], int] = {}

    def code(self, outcome: Outcome) -> int:
        """Return the code of an outcome."""
        key = (
            outcome.verdict,
            outcome.requirement,
            outcome.text,
            outcome.found,
            outcome.fault,
            outcome.fed,
        )
        if key not in self._numbers:
            self._numbers[key] = len(self.codes)
            self.codes.append(key)
        return self._numbers[key]

    def note_worst(self, index: int, column: int, tick: int, outcome: Outcome) -> None:
        """Keep the longest reaction and overrun of a defect in a column, with their ticks."""
        columns = self.worst.setdefault(index, {})
        worst = columns.setdefault(column, [-1, tick, -1.0, tick])
        if outcome.reaction_ms > worst[0]:
            worst[0] = outcome.reaction_ms
            worst[1] = tick
        if outcome.overrun_mm > worst[2]:
            worst[2] = outcome.overrun_mm
            worst[3] = tick

    def as_data(self) -> dict[str, Any]:
        """Return everything as plain data for JSON."""
        return {
            "first": self.first,
            "ticks": self.ticks,
            "run": self.run,
            "merged": self.merged,
            "codes": [list(code) for code in self.codes],
            "spans": {str(index): spans for index, spans in self.spans.items()},
            "worst": {
                str(index): {str(column): values for column, values in columns.items()}
                for index, columns in self.worst.items()
            },
        }


class TickWorker:
    """Runs pieces of one healthy run; keeps one bench and all networks for them.

    Args:
        nominal: the healthy run, with snapshots at least so often as it has them.
        columns: bench time in ms at which each column of the report begins, ascending.
    """

    def __init__(
        self,
        site: Site,
        net: Netlist,
        script: Script,
        seed: int,
        nominal: Nominal,
        defects: tuple[Defect, ...],
        columns: list[int],
    ) -> None:
        self.nominal = nominal
        self.defects = defects
        self.columns = columns
        self.bench = Bench(site, net, script, seed)
        self.monitors = Monitors(site, net)
        self.log: list[tuple[int, int]] = []
        self.answers = Answers(net, self.bench.circuit)
        self.masked: list[int] = []  # these act through the network's answers alone
        self.moved: list[int] = []  # these have mechanics besides
        self.special: list[int] = []  # and these nothing to compare by
        self.kind_of: dict[int, str] = {}  # mechanics of wiring defects, which must be equal
        for index, defect in enumerate(defects):
            if not isinstance(defect, WiringDefect) or defect.arms_on:
                self.special.append(index)
                continue
            only_answers = defect.mechanics in ("", "intermittent")
            (self.masked if only_answers else self.moved).append(index)
            self.kind_of[index] = f"{defect.mechanics}|{defect.devices}|{defect.factor}"
            circuit = Circuit(net, (defect,))
            self.answers.known[index] = {}
            self.answers.circuits[index] = circuit
            self.bench.circuits[(defect,)] = circuit
        self.changed: dict[int, list[int]] = {}  # by mask: masked defects that change its answer
        self.grid: list[int] = []
        self.states: list[Watched] = []
        self.marks: list[dict[int, Mark]] = []  # of each defect's branches, by time
        self.visited: list[int] = []  # states of the network on the last branch's whole way
        self.masks: list[list[int]] = []  # for each tick those in force in its step

    def piece(self, first: int, ticks: int) -> Piece:
        """Run every defect at `ticks` ticks from `first` on, the last one first."""
        piece = Piece(first, ticks)
        self._record(first, first + ticks)
        size = len(self.defects)
        self.marks = [{} for _ in range(size)]
        codes = [as_tick(first + ticks)] * size
        following: list[Watched | None] = [None] * size
        if ticks < len(self.states):
            for index in (*self.moved, *self.special):
                following[index] = self._entry(index, ticks)
        spans: list[list[list[int]]] = [[] for _ in range(size)]
        for place in range(ticks - 1, -1, -1):
            tick = first + place
            self._wiring_tick(piece, place, tick, codes, following)
            for index in self.special:
                codes[index] = self._special(piece, index, place, tick, codes[index], following)
            for index in range(size):
                own = spans[index]
                if own and own[-1][1] == codes[index]:
                    own[-1][0] = tick
                else:
                    own.append([tick, codes[index]])
        piece.spans = {index: spans[index][::-1] for index in range(size)}
        piece.merged = size * ticks - piece.run
        return piece

    # --- the healthy run, tick by tick ---------------------------------------------------

    def _record(self, first: int, last: int) -> None:
        """Play the healthy run over this piece and the tail after it, keeping every state."""
        bench = self.bench
        monitors = self.monitors
        nominal = self.nominal
        place = nominal.at_or_before(first * STEP_MS)
        state, watched = nominal.states[place]
        bench.restore(state)
        monitors.restore(watched)
        self.log = []
        bench.mask_log = self.log
        while bench.t_ms < first * STEP_MS:
            monitors.step(bench.step())
        self.grid = [bench.t_ms]
        self.states = [(bench.snapshot(), monitors.snapshot())]
        self.masks = []
        until_ms = last * STEP_MS + TAIL_MS
        while bench.t_ms < until_ms and not bench.operator.done():
            before = bench.mask
            begun = len(self.log)
            monitors.step(bench.step())
            masks = [mask for _, mask in self.log[begun:]]
            if before >= 0 and before not in masks:
                masks.append(before)
            self.masks.append(masks)
            self.grid.append(bench.t_ms)
            self.states.append((bench.snapshot(), monitors.snapshot()))

    def _changed(self, mask: int) -> list[int]:
        """Return the masked defects that change the answer of this state of the network."""
        if mask not in self.changed:
            sound = self.answers.of_sound(mask)
            self.changed[mask] = [i for i in self.masked if self.answers.of(i, mask) != sound]
        return self.changed[mask]

    # --- wiring defects, which can be compared by their networks ---------------------------

    def _wiring_tick(
        self,
        piece: Piece,
        place: int,
        tick: int,
        codes: list[int],
        following: list[Watched | None],
    ) -> None:
        acting: set[int] = set(self.moved)
        for mask in self.masks[place]:
            acting.update(self._changed(mask))
        roots: dict[str, Node] = {}
        moved = set(self.moved)
        for index in sorted(acting):
            kind = self.kind_of[index]
            code = _found(roots.get(kind), index, self.answers)
            if code is not None:
                codes[index] = code
                following[index] = None
                continue
            self.visited = []
            if index in moved:
                code = self._special(piece, index, place, tick, codes[index], following)
            else:
                branch = self._branch(index)
                branch.begin(*self.states[place])
                code = self._end(piece, branch, index, place, tick, None, codes[index])
            if self.visited:
                roots[kind] = _grown(roots.get(kind), index, self.answers, self.visited, code)
            codes[index] = code

    # --- one branch ------------------------------------------------------------------------

    def _entry(self, index: int, place: int) -> Watched:
        """Return the state with which a defect's branch of a tick begins."""
        state, watched = self.states[place]
        self.bench.restore(state)
        self.log.clear()
        self.bench.add_defect(self.defects[index])
        return (self.bench.snapshot(), watched)

    def _special(
        self,
        piece: Piece,
        index: int,
        place: int,
        tick: int,
        next_code: int,
        following: list[Watched | None],
    ) -> int:
        entry = self._entry(index, place)
        self.monitors.restore(entry[1])
        branch = self._branch(index)
        code = self._end(piece, branch, index, place, tick, following[index], next_code)
        following[index] = entry
        return code

    def _branch(self, index: int) -> BranchRun:
        branch = BranchRun(self.bench, self.monitors, self.nominal.steps, self.defects[index])
        branch.settled_ms = SETTLED_MS
        branch.dark_limit_ms = DARK_MS
        branch.marks = self.marks[index]
        return branch

    def _end(
        self,
        piece: Piece,
        branch: BranchRun,
        index: int,
        place: int,
        tick: int,
        following: Watched | None,
        next_code: int,
    ) -> int:
        """Follow a branch that has begun and return its code."""
        end = branch.follow(self.grid, self.states, place, TAIL_MS, following)
        if end == AS_NEXT:
            return next_code
        visited = [mask for _, mask in self.log]
        result: Outcome | None = None
        joined = branch.joined
        if end == JOINED and joined is not None:
            visited += joined.visited[joined.at :]
            result = joined.outcome
            code = joined.code
        elif end == OWN_END:
            piece.run += 1
            result = branch.outcome(0)
            code = piece.code(result)
        else:
            # The codes of later ticks are looked up when all pieces are there.
            code = as_tick(tick + end - place)
        if result is not None:
            column = bisect.bisect_right(self.columns, tick * STEP_MS) - 1
            piece.note_worst(index, column, tick, result)
        marks = self.marks[index]
        for mark in branch.trail:
            mark.code, mark.outcome, mark.visited = code, result, visited
            marks[mark.t_ms] = mark
        self.visited = visited
        return code


def _found(root: Node | None, index: int, answers: Answers) -> int | None:
    """Walk the tree of answers with one defect's network; return the code at its end."""
    node = root
    while node is not None:
        after = node.after.get(answers.of(index, node.mask))
        if after is None:
            return None
        if isinstance(after, int):
            return after
        node = after
    return None


def _grown(root: Node | None, index: int, answers: Answers, visited: list[int], code: int) -> Node:
    """Enter the states that a branch visited, in the order of their first visit."""
    masks = list(dict.fromkeys(visited))
    if root is None:
        root = Node(masks[0])
    node = root
    for place, mask in enumerate(masks):
        answer = answers.of(index, mask)
        if place + 1 == len(masks):
            node.after[answer] = code
            break
        after = node.after.get(answer)
        if not isinstance(after, Node):
            after = Node(masks[place + 1])
            node.after[answer] = after
        node = after
    return root
