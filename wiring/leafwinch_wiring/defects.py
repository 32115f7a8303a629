"""The catalogue of wiring defects, derived from a netlist.

Kinds follow the fault lists of ISO 13849-2 annex D, plus high-ohmic contacts, wet leaks,
lost returns, earth faults, intermittent contacts and common causes. Defects whose
electrical effect is the same are listed once; `also` names the places it stands for.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from leafwinch_wiring.defect_types import KINDS, MECHANICS, Effects, WiringDefect
from leafwinch_wiring.defects_board import (
    board_defects,
    sensor_defects,
    supply_defects,
)
from leafwinch_wiring.defects_conductors import (
    bridges,
    bridges_like_contacts,
    earth_faults,
    leaks,
    open_wires,
    water,
    whole_cables,
)
from leafwinch_wiring.defects_contacts import (
    actuator_defects,
    common_weld_defects,
    contact_defects,
    contactor_defects,
)
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

__all__ = ["KINDS", "MECHANICS", "Effects", "WiringDefect", "catalogue", "find_defect"]


@lru_cache(maxsize=16)
def catalogue(net: Netlist, strict: bool = False) -> tuple[WiringDefect, ...]:
    """Every single defect of a netlist, in a fixed order with unique ids.

    Args:
        net: the netlist.
        strict: also bridge any two nets of one group, not only credible neighbours.
    """
    found = [
        *contact_defects(net),
        *contactor_defects(net),
        *actuator_defects(net),
        *common_weld_defects(net),
        *board_defects(net),
        *supply_defects(net),
        *sensor_defects(net),
        *open_wires(net),
        *earth_faults(net),
        *bridges(net, strict=strict),
        *leaks(net),
        *whole_cables(net),
        *water(net),
    ]
    twice = [name for name, count in Counter(d.id for d in found).items() if count > 1]
    if twice:
        raise BadInput(
            f"Netlist {net.name}: the names of its parts and cables give two defects the id"
            f" '{twice[0]}'; each name must be distinct."
        )
    return tuple(_with_bridges(net, found))


def _with_bridges(net: Netlist, found: list[WiringDefect]) -> Iterator[WiringDefect]:
    """Add to each welded contact the bridges that have the same effect."""
    same = bridges_like_contacts(net)
    for defect in found:
        if defect.kind in ("contact_welded", "driver_on"):
            more = same.get(defect.force_closed[0], ())
            defect = replace(defect, also=defect.also + more)
        yield defect


def find_defect(net: Netlist, name: str) -> WiringDefect:
    """The defect of that id, or one that stands for it; raise BadInput if there is none."""
    for strict in (False, True):
        for defect in catalogue(net, strict):
            if name == defect.id or name in defect.also:
                return defect
    close = [d.id for d in catalogue(net) if d.id.split(":")[0] == name.split(":")[0]]
    hint = ", ".join(close[:8]) if close else "listed by part, such as 'BG1.path:welded'"
    raise BadInput(f"Netlist {net.name} has no wiring defect '{name}'; known ones are {hint}.")
