"""Hands the pieces of a proof's work to a Dask scheduler; needs the extra `cluster`."""

from collections.abc import Iterator
from typing import Any

from leafwinch_sim.campaign_work import Job, Plan, perform
from leafwinch_wiring.errors import BadInput

CONNECT_S = 10
DEATHS = 5  # workers that may die over one piece before it counts as its own fault


class ClusterCrew:
    """Has the work done by the workers of a scheduler.

    A piece whose worker dies is given to another one; its result is taken once.

    Args:
        address: of the scheduler, such as tcp://192.0.2.1:8786.

    Raises:
        BadInput: Dask is not installed, or no scheduler answers there.
    """

    def __init__(self, address: str) -> None:
        try:
            import dask
            from distributed import Client
        except ImportError:
            raise BadInput(
                "--cluster needs Dask, which is not here; 'pip install leafwinch[cluster]' "
                "brings it."
            ) from None
        dask.config.set({"distributed.scheduler.allowed-failures": DEATHS})
        try:
            self.client = Client(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError) as error:
            raise BadInput(
                f"No scheduler answers at '{address}' ({type(error).__name__}); allowed is the "
                "address that 'dask scheduler' shows, such as tcp://192.0.2.1:8786."
            ) from None

    def results(self, plan: Plan, jobs: list[Job]) -> Iterator[tuple[Job, Any]]:
        """Yield each piece with its result as it comes.

        Raises:
            BadInput: one piece took several workers with it, or the scheduler has gone.
        """
        from distributed import CancelledError, KilledWorker, as_completed

        shared = self.client.scatter(plan, broadcast=True, hash=False) if jobs else plan
        waiting = {self.client.submit(perform, shared, job, pure=False): job for job in jobs}
        try:
            for future, result in as_completed(waiting, with_results=True, loop=self.client.loop):
                job = waiting.pop(future)
                future.release()
                yield job, result
        except (KilledWorker, CancelledError) as error:
            raise BadInput(
                f"The cluster gave up on a piece of work ({type(error).__name__}); what is done "
                "is kept: start the same command again."
            ) from None

    def close(self) -> None:
        """Cancel what is waiting and leave the cluster."""
        self.client.close()
