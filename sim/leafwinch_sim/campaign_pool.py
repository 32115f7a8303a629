"""Has the pieces of a proof's work done: here, by processes, or by a cluster's workers."""

import signal
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from typing import Any, Protocol

from leafwinch_sim.campaign_store import Store
from leafwinch_sim.campaign_work import Job, Plan, perform
from leafwinch_wiring.errors import BadInput


class Crew(Protocol):
    """Whoever does the work."""

    def results(self, plan: Plan, jobs: list[Job]) -> Iterator[tuple[Job, Any]]:
        """Yield each piece with its result as it comes, in any order, each once."""
        ...

    def close(self) -> None:
        """Let go of whatever is still waiting."""
        ...


class OneCrew:
    """Does everything in this process, one piece after the other."""

    def results(self, plan: Plan, jobs: list[Job]) -> Iterator[tuple[Job, Any]]:
        """Yield each piece with its result."""
        for job in jobs:
            yield job, perform(plan, job)

    def close(self) -> None:
        """Nothing is waiting."""


class ProcessCrew:
    """Does the work in some processes of this machine."""

    def __init__(self, workers: int) -> None:
        self.pool = ProcessPoolExecutor(workers, initializer=_ignore_ctrl_c)

    def results(self, plan: Plan, jobs: list[Job]) -> Iterator[tuple[Job, Any]]:
        """Yield each piece with its result.

        Raises:
            BadInput: a process was killed from outside.
        """
        waiting: dict[Future[Any], Job] = {
            self.pool.submit(perform, plan, job): job for job in jobs
        }
        try:
            for future in as_completed(waiting):
                yield waiting[future], future.result()
        except BrokenProcessPool:
            raise BadInput(
                "One of the worker processes was killed from outside, perhaps for want of "
                "memory; start the same command again, with fewer --workers if need be."
            ) from None

    def close(self) -> None:
        """Drop what has not begun."""
        self.pool.shutdown(cancel_futures=True)


def _ignore_ctrl_c() -> None:
    # Ctrl-C reaches the whole process group; only the parent answers it, in one sentence.
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def crew_of(workers: int, cluster: str) -> Crew:
    """Return who does the work: a cluster by its scheduler's address, processes, or nobody else.

    Raises:
        BadInput: the cluster cannot be used.
    """
    if cluster:
        from leafwinch_sim.campaign_cluster import ClusterCrew

        return ClusterCrew(cluster)
    return ProcessCrew(workers) if workers > 1 else OneCrew()


def done(crew: Crew, plan: Plan, jobs: list[Job], store: Store | None) -> Iterator[tuple[Job, Any]]:
    """Yield every piece with its result: first those in the store, then the others as they come."""
    missing = []
    for job in jobs:
        result = store.result(job) if store is not None else None
        if result is None:
            missing.append(job)
        else:
            yield job, result
    for job, result in crew.results(plan, missing):
        if store is not None:
            store.keep(job, result)
        yield job, result
