"""The run with nothing wrong: the timeline that every branch of the campaign leaves."""

import bisect
from dataclasses import dataclass, field
from typing import Any

from leafwinch_sim.bench import Bench
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.moments import MOMENTS, Situation
from leafwinch_sim.requirements import Monitors
from leafwinch_sim.scripts import Script
from leafwinch_sim.site_schema import Site
from leafwinch_sim.step_facts import StepFacts
from leafwinch_wiring.netlist import Netlist

GRID_MS = 250  # a snapshot at least so often
MOMENTS_LEAST = 24


@dataclass(slots=True)
class Nominal:
    """Snapshots of one healthy run.

    Attributes:
        grid: bench time in ms of each snapshot, ascending.
        states: (bench snapshot, monitors snapshot) at those times.
        moments: (name, t_ms) of each moment, ascending; every one is on the grid.
        masks: (t_ms, mask) of every network the run solved, ascending.
        steps: what happened during each step of the script, by its index.
        step_starts: bench time in ms at which each step began.
        end_ms: when the script was over.
        broken: the first break of each requirement; empty where the drive is sound.
    """

    grid: list[int] = field(default_factory=list)
    states: list[tuple[Any, ...]] = field(default_factory=list)
    moments: list[tuple[str, int]] = field(default_factory=list)
    masks: list[tuple[int, int]] = field(default_factory=list)
    steps: list[StepFacts] = field(default_factory=list)
    step_starts: list[int] = field(default_factory=list)
    end_ms: int = 0
    broken: dict[str, Any] = field(default_factory=dict)

    def at_or_before(self, t_ms: int) -> int:
        """Return the index of the last snapshot not later than t_ms."""
        return bisect.bisect_right(self.grid, t_ms) - 1


def run_nominal(site: Site, net: Netlist, script: Script, seed: int) -> Nominal:
    """Play the script with nothing wrong and keep what branches need."""
    bench = Bench(site, net, script, seed)
    bench.mask_log = []
    monitors = Monitors(site, net)
    nominal = Nominal()
    wanted = list(MOMENTS)
    if bench.board is None:
        wanted = []
    _keep(nominal, bench, monitors)
    if wanted:
        nominal.moments.append((wanted.pop(0).name, 0))
    nominal.steps = [StepFacts() for _ in script.steps]
    warnings = 0
    while not bench.operator.done():
        index = bench.operator.index
        o = bench.step()
        while len(nominal.step_starts) <= min(bench.operator.index, len(script.steps) - 1):
            nominal.step_starts.append(bench.t_ms - STEP_MS if nominal.step_starts else 0)
        monitors.step(o)
        nominal.steps[index].add(o, o.warnings != warnings)
        warnings = o.warnings
        found = bool(wanted) and wanted[0].fits(Situation(bench))
        if found:
            nominal.moments.append((wanted.pop(0).name, bench.t_ms))
        if found or bench.t_ms % GRID_MS == 0:
            _keep(nominal, bench, monitors)
    nominal.end_ms = bench.t_ms
    nominal.masks = bench.mask_log
    monitors.finish(bench.t_ms, bench.operator)
    nominal.broken = dict(monitors.broken)
    _fill_up(nominal)
    return nominal


def _keep(nominal: Nominal, bench: Bench, monitors: Monitors) -> None:
    nominal.grid.append(bench.t_ms)
    nominal.states.append((bench.snapshot(), monitors.snapshot()))


def _fill_up(nominal: Nominal) -> None:
    """Add evenly spread moments where the wiring knows too few phases (no controller)."""
    missing = MOMENTS_LEAST - len(nominal.moments)
    taken = {t_ms for _, t_ms in nominal.moments}
    for number in range(max(0, missing)):
        t_ms = nominal.grid[number * (len(nominal.grid) - 1) // max(1, missing)]
        if t_ms not in taken:
            nominal.moments.append((f"at {t_ms / 1000:g} s", t_ms))
    nominal.moments.sort(key=lambda item: item[1])
