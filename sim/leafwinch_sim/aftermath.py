"""After a defect showed: insist on using the drive, then mend it and expect it to work."""

from dataclasses import dataclass

from leafwinch.states import FAULT
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.bench_state import BenchState
from leafwinch_sim.operator import Operator
from leafwinch_sim.requirements import Broken, Monitors
from leafwinch_sim.scripts import load_script


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

    def play(
        self, state: BenchState, operator: Operator, defect: Defect, whole_cycle: bool
    ) -> Aftermath:
        """Go on from the end of a branch; whole_cycle asks for a full cycle after mending."""
        bench = self.bench
        bench.restore(state)
        bench.operator = Operator(self.insisting)
        monitors = Monitors(bench.site, bench.net)
        while not bench.operator.done() and not monitors.broken:
            monitors.step(bench.step())
        broken = None
        if monitors.broken:
            broken = min(monitors.broken.items(), key=lambda item: item[1].t_ms)
        bench.remove_defect(defect)
        bench.operator = Operator(self.cycle if whole_cycle else self.repaired)
        monitors = Monitors(bench.site, bench.net)
        while not bench.operator.done():
            monitors.step(bench.step())
        text = self._why_not(monitors)
        bench.operator = operator
        return Aftermath(broken, not text, text)

    def _why_not(self, monitors: Monitors) -> str:
        operator = self.bench.operator
        if monitors.broken:
            name, broken = min(monitors.broken.items(), key=lambda item: item[1].t_ms)
            return f"after mending {name} broke: {broken.text}"
        if operator.given_up:
            step = operator.script.steps[operator.given_up[0]]
            return f"after mending '{step.verb}' waited in vain for '{step.until}'"
        if self.bench.state() == FAULT:
            return f"after mending fault {self.bench.observation.fault} was still latched"
        return ""
