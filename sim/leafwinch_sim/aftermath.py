"""After a defect showed: insist on using the drive, then mend it and expect it to work."""

import functools
import math
from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

from leafwinch.states import FAULT
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.bench_state import BenchState
from leafwinch_sim.operator import Operator
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.requirements import Broken, Monitors
from leafwinch_sim.scripts import Script, load_script

ATTEMPTS = 2  # a first start may still trip on an account that the defect has used up
BY_HAND_DEG = 40.0  # where the deck is wound to by hand, isolated

_shipped: Callable[[str], Script] = functools.cache(load_script)


@dataclass(frozen=True, slots=True)
class Aftermath:
    """What came of insisting and of mending.

    Attributes:
        broken: the first requirement broken while insisting, with its break, or None.
        healed: whether the mended drive works both ways again.
        text: in words why not.
    """

    broken: tuple[str, Broken] | None
    healed: bool
    text: str


class Mender:
    """Plays the scripts of insisting and mending on one bench.

    Args:
        bench: where.
        advance: steps the bench once and judges what it shows.
    """

    def __init__(self, bench: Bench, advance: Callable[[], object]) -> None:
        self.bench = bench
        self.advance = advance

    def follow(self, name: str) -> str:
        """Play a shipped script; return the first step that waited in vain, in words."""
        bench = self.bench
        script = _shipped(name)
        bench.operator = Operator(script)
        while not bench.operator.done():
            self.advance()
        for index in bench.operator.given_up:
            step = script.steps[index]
            return f"'{step.verb}' waited in vain for '{step.until}'"
        return ""

    def leave_finals(self) -> None:
        """Recover from a final limit under power, or by hand where that is refused."""
        bench = self.bench
        for final in ("top_final", "bottom_final"):
            if bench.limit_actuated(final):
                self.follow(f"off-{final.replace('_', '-')}")
            if bench.limit_actuated(final):
                bench.hands_moved()
                bench.plant.place(math.radians(BY_HAND_DEG))

    def why_not(self, cycle: bool, attempts: int = ATTEMPTS) -> str:
        """Try the mended drive; return in words why it does not work, empty where it does.

        Args:
            cycle: whether it must go to both ends, not just a little both ways.
            attempts: how often to reset and try.
        """
        text = ""
        for _ in range(attempts):
            given_up = self.follow("after-repair-cycle" if cycle else "after-repair")
            if given_up:
                text = f"after mending {given_up}"
            elif self.bench.state() == FAULT:
                text = f"after mending fault {self.bench.observation.fault} was still latched"
            else:
                return ""
        return text


def broken_since(before: Collection[str], monitors: Monitors) -> str:
    """Return in words what broke only after mending, given what had broken before.

    Whoever mends may move the deck and its rope by hand, so ends and drops (R2, R11)
    are not judged here.
    """
    for name, broken in monitors.broken.items():
        if name not in before and name not in ("R2", "R11"):
            return f"after mending {name} broke: {broken.text}"
    return ""


class AftermathBench:
    """Plays the aftermath of branches on one bench."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench

    def play(
        self, state: BenchState, watched: Any, operator: Operator, defect: Defect, cycle: bool
    ) -> Aftermath:
        """Go on from the end of a branch.

        Args:
            state: the bench's snapshot at its end.
            watched: the monitors' snapshot at its end.
            operator: whom the bench has afterwards.
            defect: the defect that is there.
            cycle: whether a full cycle is asked for after mending, not just a try both ways.
        """
        bench = self.bench
        bench.restore(state)
        monitors = Monitors(bench.site, bench.net)
        monitors.restore(watched)
        mender = Mender(bench, lambda: monitors.step(bench.step()))
        mender.follow("insist")
        broken = monitors.first_broken()
        before = tuple(monitors.broken)
        bench.remove_defect(defect)
        if isinstance(defect, PlantDefect):
            # Nobody mends a machine with its rope under load: it is slackened and rewound.
            bench.plant.refit_rope()
        mender.leave_finals()
        text = mender.why_not(cycle) or broken_since(before, monitors)
        bench.operator = operator
        return Aftermath(broken, not text, text)
