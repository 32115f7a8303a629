"""One defect at one moment: leave the healthy run there and follow until it is settled.

Three things make this quick without changing a verdict. A wiring defect that changes
no answer of the network is the healthy run until the first one that it changes. A
branch whose whole state equals the healthy run's at a later snapshot is that run again.
And a branch is over once a requirement is broken, or the defect was found and the
machine stands still. Where it acts unnoticed it ends after TAIL_MS, since the branches of
later moments go on from there; a defect that all this leaves unnoticed from the first
moment is followed once more from there to the end of the script, without any of it.
"""

import bisect
from typing import Any

from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.bench_state import BenchState
from leafwinch_sim.branch_run import ENDLESS_MS, OWN_END, BranchRun
from leafwinch_sim.nominal import Nominal
from leafwinch_sim.outcomes import DORMANT, SILENT, Outcome
from leafwinch_sim.requirements import Monitors
from leafwinch_sim.scripts import Script
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.equivalence import outcome, same_outcome
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit

TAIL_MS = 8_000  # a branch in which a defect acts unnoticed is followed so long

Signature = tuple[int, tuple[str, tuple[str, ...], float, str]]


class Brancher:
    """Runs branches of one nominal run; keeps one bench and one set of monitors for all."""

    def __init__(
        self, site: Site, net: Netlist, script: Script, nominal: Nominal, seed: int
    ) -> None:
        self.site = site
        self.net = net
        self.nominal = nominal
        self.bench = Bench(site, net, script, seed)
        self.monitors = Monitors(site, net)
        self.healthy = self.bench.circuits[()]
        self.last_state: BenchState | None = None  # at the end of the last branch that was run
        self.last_watched: Any = None  # the monitors then
        self.ran = 0  # branches run for the present defect
        self.mask_times = [t_ms for t_ms, _ in nominal.masks]
        self.distinct = {mask for _, mask in nominal.masks}
        self.masks = sorted(self.distinct)
        self.log: list[tuple[int, int]] = []  # networks solved for the present defect
        self.bench.mask_log = self.log
        self.healthy_outcome = {mask: outcome(self.healthy, mask) for mask in self.distinct}

    def signature(self, defect: Defect) -> Signature | None:
        """Return what the machine can see of a wiring defect during the healthy run.

        Defects of equal signature may act alike; `acts_alike` then settles it.
        """
        if not isinstance(defect, WiringDefect):
            return None
        circuit = Circuit(self.net, (defect,))
        seen = tuple(outcome(circuit, mask) for mask in self.masks)
        mechanics = (defect.mechanics, defect.devices, defect.factor, defect.arms_on)
        return hash(seen), mechanics

    def acts_alike(self, one: Defect, other: Defect) -> bool:
        """Tell whether a defect would have run every branch of one just as one did.

        `one` is the defect whose branches ran last: all networks they visited are compared.
        """
        if not isinstance(one, WiringDefect) or not isinstance(other, WiringDefect):
            return False
        masks = self.distinct | {mask for _, mask in self.log}
        return same_outcome(self._circuit_of(one), Circuit(self.net, (other,)), masks)

    def _circuit_of(self, defect: WiringDefect) -> Circuit:
        """Return the bench's network with this defect, its answers so far included."""
        circuits = self.bench.circuits
        if (defect,) not in circuits:
            circuits[(defect,)] = Circuit(self.net, (defect,))
        return circuits[(defect,)]

    def outcomes(self, defect: Defect) -> list[Outcome]:
        """Return the outcome at every moment of the nominal run, in their order."""
        self.bench.circuits = {(): self.healthy}
        self.last_state = None
        self.ran = 0
        self.log.clear()
        differs = self._differences(defect)
        moments = [t_ms for _, t_ms in self.nominal.moments]
        found: list[Outcome] = [Outcome(DORMANT)] * len(moments)
        for index in range(len(moments) - 1, -1, -1):
            found[index] = self._outcome(defect, differs, moments, index, found)
        if found[0].verdict == SILENT:
            # Its parts were put together from branches that end early, so nothing is taken on
            # trust: from the first moment such a defect is followed to the end of the script.
            found[0] = self._followed_through(defect)
        return found

    def _followed_through(self, defect: Defect) -> Outcome:
        """Run one defect from the first moment to the end, rejoining nothing."""
        branch = BranchRun(self.bench, self.monitors, self.nominal.steps, defect)
        branch.begin(*self.nominal.states[0])
        branch.follow([], [], 0, ENDLESS_MS, None)
        self.ran += 1
        self.last_state = self.bench.snapshot()
        self.last_watched = self.monitors.snapshot()
        return branch.outcome(branch.run_ms)

    # --- where a wiring defect changes something ------------------------------------

    def _differences(self, defect: Defect) -> list[int] | None:
        """Return for each network of the nominal run the next index that the defect changes.

        None for defects that act otherwise than through the network's answers.
        """
        if not isinstance(defect, WiringDefect) or defect.arms_on:
            return None
        if defect.mechanics not in ("", "intermittent"):
            return None
        circuit = self._circuit_of(defect)
        changed = {m for m in self.distinct if outcome(circuit, m) != self.healthy_outcome[m]}
        masks = self.nominal.masks
        following = [len(masks)] * (len(masks) + 1)
        for index in range(len(masks) - 1, -1, -1):
            following[index] = index if masks[index][1] in changed else following[index + 1]
        return following

    def _first_effect(self, differs: list[int] | None, t_ms: int) -> int | None:
        """Return when the defect first changes an answer at or after t_ms, or None."""
        if differs is None:
            return t_ms
        index = max(0, bisect.bisect_right(self.mask_times, t_ms) - 1)
        following = differs[index]
        if following >= len(self.mask_times):
            return None
        return max(t_ms, self.mask_times[following])

    # --- following one branch --------------------------------------------------------

    def _outcome(
        self,
        defect: Defect,
        differs: list[int] | None,
        moments: list[int],
        index: int,
        later: list[Outcome],
    ) -> Outcome:
        """Return the outcome from moment `index`, using those of the moments after it."""
        begin_ms = moments[index]
        run_ms = 0
        while True:
            effect_ms = self._first_effect(differs, begin_ms)
            if effect_ms is None:
                return Outcome(DORMANT, run_ms=run_ms)
            if index + 1 < len(moments) and effect_ms >= moments[index + 1]:
                return later[index + 1]
            place = self.nominal.at_or_before(effect_ms)
            if self.nominal.grid[place] < begin_ms:
                place = self.nominal.grid.index(begin_ms)
            nominal = self.nominal
            branch = BranchRun(self.bench, self.monitors, nominal.steps, defect)
            branch.begin(*nominal.states[place])
            rejoined = branch.follow(nominal.grid, nominal.states, place, TAIL_MS, None)
            run_ms += branch.run_ms
            self.ran += 1
            if rejoined == OWN_END:
                self.last_state = self.bench.snapshot()
                self.last_watched = self.monitors.snapshot()
                return branch.outcome(run_ms)
            # The state is the healthy one again, so what follows is known or dormant.
            begin_ms = self.nominal.grid[rejoined]
            while index + 1 < len(moments) and moments[index + 1] <= begin_ms:
                index += 1
            if moments[index] == begin_ms:
                return later[index]
            if differs is None and index + 1 >= len(moments):
                return branch.outcome(run_ms)
