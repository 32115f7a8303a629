"""The pieces of work of a proof, each of which any process can do on its own."""

import gc
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from pydantic import TypeAdapter

from leafwinch_sim.aftermath import Aftermath, AftermathBench
from leafwinch_sim.bench_defects import Defect, all_defects
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.branch import Brancher, Signature
from leafwinch_sim.every_tick import PIECE_TICKS, TickWorker
from leafwinch_sim.nominal import Nominal, run_nominal
from leafwinch_sim.outcomes import BROKEN, FOUND, Outcome
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.proof_tests import ProofBench
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.netlist import Netlist

SCRIPT = "every-function"
TICK_SCRIPTS = (SCRIPT, "full-cycle")  # of which every tick is tried: two full cycles


@dataclass(frozen=True, slots=True)
class DefectResult:
    """Everything found out about one defect. `outcomes` has one entry per moment."""

    index: int
    outcomes: tuple[Outcome, ...]
    aftermath: Aftermath | None
    proof_test: str
    proof_found: str
    ran: int


class Worker:
    """Judges defects one after the other; one in each process."""

    def __init__(self, site: Site, net: Netlist, seed: int, strict: bool) -> None:
        self.site = site
        self.net = net
        script = load_script(SCRIPT)
        self.nominal = run_nominal(site, net, script, seed)
        self.brancher = Brancher(site, net, script, self.nominal, seed)
        self.operator = self.brancher.bench.operator
        self.aftermath = AftermathBench(self.brancher.bench)
        self.proof = ProofBench(site, net, seed)
        self.defects = all_defects(site, net, strict)

    def signature(self, index: int) -> Signature | None:
        """Return what the healthy run shows of a defect, None for one that is not the wiring's."""
        return self.brancher.signature(self.defects[index])

    def judge(self, group: Sequence[int]) -> list[DefectResult]:
        """Return the results of defects of equal signature.

        The branches of the first are run. Those of another are the same, and are not run
        again, where both networks agree in every state that the first one visited.
        """
        first = self._run(group[0])
        results = [first]
        for index in group[1:]:
            if self.brancher.acts_alike(self.defects[group[0]], self.defects[index]):
                test, found = self._proof(index, first.outcomes)
                results.append(
                    replace(first, index=index, proof_test=test, proof_found=found, ran=0)
                )
            else:
                log = list(self.brancher.log)
                results.append(self._run(index))
                self.brancher.log[:] = log
        return results

    def _run(self, index: int) -> DefectResult:
        defect = self.defects[index]
        brancher = self.brancher
        outcomes = brancher.outcomes(defect)
        aftermath = None
        last = brancher.last_state
        broke = any(outcome.verdict == BROKEN for outcome in outcomes)
        stays = is_unpreventable(defect) or broke or not self.net.has_controller
        if last is not None and not stays:
            cycle = self._first_of_kind(index)
            watched = brancher.last_watched
            aftermath = self.aftermath.play(last, watched, self.operator, defect, cycle)
        test, found = self._proof(index, tuple(outcomes))
        return DefectResult(index, tuple(outcomes), aftermath, test, found, brancher.ran)

    def _proof(self, index: int, outcomes: tuple[Outcome, ...]) -> tuple[str, str]:
        """Search for a proof test where no branch found the defect."""
        if any(outcome.verdict in (FOUND, BROKEN) for outcome in outcomes):
            return ("", "")
        return self.proof.search(self.defects[index])

    def _first_of_kind(self, index: int) -> bool:
        kind = self.defects[index].kind
        return all(defect.kind != kind for defect in self.defects[:index])


def is_unpreventable(defect: Defect) -> bool:
    """Tell whether gravity or wind moves the deck although everything is off."""
    return isinstance(defect, PlantDefect) and defect.unpreventable


def is_condition(defect: Defect) -> bool:
    """Tell whether it is weather, load or supply that comes and goes, not something broken."""
    return isinstance(defect, PlantDefect) and defect.category in ("load", "supply")


Job = tuple[Any, ...]
"""("signatures", indices), ("moments", indices) or ("ticks", script, first tick)."""


@dataclass(frozen=True)
class Plan:
    """What is proved: everything a process needs to do any piece of the work.

    Attributes:
        site, net: what is installed and how it is wired.
        seed: of bounce, contact skew and noise.
        strict: also bridge any two nets of one group.
        only: ids of the defects to try at every tick; empty for all.
    """

    site: Site
    net: Netlist
    seed: int
    strict: bool
    only: tuple[str, ...] = ()

    @cached_property
    def key(self) -> str:
        """Name of the plan: a hash of all that its results depend on, but for the sources."""
        text = f"{self.site.model_dump_json()}|{self.net.content_hash}|{self.seed}|{self.strict}"
        return hashlib.sha256(f"{text}|{self.only}".encode()).hexdigest()[:16]

    def nominal(self, script: str) -> Nominal:
        """Play a script with nothing wrong."""
        return run_nominal(self.site, self.net, load_script(script), self.seed)

    def defects(self) -> tuple[Defect, ...]:
        """Return the catalogue."""
        found = all_defects(self.site, self.net, self.strict)
        return tuple(d for d in found if not self.only or d.id in self.only)


def columns_of(nominal: Nominal, script: str) -> list[tuple[str, int]]:
    """Return the report's columns of a script: its moments, or else its steps."""
    if script == SCRIPT:
        return nominal.moments
    verbs = [f"{step.verb} {step.object}".strip() for step in load_script(script).steps]
    return [
        (f"{script}: {verb}", t_ms) for verb, t_ms in zip(verbs, nominal.step_starts, strict=True)
    ]


def tick_jobs(script: str, nominal: Nominal) -> list[Job]:
    """Return the pieces of one script whose every tick is tried, the last one first."""
    ticks = nominal.end_ms // STEP_MS
    return [("ticks", script, first) for first in range(0, ticks, PIECE_TICKS)][::-1]


class Bay:
    """Does pieces of the work of one plan; keeps what several of them need."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.worker: Worker | None = None
        self.tick_workers: dict[str, TickWorker] = {}

    def perform(self, job: Job) -> Any:
        """Do one piece and return its result as plain data for JSON."""
        if job[0] == "ticks":
            return self._ticks(job[1], job[2])
        if self.worker is None:
            plan = self.plan
            self.worker = Worker(plan.site, plan.net, plan.seed, plan.strict)
        if job[0] == "signatures":
            return [self.worker.signature(index) for index in job[1]]
        return RESULTS.dump_python(self.worker.judge(job[1]), mode="json")

    def _ticks(self, script: str, first: int) -> dict[str, Any]:
        worker = self.tick_workers.get(script)
        if worker is None:
            plan = self.plan
            nominal = plan.nominal(script)
            columns = [t_ms for _, t_ms in columns_of(nominal, script)]
            worker = TickWorker(
                plan.site,
                plan.net,
                load_script(script),
                plan.seed,
                nominal,
                plan.defects(),
                columns,
            )
            self.tick_workers[script] = worker
        left = worker.nominal.end_ms // STEP_MS - first
        # Millions of snapshots, none in a cycle, would keep the collector busy for nothing.
        collects = gc.isenabled()
        gc.disable()
        try:
            return worker.piece(first, min(PIECE_TICKS, left)).as_data()
        finally:
            if collects:
                gc.enable()


RESULTS = TypeAdapter(list[DefectResult])

_bays: dict[str, Bay] = {}


def perform(plan: Plan, job: Job) -> Any:
    """Do one piece of the work in this process, whichever it is."""
    bay = _bays.get(plan.key)
    if bay is None:
        _bays.clear()
        bay = _bays[plan.key] = Bay(plan)
    return bay.perform(job)
