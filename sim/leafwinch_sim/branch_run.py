"""One branch while it runs: a defect added to a state of the healthy run, and followed."""

from typing import Any

from leafwinch.fault_texts import FAULTS
from leafwinch.state_texts import HELD_REASONS, WARNINGS
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.bench_state import DEFECTS_END, PLANT, BenchState
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.observation import Observation
from leafwinch_sim.outcomes import BROKEN, FOUND, SILENT, Outcome
from leafwinch_sim.requirements import Monitors
from leafwinch_sim.step_facts import StepFacts

SETTLED_MS = 250  # found and standing still so long ends a branch
DARK_MS = 2000  # a board without power for so long is seen by anybody
DENIED_MS = 300  # the motor was fed at least so long in the healthy run, and not at all here
ENDLESS_MS = 1 << 40

OWN_END = -1  # the branch came to an end of its own
AS_NEXT = -2  # after one step it is the branch of the next one
JOINED = -3  # it came into a state in which an earlier branch of the same defect had been

MARK_MS = 40  # states are compared so often in the run of every tick, at first
YOUNG_MS = 200  # and from this age on only so often


class Mark:
    """Where a branch was at one time, for others of the same defect to compare with.

    Attributes:
        state, watched: of bench and monitors.
        seen: what else decides how the branch goes on.
        at: how many states of the network it had visited.
        visited: all those it visited to its end, once that is known.
        code: how it ended, once that is known.
        outcome: the same with its figures; None where it became the healthy run again.
    """

    __slots__ = ("at", "code", "outcome", "seen", "state", "t_ms", "visited", "watched")

    def __init__(
        self,
        t_ms: int,
        state: BenchState,
        watched: Any,
        seen: tuple[str, int, int, bool],
        at: int,
    ) -> None:
        self.t_ms = t_ms
        self.state = state
        self.watched = watched
        self.seen = seen
        self.at = at
        self.visited: list[int] = []
        self.code = 0
        self.outcome: Outcome | None = None


class BranchRun:
    """Follows one defect from one state of the healthy run.

    Args:
        bench, monitors: used for every branch in turn.
        steps: what the healthy run shows in each step of the script.
        defect: what breaks.
    """

    def __init__(
        self, bench: Bench, monitors: Monitors, steps: list[StepFacts], defect: Defect
    ) -> None:
        self.bench = bench
        self.monitors = monitors
        self.steps = steps
        self.defect = defect
        self.found = ""
        self.still_ms = 0
        self.dark_ms = 0
        self.run_ms = 0
        self.settled_ms = SETTLED_MS
        self.dark_limit_ms = DARK_MS
        self.marks: dict[int, Mark] | None = None  # of other branches of this defect, by time
        self.trail: list[Mark] = []  # of this one
        self.joined: Mark | None = None
        self.last: Observation = bench.observation

    def begin(self, state: BenchState, watched: Any) -> None:
        """Put the bench into a state of the healthy run and let the defect come."""
        self.bench.restore(state)
        self.monitors.restore(watched)
        if self.marks is not None and self.bench.mask_log is not None:
            self.bench.mask_log.clear()
        self.bench.add_defect(self.defect)

    def follow(
        self,
        grid: list[int],
        states: list[tuple[BenchState, Any]],
        place: int,
        tail_ms: int,
        following: tuple[BenchState, Any] | None,
    ) -> int:
        """Run until settled, at most `tail_ms`.

        Args:
            grid: bench time in ms of each known state of the healthy run, ascending.
            states: those states, (bench, monitors).
            place: index of the state from which this branch left.
            tail_ms: longest time followed.
            following: states of bench and monitors with which the same defect begins one
                step later, where that is known.

        Returns:
            The place at which it became the healthy run again, AS_NEXT where after one step
            it is the branch `following`, JOINED (see `joined`), or OWN_END.
        """
        bench = self.bench
        monitors = self.monitors
        operator = bench.operator
        place += 1
        begin_ms = bench.t_ms
        limit_ms = begin_ms + tail_ms
        facts = StepFacts()
        index = operator.index
        warnings = self._warnings()
        while not operator.done() and bench.t_ms < limit_ms:
            if operator.index != index:
                self._judge_step(index, facts)
                facts = StepFacts()
                index = operator.index
            o = bench.step()
            monitors.step(o)
            facts.add(o, o.warnings > warnings)
            if o.warnings != warnings or o.fault:
                self._judge_now(index, o, o.warnings > warnings)
                warnings = o.warnings
            if monitors.broken or self._settled(o):
                break
            if following is not None:
                if bench.snapshot() == following[0] and monitors.snapshot() == following[1]:
                    return AS_NEXT
                following = None
            while place < len(grid) and bench.t_ms > grid[place]:
                place += 1
            if self.marks is not None:
                young = bench.t_ms - begin_ms <= YOUNG_MS
                if bench.t_ms % (MARK_MS if young else YOUNG_MS):
                    continue
            known = place < len(grid) and bench.t_ms == grid[place] and not self.found
            if self.marks is None and not known:
                continue
            state = bench.snapshot()
            watched = monitors.snapshot()
            if known and self._is_healthy(state, watched, states[place]):
                self.run_ms = bench.t_ms - begin_ms
                return place
            if self.marks is not None and self._joins(self.marks, facts, state, watched):
                return JOINED
        self.run_ms = bench.t_ms - begin_ms
        return OWN_END

    def _joins(
        self, marks: dict[int, Mark], facts: StepFacts, state: BenchState, watched: Any
    ) -> bool:
        """Tell whether another branch was in this very state now; if not, leave a mark."""
        bench = self.bench
        seen = (self.found, self.still_ms, self.dark_ms, facts.powered_ms > 0)
        other = marks.get(bench.t_ms)
        if (
            other is not None
            and other.seen == seen
            and other.state == state
            and other.watched == watched
        ):
            self.joined = other
            return True
        visited = 0 if bench.mask_log is None else len(bench.mask_log)
        self.trail.append(Mark(bench.t_ms, state, watched, seen, visited))
        return False

    def _warnings(self) -> int:
        board = self.bench.board
        return board.controller.warnings if board is not None else 0

    def _is_healthy(self, state: BenchState, watched: Any, healthy: tuple[BenchState, Any]) -> bool:
        """Tell whether the whole state is the healthy run's."""
        other = healthy[0]
        if state[PLANT] != other[PLANT] or watched != healthy[1]:
            return False
        return bool(state[DEFECTS_END:] == other[DEFECTS_END:])

    def _judge_now(self, index: int, o: Observation, warned: bool) -> None:
        """Note a fault or warning that the healthy run does not show in this step."""
        if self.found:
            return
        if o.fault and not self._known_fault(index, o.fault):
            name = FAULTS[o.fault - 1][0].replace("_", " ")
            self.found = f"fault {o.fault}: {name}"
        elif warned and not self._known_warning(index, o.warning):
            self.found = f"warning: {WARNINGS[o.warning][0].replace('_', ' ')}"

    def _known_fault(self, index: int, fault: int) -> bool:
        """Tell whether the healthy run shows this fault in this step or the one before."""
        steps = self.steps
        return fault in steps[index].faults or (index > 0 and fault in steps[index - 1].faults)

    def _known_warning(self, index: int, warning: int) -> bool:
        steps = self.steps
        if warning in steps[index].warnings:
            return True
        return index > 0 and warning in steps[index - 1].warnings

    def _judge_step(self, index: int, facts: StepFacts) -> None:
        """After a step: a travel that the healthy run made and this one refused is noticed."""
        if self.found:
            return
        if self.steps[index].powered_ms >= DENIED_MS and not facts.powered_ms:
            o = self.last
            reasons = [
                words for bit, (_, words) in enumerate(HELD_REASONS) if o.held_reasons >> bit & 1
            ]
            self.found = "it does not move: " + (reasons[0] if reasons else "no reaction")

    def _settled(self, o: Observation) -> bool:
        """Tell whether the defect was noticed and the machine stands still."""
        if self.bench.board is not None:
            self.dark_ms = 0 if o.board_on else self.dark_ms + STEP_MS
            if self.dark_ms >= self.dark_limit_ms and not self.found:
                self.found = "the board is dark: no lamp is lit"
        if not self.found:
            return False
        still = not o.powered_any and not self.bench.plant.moving
        self.still_ms = self.still_ms + STEP_MS if still else 0
        return self.still_ms >= self.settled_ms

    def outcome(self, run_ms: int) -> Outcome:
        """Return how it ended."""
        monitors = self.monitors
        o = self.last
        reaction_ms = monitors.worst_release_ms
        overrun_mm = monitors.worst_overrun_mm
        first = monitors.first_broken()
        if first is not None:
            name, broken = first
            return Outcome(
                BROKEN,
                name,
                broken.t_ms,
                broken.text,
                self.found,
                reaction_ms,
                overrun_mm,
                o.fault,
                o.powered_any != 0,
                run_ms,
            )
        verdict = FOUND if self.found else SILENT
        return Outcome(
            verdict, "", 0, "", self.found, reaction_ms, overrun_mm, o.fault, False, run_ms
        )
