"""The proof: every single defect at every moment or tick, judged, and the result as plain data."""

import hashlib
import json
from collections.abc import Callable
from typing import Any

from leafwinch_sim.board import STEP_MS
from leafwinch_sim.branch import Signature
from leafwinch_sim.campaign_pool import Crew, crew_of, done
from leafwinch_sim.campaign_store import Store
from leafwinch_sim.campaign_summary import Summary
from leafwinch_sim.campaign_work import (
    RESULTS,
    SCRIPT,
    TICK_SCRIPTS,
    DefectResult,
    Job,
    Plan,
    columns_of,
    tick_jobs,
)
from leafwinch_sim.nominal import Nominal
from leafwinch_sim.site_schema import Site
from leafwinch_sim.tick_results import TickResults
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

GROUP_MAX = 12  # defects of equal signature judged together
SIGNED_TOGETHER = 16

AT_MOMENTS = "at every moment"
AT_TICKS = "at every tick"

Progress = Callable[[str, int, int], None]


def prove(
    site: Site,
    net: Netlist,
    seed: int = 1,
    workers: int = 1,
    progress: Progress | None = None,
    only: tuple[str, ...] = (),
    strict: bool = False,
    every_tick: bool = False,
    cluster: str = "",
    store: Store | None = None,
) -> dict[str, Any]:
    """Try every single defect at every moment and return the result as plain data.

    Args:
        site: what is installed.
        net: how it is wired.
        seed: of bounce, contact skew and noise.
        workers: processes; 1 works in this one. The result does not depend on it.
        progress: called with (AT_MOMENTS or AT_TICKS, pairs decided, pairs in all).
        only: ids of the defects to try; all of them by default.
        strict: also bridge any two nets of one group, not only credible neighbours.
        every_tick: also try every defect at every control tick of two full cycles.
        cluster: address of a Dask scheduler whose workers do the work instead.
        store: keeps what is done, and what it has already is not done again.

    Stopped from the keyboard it returns what was done so far, `complete` being False and a
    verdict that would be "holds" being "unfinished".

    Raises:
        KeyboardInterrupt: stopped before the first result was there.
        BadInput: for an unknown id in `only`, or where the drive breaks a requirement
            with nothing wrong, so that no branch could mean anything.
    """
    plan = Plan(site, net, seed, strict, tuple(sorted(set(only))))
    scripts = TICK_SCRIPTS if every_tick else (SCRIPT,)
    nominals = {script: plan.nominal(script) for script in scripts}
    for script, nominal in nominals.items():
        _check_nominal(site, script, nominal, net)
    proof = _Proof(plan, nominals, progress)
    proof.check_only(only)
    crew = crew_of(workers, cluster)
    try:
        proof.run(crew, store, every_tick)
    except KeyboardInterrupt:
        if not proof.results:
            raise
        proof.complete = False
    finally:
        crew.close()
    return proof.as_data(every_tick)


class _Proof:
    """Collects the results of one proof as they come."""

    def __init__(self, plan: Plan, nominals: dict[str, Nominal], progress: Progress | None) -> None:
        self.plan = plan
        self.nominals = nominals
        self.progress = progress
        self.all = Plan(plan.site, plan.net, plan.seed, plan.strict).defects()
        self.wanted = [i for i, d in enumerate(self.all) if not plan.only or d.id in plan.only]
        self.results: list[DefectResult] = []
        self.pieces: dict[str, list[dict[str, Any]]] = {script: [] for script in nominals}
        self.complete = True

    def check_only(self, only: tuple[str, ...]) -> None:
        """Raise BadInput for an id that is not in the catalogue."""
        ids = {defect.id for defect in self.all}
        for name in only:
            if name not in ids:
                raise BadInput(f"There is no defect '{name}' in this catalogue.")

    def run(self, crew: Crew, store: Store | None, every_tick: bool) -> None:
        """Have all the work done."""
        moments = len(self.nominals[SCRIPT].moments)
        total = len(self.wanted) * moments
        self._tell(AT_MOMENTS, 0, total)
        plan = self.plan
        for _, result in done(crew, plan, self._moment_jobs(crew, store), store):
            self.results.extend(RESULTS.validate_python(result))
            self._tell(AT_MOMENTS, len(self.results) * moments, total)
        if not every_tick:
            return
        jobs: list[Job] = []
        for script, nominal in self.nominals.items():
            jobs.extend(tick_jobs(script, nominal))
        ticks = sum(nominal.end_ms // STEP_MS for nominal in self.nominals.values())
        total = ticks * len(self.wanted)
        decided = 0
        self._tell(AT_TICKS, 0, total)
        for job, result in done(crew, plan, jobs, store):
            self.pieces[job[1]].append(result)
            decided += result["ticks"] * len(self.wanted)
            self._tell(AT_TICKS, decided, total)

    def _tell(self, what: str, decided: int, total: int) -> None:
        if self.progress is not None:
            self.progress(what, decided, total)

    def _moment_jobs(self, crew: Crew, store: Store | None) -> list[Job]:
        """Return groups of defects that may act alike as pieces of work."""
        wanted = self.wanted
        asked: list[Job] = [
            ("signatures", wanted[at : at + SIGNED_TOGETHER])
            for at in range(0, len(wanted), SIGNED_TOGETHER)
        ]
        found: dict[int, Any] = {}
        for job, signatures in done(crew, self.plan, asked, store):
            found.update(zip(job[1], signatures, strict=True))
        return [("moments", group) for group in _groups(wanted, [found[i] for i in wanted])]

    def as_data(self, every_tick: bool) -> dict[str, Any]:
        """Return the result."""
        plan = self.plan
        nominal = self.nominals[SCRIPT]
        self.results.sort(key=lambda result: result.index)
        tick_results = [
            TickResults(script, columns_of(n, script), n.end_ms // STEP_MS, self.pieces[script])
            for script, n in self.nominals.items()
            if every_tick
        ]
        summary = Summary(plan, nominal, self.all, self.wanted, self.results, tick_results)
        data = summary.as_data()
        if every_tick:
            wanted_ticks = sum(results.ticks for results in tick_results)
            self.complete = self.complete and data["ticks"] == wanted_ticks
        data["complete"] = self.complete
        data["faults_wanted"] = len(self.wanted)
        if not self.complete and data["verdict"] == "holds":
            data["verdict"] = "unfinished"
        data["hash"] = result_hash(data)
        return data


def result_hash(data: dict[str, Any]) -> str:
    """Return the hash of a result: equal for equal work, whoever did it and how long it took."""
    apart = ("versions", "seconds", "hash", "resumed", "worst", "beside")
    kept = {name: value for name, value in data.items() if name not in apart}
    return hashlib.sha256(json.dumps(kept, sort_keys=True).encode()).hexdigest()


def _check_nominal(site: Site, script: str, nominal: Nominal, net: Netlist) -> None:
    for name, broken in nominal.broken.items():
        raise BadInput(
            f"{site.name} with {net.name}: with nothing wrong {name} breaks at "
            f"{broken.t_ms / 1000:g} s of {script} ({broken.text}); put the site right first."
        )


def _groups(wanted: list[int], signatures: list[Signature | None]) -> list[list[int]]:
    """Put defects of equal signature together, GROUP_MAX at most."""
    groups: list[list[int]] = []
    places: dict[str, int] = {}
    for index, signature in zip(wanted, signatures, strict=True):
        if signature is None:
            groups.append([index])
            continue
        name = json.dumps(signature)
        place = places.get(name)
        if place is None or len(groups[place]) >= GROUP_MAX:
            places[name] = len(groups)
            groups.append([index])
        else:
            groups[place].append(index)
    return groups
