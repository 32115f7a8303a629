"""What hands and surroundings did on a bench, kept so that it can be played again as a scenario."""

from typing import NamedTuple

from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.scenario import is_surrounding
from leafwinch_sim.scripts import Step
from leafwinch_sim.switches import Lever

ACTS_MAX = 600
"""Acts kept; their text stays below what a page may send back."""

LONGEST_MS = 3_600_000  # of one act

HAND_VERBS = {
    "key": ("turn key", "untwist key"),
    "link": ("fit link", "remove link"),
    "isolated": ("isolate", "restore"),
    "stop": ("press stop", "let stop"),
    "reset": ("press reset", "let reset"),
}
"""Acts that put a hand on a switch and take it away; a limit is pushed and freed."""

LEVER_VERBS = {
    Lever.FULL: "raise",
    -Lever.FULL: "lower",
    Lever.HALFWAY: "halfway raise",
    -Lever.HALFWAY: "halfway lower",
    0: "release",
}


class Act(NamedTuple):
    """One thing that happened: bench time in ms, verb with object."""

    t_ms: int
    words: str


class Happened:
    """Whatever differs from one step of a bench to the next, in order.

    Args:
        bench: as it begins; everything is compared with that.
    """

    def __init__(self, bench: Bench) -> None:
        self.acts: list[Act] = []
        self.full = False  # more happened than is kept
        self._take(bench, False)

    def _take(self, bench: Bench, both: bool) -> None:
        self.lever = bench.lever.target
        self.hands = dict(bench.hands)
        self.defects = bench.defects
        self.both = both
        self.place = bench.operator.index

    def look(self, t_ms: int, bench: Bench, both: bool, touched: bool) -> None:
        """Note what has changed.

        The bench runs ms by ms after every touch, also one that changes nothing, so that such a
        touch is an act as well; without it the same run would differ in its last digits.

        Args:
            t_ms: bench time at which the step began.
            bench: after the step.
            both: whether the control is held both ways.
            touched: whether a hand did something before this step.
        """
        begun = bench.operator.index != self.place and not bench.operator.done()
        if not (touched or begun) and bench.defects == self.defects:
            return
        words = [*self._broken(bench.defects), *self._hands(bench.hands)]
        if both != self.both or bench.lever.target != self.lever:
            words.append(LEVER_VERBS[bench.lever.target])
        if both:
            words.append("both")  # every other act lets the second way go
        words = words or ["wait"]
        self._take(bench, both)
        room = max(0, ACTS_MAX - len(self.acts))
        self.full = self.full or len(words) > room
        self.acts += [Act(t_ms, each) for each in words[:room]]

    def _broken(self, defects: tuple[Defect, ...]) -> list[str]:
        gone = [defect for defect in self.defects if defect not in defects]
        come = [defect for defect in defects if defect not in self.defects]
        return [
            *(f"{'go' if is_surrounding(d) else 'mend'} {d.id}" for d in gone),
            *(f"{'come' if is_surrounding(d) else 'break'} {d.id}" for d in come),
        ]

    def _hands(self, hands: dict[str, bool]) -> list[str]:
        found = []
        for name in sorted({*hands, *self.hands}):
            pressed = hands.get(name, False)
            if pressed != self.hands.get(name, False):
                on, off = HAND_VERBS.get(name, (f"push {name}", f"free {name}"))
                found.append(on if pressed else off)
        return found

    def back(self, count: int, bench: Bench, both: bool) -> None:
        """Forget all but the first so many acts, as the bench went back to where they ended."""
        del self.acts[count:]
        self.full = False
        self._take(bench, both)

    def steps(self, end_ms: int) -> tuple[Step, ...]:
        """Return the acts of a scenario that lasts to this bench time in ms."""
        times = [0, *(act.t_ms for act in self.acts), end_ms]
        words = ["wait", *(act.words for act in self.acts)]
        found: list[Step] = []
        for text, begin_ms, next_ms in zip(words, times, times[1:], strict=False):
            verb, _, name = text.partition(" ")
            left_ms = next_ms - begin_ms
            found.append(Step(verb, name, min(left_ms, LONGEST_MS), "", ""))
            while (left_ms := left_ms - LONGEST_MS) > 0:
                found.append(Step("wait", "", min(left_ms, LONGEST_MS), "", ""))
        return tuple(found)
