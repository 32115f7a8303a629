"""The operator: plays a script with the hands, step by step, on the bench's controls."""

from typing import TYPE_CHECKING

from leafwinch.fault_texts import FAULTS
from leafwinch.states import FAULT, HELD, IDLE, STATE_NAMES
from leafwinch_sim.scripts import CONDITIONS, Script, Step
from leafwinch_sim.switches import Lever

if TYPE_CHECKING:
    from leafwinch_sim.bench import Bench

# Conditions as their places in CONDITIONS, which are quicker to compare than words.
NOTHING = -1
CODES = {"": NOTHING, **{name: place for place, name in enumerate(CONDITIONS)}}
STATES = (IDLE, HELD, FAULT)  # of the first conditions, which the lamp shows
FAULT_SHOWN = 2
STOPPED = 3
MOVING = 4
FINALS_CLOSED = 9

OperatorState = tuple[int, int, tuple[int, ...], tuple[int, ...]]


class Operator:
    """Plays one script.

    `index` and `t_ms` are its whole state; `given_up` lists the steps whose condition did
    not come true in time, `surprised` those that ended otherwise than they expect.
    """

    __slots__ = ("given_up", "index", "lasts_ms", "script", "surprised", "t_ms", "until")

    def __init__(self, script: Script) -> None:
        self.script = script
        self.until: list[int] = [CODES[step.until] for step in script.steps]
        self.lasts_ms: list[int] = [step.for_ms for step in script.steps]
        self.index = 0
        self.t_ms = -1  # since the begin of the step; -1: not begun
        self.given_up: tuple[int, ...] = ()
        self.surprised: tuple[int, ...] = ()

    def done(self) -> bool:
        """Tell whether the script is over."""
        return self.index >= len(self.until)

    def step(self, bench: "Bench", dt_ms: int) -> None:
        """Move the hands for the next dt_ms of bench time."""
        while not self.done():
            until = self.until[self.index]
            if self.t_ms < 0:
                self.begin(bench, self.script.steps[self.index])
                self.t_ms = 0
            elif until != NOTHING and self._is_true(bench, until):
                self._next(bench, self.script.steps[self.index])
                continue
            elif self.t_ms >= self.lasts_ms[self.index]:
                if until != NOTHING:
                    self.given_up = (*self.given_up, self.index)
                self._next(bench, self.script.steps[self.index])
                continue
            self.t_ms += dt_ms
            return

    def _next(self, bench: "Bench", step: Step) -> None:
        if step.expect and bench.board is not None and not self._meets(bench, step.expect):
            self.surprised = (*self.surprised, self.index)
        self.index += 1
        self.t_ms = -1

    def begin(self, bench: "Bench", step: Step) -> None:
        """Move the hands as a step says."""
        verb = step.verb
        if verb == "raise":
            bench.lever.target = Lever.FULL
        elif verb == "lower":
            bench.lever.target = -Lever.FULL
        elif verb == "halfway":
            bench.lever.target = Lever.HALFWAY if step.object == "raise" else -Lever.HALFWAY
        elif verb == "release":
            bench.lever.target = 0
        elif verb in ("press", "let"):
            bench.hands[step.object] = verb == "press"
        elif verb in ("turn", "untwist"):
            bench.hands["key"] = verb == "turn"
        elif verb in ("fit", "remove"):
            bench.hands["link"] = verb == "fit"
        elif verb in ("push", "free"):
            bench.hands[step.object] = verb == "push"
        elif verb in ("isolate", "restore"):
            bench.hands["isolated"] = verb == "isolate"
        bench.hands_moved()

    def _is_true(self, bench: "Bench", condition: int) -> bool:
        if condition <= FAULT_SHOWN:
            if bench.board is None:
                condition = STOPPED  # without a lamp a person waits for standstill
            else:
                return bool(bench.state() == STATES[condition])
        if condition == STOPPED:
            return not bench.plant.moving and bench.plant.brake_set
        if condition == MOVING:
            return bench.plant.moving
        if condition == FINALS_CLOSED:
            return not bench.limit_actuated("top_final") and not bench.limit_actuated(
                "bottom_final"
            )
        return bench.limit_actuated(CONDITIONS[condition])

    def _meets(self, bench: "Bench", expect: str) -> bool:
        state = bench.state()
        if expect in STATE_NAMES:
            return state >= 0 and STATE_NAMES[state] == expect
        fault = bench.observation.fault
        return state == FAULT and fault > 0 and FAULTS[fault - 1][0] == expect

    def snapshot(self) -> OperatorState:
        """Return the whole state."""
        return (self.index, self.t_ms, self.given_up, self.surprised)

    def restore(self, state: OperatorState) -> None:
        """Take over a state from snapshot()."""
        self.index, self.t_ms, self.given_up, self.surprised = state
