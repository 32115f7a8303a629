"""After a defect showed: insist on using the drive, then mend it and expect it to work."""

import math
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


class AftermathBench:
    """Plays the aftermath of branches on one bench."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.insisting = load_script("insist")
        self.repaired = load_script("after-repair")
        self.cycle = load_script("after-repair-cycle")
        self.off_top = load_script("off-top-final")
        self.off_bottom = load_script("off-bottom-final")

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
        self._follow(self.insisting, monitors)
        broken = monitors.first_broken()
        bench.remove_defect(defect)
        if isinstance(defect, PlantDefect):
            # Nobody mends a machine with its rope under load: it is slackened and rewound.
            bench.plant.refit_rope()
        self._leave_finals(monitors)
        text = ""
        for _ in range(ATTEMPTS):
            text = self._why_not(self._follow(self.cycle if cycle else self.repaired, monitors))
            if not text:
                break
        text = text or self.broken_since(broken, monitors)
        bench.operator = operator
        return Aftermath(broken, not text, text)

    def _follow(self, script: Script, monitors: Monitors) -> str:
        """Play a script; return the first step that waited in vain, in words."""
        bench = self.bench
        bench.operator = Operator(script)
        while not bench.operator.done():
            monitors.step(bench.step())
        for index in bench.operator.given_up:
            step = script.steps[index]
            return f"'{step.verb}' waited in vain for '{step.until}'"
        return ""

    def _leave_finals(self, monitors: Monitors) -> None:
        """Recover from a final limit under power, or by hand where that is refused."""
        bench = self.bench
        for name, script in (("top_final", self.off_top), ("bottom_final", self.off_bottom)):
            if bench.limit_actuated(name):
                self._follow(script, monitors)
            if bench.limit_actuated(name):
                bench.hands_moved()
                bench.plant.place(math.radians(BY_HAND_DEG))

    def broken_since(self, before: tuple[str, Broken] | None, monitors: Monitors) -> str:
        """Return in words what broke only after mending.

        Whoever mends may move the deck and its rope by hand, so ends and drops (R2, R11)
        are not judged here.
        """
        for name, broken in monitors.broken.items():
            if before is None and name not in ("R2", "R11"):
                return f"after mending {name} broke: {broken.text}"
        return ""

    def _why_not(self, given_up: str) -> str:
        if given_up:
            return f"after mending {given_up}"
        if self.bench.state() == FAULT:
            return f"after mending fault {self.bench.observation.fault} was still latched"
        return ""
