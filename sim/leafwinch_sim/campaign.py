"""The proof: every single defect at every moment, judged, and the result as plain data."""

import platform
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from dataclasses import dataclass, replace
from importlib.metadata import PackageNotFoundError, version
from typing import Any

from leafwinch_sim.aftermath import Aftermath, AftermathBench
from leafwinch_sim.bench_defects import Defect, all_defects
from leafwinch_sim.branch import Brancher, Signature
from leafwinch_sim.control_defects import ControlDefect
from leafwinch_sim.nominal import Nominal, run_nominal
from leafwinch_sim.outcomes import BROKEN, DORMANT, FOUND, Outcome
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.plant_drop import worst_drop
from leafwinch_sim.proof_tests import ProofBench
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

SCRIPT = "every-function"
GROUP_MAX = 12  # defects of equal signature judged together
PACKAGES = ("leafwinch", "numpy", "scipy", "pydantic")

Progress = Callable[[int, int], None]


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


_worker: Worker | None = None


def _start_worker(site: Site, net: Netlist, seed: int, strict: bool) -> None:
    global _worker
    # Ctrl-C reaches the whole process group; only the parent answers it, in one sentence.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _worker = Worker(site, net, seed, strict)


def _ready() -> Worker:
    if _worker is None:
        raise RuntimeError("this process was not prepared")
    return _worker


def _sign(index: int) -> Signature | None:
    return _ready().signature(index)


def _judge(group: Sequence[int]) -> list[DefectResult]:
    return _ready().judge(group)


def prove(
    site: Site,
    net: Netlist,
    seed: int = 1,
    workers: int = 1,
    progress: Progress | None = None,
    only: tuple[str, ...] = (),
    strict: bool = False,
) -> dict[str, Any]:
    """Try every single defect at every moment and return the result as plain data.

    Args:
        site: what is installed.
        net: how it is wired.
        seed: of bounce, contact skew and noise.
        workers: processes; 1 works in this one. The result does not depend on it.
        progress: called with (runs decided, runs in all).
        only: ids of the defects to try; all of them by default.
        strict: also bridge any two nets of one group, not only credible neighbours.

    Stopped from the keyboard it returns what was done so far, `complete` being False and a
    verdict that would be "holds" being "unfinished".

    Raises:
        KeyboardInterrupt: stopped before the first result was there.
        BadInput: for an unknown id in `only`, or where the drive breaks a requirement
            with nothing wrong, so that no branch could mean anything.
    """
    script = load_script(SCRIPT)
    nominal = run_nominal(site, net, script, seed)
    _check_nominal(site, nominal, net)
    defects = all_defects(site, net, strict)
    wanted = _wanted(defects, only)
    moments = len(nominal.moments)
    total = len(wanted) * moments
    if progress is not None:
        progress(0, total)
    results: list[DefectResult] = []
    complete = True
    try:
        for group in _work(site, net, (seed, strict), workers, wanted):
            results.extend(group)
            if progress is not None:
                progress(len(results) * moments, total)
    except KeyboardInterrupt:
        if not results:
            raise
        complete = False
    results.sort(key=lambda result: result.index)
    data = _Summary(site, net, seed, nominal, defects, results).as_data()
    data["complete"] = complete
    data["faults_wanted"] = len(wanted)
    if not complete and data["verdict"] == "holds":
        data["verdict"] = "unfinished"
    return data


def _wanted(defects: tuple[Defect, ...], only: tuple[str, ...]) -> list[int]:
    if not only:
        return list(range(len(defects)))
    places = {defect.id: index for index, defect in enumerate(defects)}
    for name in only:
        if name not in places:
            raise BadInput(f"There is no defect '{name}' in this catalogue.")
    return sorted(places[name] for name in set(only))


def _check_nominal(site: Site, nominal: Nominal, net: Netlist) -> None:
    for name, broken in nominal.broken.items():
        raise BadInput(
            f"{site.name} with {net.name}: with nothing wrong {name} breaks at "
            f"{broken.t_ms / 1000:g} s of {SCRIPT} ({broken.text}); put the site right first."
        )


def _work(
    site: Site, net: Netlist, choice: tuple[int, bool], workers: int, wanted: list[int]
) -> Iterator[list[DefectResult]]:
    """Yield results in groups as they come; choice is the seed and whether to be strict."""
    if workers <= 1:
        worker = Worker(site, net, *choice)
        for group in _groups(wanted, [worker.signature(index) for index in wanted]):
            yield worker.judge(group)
        return
    pool = ProcessPoolExecutor(workers, initializer=_start_worker, initargs=(site, net, *choice))
    try:
        groups = _groups(wanted, list(pool.map(_sign, wanted, chunksize=16)))
        waiting: list[Future[list[DefectResult]]] = [pool.submit(_judge, g) for g in groups]
        for future in as_completed(waiting):
            yield future.result()
    finally:
        pool.shutdown(cancel_futures=True)


def _groups(wanted: list[int], signatures: list[Signature | None]) -> list[list[int]]:
    """Put defects of equal signature together, GROUP_MAX at most."""
    groups: list[list[int]] = []
    places: dict[Signature, int] = {}
    for index, signature in zip(wanted, signatures, strict=True):
        if signature is None:
            groups.append([index])
            continue
        place = places.get(signature)
        if place is None or len(groups[place]) >= GROUP_MAX:
            places[signature] = len(groups)
            groups.append([index])
        else:
            groups[place].append(index)
    return groups


class _Summary:
    """Turns the results of all defects into the data of the report."""

    def __init__(
        self,
        site: Site,
        net: Netlist,
        seed: int,
        nominal: Nominal,
        defects: tuple[Defect, ...],
        results: list[DefectResult],
    ) -> None:
        self.site = site
        self.net = net
        self.seed = seed
        self.nominal = nominal
        self.defects = defects
        self.results = results
        self.broken: list[dict[str, Any]] = []
        self.latent: list[dict[str, Any]] = []
        self.unpreventable: list[dict[str, Any]] = []
        self.residual: list[dict[str, Any]] = []
        self.tolerated: list[dict[str, Any]] = []
        self.undetected: list[str] = []
        self.cells: list[dict[str, Any]] = []
        self.worst_overrun_mm = 0.0
        self.worst_reaction_ms = 0

    def as_data(self) -> dict[str, Any]:
        """Return the result of the proof."""
        for result in self.results:
            self._add(self.defects[result.index], result)
        moments = len(self.nominal.moments)
        holds = not self.broken and not self.undetected
        return {
            "verdict": "holds" if holds else "broken",
            "site": self.site.name,
            "wiring": self.net.name,
            "script": SCRIPT,
            "faults": len(self.results),
            "moments": moments,
            "moment_names": [name for name, _ in self.nominal.moments],
            "moment_s": [t_ms / 1000.0 for _, t_ms in self.nominal.moments],
            "runs": len(self.results) * moments,
            "branches_run": sum(result.ran for result in self.results),
            "faults_merged": sum(result.ran == 0 for result in self.results),
            "broken": self.broken,
            "latent": self.latent,
            "unpreventable": self.unpreventable,
            "residual": self.residual,
            "tolerated": self.tolerated,
            "undetected": self.undetected,
            "worst_overrun_mm": round(self.worst_overrun_mm, 2),
            "worst_reaction_ms": self.worst_reaction_ms,
            "seed": self.seed,
            "cells": self.cells,
            "versions": _versions(self.net),
        }

    def _add(self, defect: Defect, result: DefectResult) -> None:
        falls = is_unpreventable(defect)
        found = any(outcome.verdict == FOUND for outcome in result.outcomes)
        broke = False
        for moment, outcome in enumerate(result.outcomes):
            gravity = falls and _by_gravity(outcome)
            if outcome.verdict == BROKEN and not gravity:
                broke = True
                self._break(defect, moment, outcome.requirement, outcome.text)
            if not falls:
                self.worst_overrun_mm = max(self.worst_overrun_mm, outcome.overrun_mm)
                self.worst_reaction_ms = max(self.worst_reaction_ms, outcome.reaction_ms)
        after = result.aftermath
        if after is not None and after.broken is not None:
            broke = True
            name, broken = after.broken
            self._break(defect, 0, name, f"on insisting: {broken.text}")
        elif after is not None and not after.healed:
            broke = True
            self._break(defect, 0, "R10", after.text)
        rest = "unaffected"
        if falls:
            self._fall(defect, result)
            rest = "unpreventable"
        elif not found and not broke and is_condition(defect):
            self.tolerated.append({"fault": defect.id, "cause": defect.cause})
        elif not found and not broke:
            rest = "latent" if result.proof_test else "undetected"
            if result.proof_test:
                self.latent.append(
                    {
                        "fault": defect.id,
                        "cause": defect.cause,
                        "proof_test": result.proof_test,
                        "proof_found": True,
                        "reading": result.proof_found,
                    }
                )
            else:
                self.undetected.append(defect.id)
        if isinstance(defect, ControlDefect) and defect.residual:
            self.residual.append({"fault": defect.id, "text": defect.residual})
        self._add_cells(defect, result, rest, falls)

    def _add_cells(self, defect: Defect, result: DefectResult, rest: str, falls: bool) -> None:
        for moment, outcome in enumerate(result.outcomes):
            verdict = outcome.verdict
            if verdict == BROKEN and falls and _by_gravity(outcome):
                verdict = "unpreventable"
            elif verdict not in (BROKEN, FOUND):
                verdict = rest if verdict != DORMANT or rest != "unpreventable" else "unaffected"
            self.cells.append(
                {
                    "defect": defect.id,
                    "moment": moment,
                    "verdict": verdict,
                    "fault": outcome.fault,
                    "reaction_ms": outcome.reaction_ms,
                    "overrun_mm": round(outcome.overrun_mm, 2),
                    "found": outcome.found,
                }
            )

    def _break(self, defect: Defect, moment: int, requirement: str, text: str) -> None:
        name, t_ms = self.nominal.moments[moment]
        self.broken.append(
            {
                "fault": defect.id,
                "cause": defect.cause,
                "at_s": t_ms / 1000.0,
                "moment": name,
                "requirement": requirement,
                "text": text,
                "replay": f"leafwinch run --site {self.site.name} --wiring {self.net.name} "
                f"--script {SCRIPT} --defect {defect.id} --at {t_ms / 1000:g} --seed {self.seed}",
            }
        )

    def _fall(self, defect: Defect, result: DefectResult) -> None:
        """List a defect that no control can prevent, with its drop worked out."""
        if not isinstance(defect, PlantDefect):
            return
        drop = worst_drop(self.site, defect)
        drop_mm = round(max(0.0, drop.fall_m) * 1000.0)
        shown = [outcome.found for outcome in result.outcomes if outcome.found]
        self.unpreventable.append(
            {
                "fault": defect.id,
                "cause": defect.cause,
                "drop_mm": drop_mm,
                "detection": shown[0] if shown else "by eye only",
                "caution": defect.caution,
                "inspection": defect.inspection,
                "facts": [
                    ("fall of the mid hinge", f"{drop_mm} mm"),
                    ("fastest", f"{drop.fastest_m_per_s:.2f} m/s"),
                    ("noticed by the drive", shown[0] if shown else "no, by eye only"),
                    ("caution", defect.caution),
                    ("inspection", defect.inspection),
                ],
            }
        )


def _by_gravity(outcome: Outcome) -> bool:
    """Tell whether a break is the deck's own fall: an end passed, or a run-on without power."""
    if outcome.requirement == "R1":
        return not outcome.fed
    return outcome.requirement in ("R2", "R11")


def _versions(net: Netlist) -> dict[str, str]:
    found = {"python": platform.python_version(), "platform": sys.platform}
    for name in PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    found["netlist"] = net.content_hash
    return found
