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
from dataclasses import dataclass
from typing import Any

from leafwinch.faults import FAULTS
from leafwinch.states import HELD_REASONS, WARNINGS
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.bench_state import DEFECTS_END, BenchState
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.nominal import Nominal, StepFacts
from leafwinch_sim.observation import Observation
from leafwinch_sim.requirements import Monitors
from leafwinch_sim.scripts import Script
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.equivalence import outcome, same_outcome
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit

SETTLED_MS = 250  # found and standing still so long ends a branch
DARK_MS = 2000  # a board without power for so long is seen by anybody
DENIED_MS = 300  # the motor was fed at least so long in the healthy run, and not at all here
TAIL_MS = 8_000  # a branch in which a defect acts unnoticed is followed so long

Signature = tuple[int, tuple[str, tuple[str, ...], float, str]]

BROKEN = "broken"
FOUND = "found"
SILENT = "silent"
DORMANT = "dormant"


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one branch ended.

    Attributes:
        verdict: BROKEN, FOUND, SILENT (it acted, but nobody noticed) or DORMANT (the rest
            of the script never used what it weakens).
        requirement, broken_ms, text: of the first requirement broken.
        found: in words how it showed itself.
        reaction_ms: longest time from release to motor and brake coil off.
        overrun_mm: longest way of the free end after a release.
        fault: fault number latched, or 0.
        fed: whether the motor was fed when the requirement broke.
        run_ms: simulated time that this branch took.
    """

    verdict: str
    requirement: str = ""
    broken_ms: int = 0
    text: str = ""
    found: str = ""
    reaction_ms: int = 0
    overrun_mm: float = 0.0
    fault: int = 0
    fed: bool = False
    run_ms: int = 0


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
        branch = _Branch(self, defect, 0, full=True)
        branch.follow()
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
            branch = _Branch(self, defect, place, full=False)
            rejoined = branch.follow()
            run_ms += branch.run_ms
            self.ran += 1
            if rejoined is None:
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


class _Branch:
    """One branch while it runs."""

    def __init__(self, owner: Brancher, defect: Defect, place: int, full: bool) -> None:
        self.owner = owner
        self.defect = defect
        self.place = place
        self.full = full
        self.found = ""
        self.still_ms = 0
        self.dark_ms = 0
        self.run_ms = 0
        self.last: Observation = owner.bench.observation

    def follow(self) -> int | None:
        """Run until settled; return the index of the snapshot at which it rejoined, or None."""
        nominal = self.owner.nominal
        bench = self.owner.bench
        monitors = self.owner.monitors
        state, watched = nominal.states[self.place]
        bench.restore(state)
        monitors.restore(watched)
        bench.add_defect(self.defect)
        # A defect of the machine is part of its snapshot, so it never rejoins.
        place = self.place + 1
        begin_ms = bench.t_ms
        limit_ms = begin_ms + (10**9 if self.full else TAIL_MS)
        facts = StepFacts()
        step = bench.operator.index
        warnings = self._warnings_of(bench)
        while not bench.operator.done() and bench.t_ms < limit_ms:
            if bench.operator.index != step:
                self._judge_step(step, facts)
                facts = StepFacts()
                step = bench.operator.index
            o = bench.step()
            self.last = o
            monitors.step(o)
            facts.add(o, o.warnings > warnings)
            if o.warnings != warnings or o.fault:
                self._judge_now(step, o, o.warnings > warnings)
                warnings = o.warnings
            if monitors.broken:
                break
            if self._settled(o):
                break
            if not self.full and place < len(nominal.grid) and bench.t_ms >= nominal.grid[place]:
                if bench.t_ms == nominal.grid[place] and self._rejoined(place):
                    self.run_ms = bench.t_ms - begin_ms
                    return place
                place += 1
        self.run_ms = bench.t_ms - begin_ms
        return None

    def _warnings_of(self, bench: Bench) -> int:
        board = bench.board
        return board.controller.warnings if board is not None else 0

    def _rejoined(self, place: int) -> bool:
        """Tell whether the whole state is the healthy run's at this snapshot."""
        if self.found:
            return False
        state, watched = self.owner.nominal.states[place]
        mine = self.owner.bench.snapshot()
        if mine[DEFECTS_END:] != state[DEFECTS_END:]:
            return False
        return bool(self.owner.monitors.snapshot() == watched)

    def _judge_now(self, step: int, o: Observation, warned: bool) -> None:
        """Note a fault or warning that the healthy run does not show in this step."""
        if self.found:
            return
        known = self._known(step)
        if o.fault and o.fault not in known.faults:
            name = FAULTS[o.fault - 1][0].replace("_", " ")
            self.found = f"fault {o.fault}: {name}"
        elif warned and o.warning not in known.warnings:
            self.found = f"warning: {WARNINGS[o.warning][0].replace('_', ' ')}"

    def _known(self, step: int) -> StepFacts:
        """Return what the healthy run shows in this step and the one before."""
        steps = self.owner.nominal.steps
        known = steps[step]
        if step == 0:
            return known
        before = steps[step - 1]
        return StepFacts(known.faults | before.faults, known.warnings | before.warnings)

    def _judge_step(self, step: int, facts: StepFacts) -> None:
        """After a step: a travel that the healthy run made and this one refused is noticed."""
        if self.found:
            return
        healthy = self.owner.nominal.steps[step]
        if healthy.powered_ms >= DENIED_MS and not facts.powered_ms:
            o = self.last
            reasons = [
                words for bit, (_, words) in enumerate(HELD_REASONS) if o.held_reasons >> bit & 1
            ]
            self.found = "it does not move: " + (reasons[0] if reasons else "no reaction")

    def _settled(self, o: Observation) -> bool:
        """Tell whether the defect was noticed and the machine stands still."""
        if self.owner.bench.board is not None:
            self.dark_ms = 0 if o.board_on else self.dark_ms + STEP_MS
            if self.dark_ms >= DARK_MS and not self.found:
                self.found = "the board is dark: no lamp is lit"
        if not self.found:
            return False
        still = not o.powered_any and not self.owner.bench.plant.moving
        self.still_ms = self.still_ms + STEP_MS if still else 0
        return self.still_ms >= SETTLED_MS

    def outcome(self, run_ms: int) -> Outcome:
        """Return how it ended."""
        monitors = self.owner.monitors
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
