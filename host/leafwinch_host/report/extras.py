"""What a report needs beyond the proof: the worst runs measured, and the bare wiring beside."""

from collections.abc import Callable
from typing import Any

from leafwinch_host.report.beside_bare import prove_bare
from leafwinch_sim.site import Site
from leafwinch_sim.worst_cases import worst_runs
from leafwinch_wiring.netlist import Netlist

Progress = Callable[[str, int, int], None]


def complete(
    result: dict[str, Any], site: Site, net: Netlist, workers: int, progress: Progress | None = None
) -> None:
    """Add `worst` and `beside` to the result of a proof where they are missing.

    Args:
        result: what `leafwinch_sim.campaign.prove` returned, or that read from a file.
        site: the installation it was run on.
        net: its wiring.
        workers: processes to work with; what is added does not depend on it.
        progress: called with (what is being done, done, in all).
    """

    def measuring(done: int, total: int) -> None:
        if progress is not None:
            progress("measuring worst runs", done, total)

    def proving(what: str, done: int, total: int) -> None:
        if progress is not None:
            progress(f"the bare wiring beside, {what}", done, total)

    if "worst" not in result:
        result["worst"] = worst_runs(result, site, net, workers, measuring)
    if "beside" not in result:
        result["beside"] = prove_bare(site, net, result["seed"], workers, proving)
