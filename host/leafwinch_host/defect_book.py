"""Everything that can break on one installation, wiring and machine together, as rows to show."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from leafwinch_sim.bench_defects import Defect, all_defects
from leafwinch_sim.control_defects import ControlDefect
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.site import Site
from leafwinch_wiring.defects import KINDS
from leafwinch_wiring.netlist import Netlist

MACHINE_GROUPS = {
    "rope": "Rope and drum",
    "mechanism": "Deck and its surroundings",
    "load": "Loads and wind",
    "brake": "Brake",
    "gear": "Gear",
    "motor": "Motor",
    "supply": "Motor supply",
    "limit": "Cams and levers of the limits",
}
DEVICE_GROUPS = {
    "SF": "Controls",
    "BG": "Limit switches",
    "QA": "Contactors",
    "KF": "Board",
    "TB": "Control supply",
    "QB": "Isolator",
    "FC": "Protective devices",
    "BC": "Current sensor",
    "MA": "Motor",
    "MB": "Brake",
}
KIND_GROUPS = {
    "bridge": "Bridges between neighbours",
    "leak": "Moisture between neighbours",
    "water": "Water in a box",
    "earth_fault": "Earth faults",
    "wire_open": "Open wires and cores",
    "return_lost": "Lost returns",
    "earth_bond_lost": "Lost returns",
    "cable_cut": "Whole cables",
    "cable_crushed": "Whole cables",
}
ELSEWHERE = "Other wiring"
OPERATOR = "Program, current signal and operator"
UNLISTED = "Not in the catalogue"


@dataclass(frozen=True, slots=True)
class Entry:
    """One defect as the host shows it: its id, kind, physical cause, part and heading."""

    id: str
    kind: str
    cause: str
    part: str
    group: str


def defect_book(site: Site, net: Netlist) -> dict[str, Entry]:
    """Return every single defect of an installation by id, in catalogue order."""
    return {
        defect.id: Entry(defect.id, defect.kind, defect.cause, defect.part, heading(defect))
        for defect in all_defects(site, net)
    }


def heading(defect: Defect) -> str:
    """Return the heading under which a defect is listed."""
    if isinstance(defect, PlantDefect):
        return MACHINE_GROUPS[defect.category]
    if isinstance(defect, ControlDefect):
        return OPERATOR
    return KIND_GROUPS.get(defect.kind) or DEVICE_GROUPS.get(defect.part[:2], ELSEWHERE)


def cause_of(book: Mapping[str, Entry], defect: str) -> str:
    """Return the physical cause of a defect, or an empty text for one not in the book."""
    entry = book.get(defect)
    if entry is None:
        return ""
    return entry.cause or KINDS.get(entry.kind, "")


def grouped(book: Mapping[str, Entry], ids: Iterable[str]) -> list[tuple[str, list[str]]]:
    """Sort ids under their headings; headings and ids keep the order of the book."""
    wanted = dict.fromkeys(ids)
    order: dict[str, list[str]] = {}
    for entry in book.values():
        if entry.id in wanted:
            order.setdefault(entry.group, []).append(entry.id)
    strangers = [defect for defect in wanted if defect not in book]
    if strangers:
        order[UNLISTED] = strangers
    return list(order.items())
