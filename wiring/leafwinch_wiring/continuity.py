"""Measurements with the supply off, as an electrician makes them: wires and contacts.

Each is a resistance between two terminals with the circuit as it stands, once with every
device at rest and once with one device operated by hand. A defect is found when a reading
leaves its tolerance of the sound circuit's. This is the proof test for what no ordinary
use of the machine reveals.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.measure import resistances
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit

ABSOLUTE_OHM = 0.5
RELATIVE = 0.1
"""A reading differs when it is off by more than 0.5 ohm and more than a tenth."""

OPEN_OHM = 2e7
"""A meter shows more than this as open."""


@dataclass(frozen=True, slots=True)
class Measurement:
    """One line of the sheet: resistance between a and b with `operated` worked by hand."""

    what: str
    a: str
    b: str
    operated: str
    acts: str


def sheet(net: Netlist) -> Iterator[Measurement]:
    """All measurements of a netlist: each wire end to end, each contact both ways, each load."""
    for wire in net.wires:
        yield Measurement(f"wire {wire.mark}", wire.a, wire.b, "", "")
    for element in net.elements:
        if element.role in ("driver", "supply"):
            continue
        yield Measurement(f"contact {element.name}", element.a, element.b, "", "")
        yield Measurement(
            f"contact {element.name} operated", element.a, element.b, element.part, element.acts
        )
    for coil in net.coils:
        yield Measurement(f"coil {coil.name}", coil.a, coil.b, "", "")
    for ref, part in net.parts.items():
        loads = [(item.name, item.terminals) for item in part.windings]
        loads += [(item.name, item.terminals) for item in part.loads]
        if part.source is not None:
            loads.append(("supply", part.source.terminals))
        for name, (a, b) in loads:
            yield Measurement(f"{name} of {ref}", f"{ref}:{a}", f"{ref}:{b}", "", "")


def state_for(net: Netlist, measurement: Measurement) -> int:
    """Elements closed for a measurement: supplies and drivers off, one device operated."""
    mask = net.rest_mask
    for index, element in enumerate(net.elements):
        if element.role in ("supply", "driver"):
            mask &= ~(1 << index)
    if measurement.operated:
        mask = net.actuate(mask, measurement.operated, measurement.acts)
    return mask


UNITS = ((1e3, "ohm", 1.0), (1e6, "kohm", 1e3), (OPEN_OHM, "Mohm", 1e6))
"""Below which ohm a meter shows which unit, and how many ohm one of it is."""


def in_ohm(ohm: float, digits: int = 3) -> str:
    """A resistance as it stands on a meter, such as 1.2 kohm, or open.

    Args:
        ohm: the resistance in ohm.
        digits: how many of its digits are shown.
    """
    for limit, unit, scale in UNITS:
        if ohm < 0.9995 * limit:
            return f"{ohm / scale:.{digits}g} {unit}"
    return "open"


def as_printed(ohm: float) -> float:
    """A resistance in ohm rounded as `in_ohm` prints it; infinite where that says open."""
    for limit, _, scale in UNITS:
        if ohm < 0.9995 * limit:
            return float(f"{ohm / scale:.3g}") * scale
    return math.inf


def differs(healthy_ohm: float, found_ohm: float) -> bool:
    """True when a reading is outside its tolerance of the sound circuit's reading."""
    off = abs(found_ohm - healthy_ohm)
    return off > ABSOLUTE_OHM and off > RELATIVE * healthy_ohm


@lru_cache(maxsize=64)
def _groups(net: Netlist) -> dict[int, tuple[Measurement, ...]]:
    """The sheet by the set of closed elements each measurement needs."""
    groups: dict[int, list[Measurement]] = {}
    for item in sheet(net):
        groups.setdefault(state_for(net, item), []).append(item)
    return {mask: tuple(items) for mask, items in groups.items()}


@lru_cache(maxsize=16)
def _sound_readings(net: Netlist) -> dict[int, list[float]]:
    return readings(Circuit(net))


def readings(circuit: Circuit) -> dict[int, list[float]]:
    """Every reading of the sheet in ohm, by the set of closed elements it was taken with."""
    return {
        mask: resistances(circuit, mask, [(item.a, item.b) for item in items])
        for mask, items in _groups(circuit.net).items()
    }


def finds(net: Netlist, defect: WiringDefect) -> str:
    """The first measurement that shows a defect, in words; empty when none does."""
    sound, found = _sound_readings(net), readings(Circuit(net, (defect,)))
    for mask, items in _groups(net).items():
        for item, healthy_ohm, found_ohm in zip(items, sound[mask], found[mask], strict=True):
            if differs(healthy_ohm, found_ohm):
                return f"{item.what}: {in_ohm(found_ohm)} instead of {in_ohm(healthy_ohm)}"
    return ""
