"""The proof of the bare wiring beside that of the chosen one: how many defects break what."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from leafwinch.requirement_limits import REQUIREMENTS
from leafwinch_host.commands.installation import BARE_OF_MOTOR
from leafwinch_sim.campaign import prove
from leafwinch_sim.requirements import WITHOUT_CONTROLLER
from leafwinch_sim.site import Site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist, load_netlist

STARTS_ALONE = ("R1", "R2", "R4")  # what a start, or going on, that nobody asked for breaks
NOT_JUDGED = "-"

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class BesideRow:
    """One line of the comparison: what is counted, here and with the bare wiring."""

    words: str
    here: str
    bare: str


def counted(result: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the comparison needs of the result of a proof, as plain data."""
    broken: dict[str, set[str]] = {}
    for row in result["broken"]:
        broken.setdefault(row["requirement"], set()).add(row["fault"])
    everyone = {row["fault"] for row in result["broken"]}
    return {
        "wiring": result["wiring"],
        "faults": result["faults"],
        "moments": result["ticks"] if result.get("every_tick") else result["moments"],
        "broken": {name: len(faults) for name, faults in sorted(broken.items())},
        "broken_in_all": len(everyone),
        "start_alone": len(set().union(*(broken.get(name, set()) for name in STARTS_ALONE))),
        "undetected": len(result["undetected"]),
        "latent": len(result["latent"]),
        "unpreventable": len(result["unpreventable"]),
    }


def prove_bare(
    site: Site, net: Netlist, seed: int, workers: int, progress: Progress | None = None
) -> dict[str, Any] | None:
    """Prove the bare wiring of a site and count; None where the wiring is bare already.

    The moments are evenly spread ones, since bare wiring has no controller whose phases
    could name them. None also where the bare wiring breaks a requirement with nothing wrong.
    """
    if not net.has_controller:
        return None
    try:
        bare = load_netlist(BARE_OF_MOTOR[site.motor.kind])
        result = prove(site, bare, seed=seed, workers=workers, progress=progress)
    except BadInput:
        return None
    return counted(result)


def beside_rows(result: Mapping[str, Any]) -> list[BesideRow]:
    """Return the comparison as lines to show; none where the result holds no bare proof."""
    bare = result.get("beside")
    if not bare:
        return []
    here = counted(result)
    rows = [
        BesideRow("single defects tried", str(here["faults"]), str(bare["faults"])),
        BesideRow("times at which each came", str(here["moments"]), str(bare["moments"])),
        BesideRow(
            "defects that break a requirement",
            str(here["broken_in_all"]),
            str(bare["broken_in_all"]),
        ),
    ]
    for name, text, _ in REQUIREMENTS:
        if name == "R11":
            continue
        counts = [_count(side, name) for side in (here, bare)]
        if name not in WITHOUT_CONTROLLER:
            counts[1] = NOT_JUDGED
        rows.append(BesideRow(f"{name}: {text}", *counts))
    for key, words in (
        ("undetected", "defects that nothing finds"),
        ("latent", "latent, found by a proof test"),
        ("unpreventable", "beyond any control (gravity, wind)"),
    ):
        rows.append(BesideRow(words, str(here[key]), str(bare[key])))
    return rows


def _count(side: Mapping[str, Any], name: str) -> str:
    return str(side["start_alone"] if name == "R6" else side["broken"].get(name, 0))
