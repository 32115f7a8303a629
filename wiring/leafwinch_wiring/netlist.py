"""The compiled netlist: elements in bit order, coils, inputs, wires and nets.

A *terminal* is a string such as `BG1:11`. A *net* is every terminal joined by
wires alone. An *element* is something that moves: a contact, a contactor pole, a
driver, a protective device or a supply.
"""

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from leafwinch import signals
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.format import Cable, Coil, Document, Drive, Group, Location, Part
from leafwinch_wiring.netlist_checks import check_document
from leafwinch_wiring.reader import find_file, read_document

COPPER_OHM_MM2_PER_M = 0.0225
"""Resistivity of copper conductors in service, IEC 60364-5-52 annex G (from memory)."""

JOINT_OHM_MM2 = 0.002
"""Allowance for the two clamped ends of a wire in ohm mm2; an assumption, not published."""

RELEASE_FACTOR = {"none": 1.0, "clamp": 1.2, "rc": 3.0, "diode": 8.0}
"""How much coil suppression lengthens the release. RC x2 to x3 is common in makers'
tables; the clamp and plain-diode figures are from memory and on the slow side."""


@dataclass(frozen=True, slots=True)
class Element:
    """One movable element. `closed_at_rest` holds while nothing acts on it."""

    name: str
    part: str
    type: str
    acts: str
    role: str
    a: str
    b: str
    ohm: float
    closed_at_rest: bool
    direct_opening: bool
    wetting_ma: float
    signal: str


@dataclass(frozen=True, slots=True)
class CoilData:
    """A coil with its ratios of nominal voltage and its times in ms.

    `operate_ms` and `release_ms` are of the main contacts, `mirror_open_ms` and
    `mirror_close_ms` of the mirror contacts; the release ones include suppression.
    """

    name: str
    a: str
    b: str
    ohm: float
    nominal_v: float
    pull_in: float
    drop_out: float
    operate_ms: float
    mirror_open_ms: float
    release_ms: float
    mirror_close_ms: float
    suppression: str


@dataclass(frozen=True, slots=True)
class WireData:
    """One wire or core. `cable` is empty for a wire inside a location."""

    mark: str
    a: str
    b: str
    cable: str
    core: int
    length_m: float
    mm2: float
    group: Group

    @property
    def ohm(self) -> float:
        """Resistance in ohm of the conductor and its two clamped ends."""
        return (COPPER_OHM_MM2_PER_M * self.length_m + JOINT_OHM_MM2) / self.mm2


class Netlist:
    """A checked netlist. Built by `load_netlist`; nothing in it changes afterwards."""

    def __init__(self, path: Path, document: Document) -> None:
        """Compile a document; raise BadInput where it does not hang together."""
        self.path = path
        self.name: str = document.name
        self.title: str = document.title
        self.drive: Drive = document.drive
        self.insulation_ohm: float = document.insulation_ohm
        self.parts: dict[str, Part] = {part.ref: part for part in document.part}
        self.locations: dict[str, Location] = {item.name: item for item in document.location}
        self.cables: dict[str, Cable] = {item.name: item for item in document.cable}
        self.terminals: tuple[str, ...] = tuple(
            f"{part.ref}:{terminal}"
            for part in document.part
            for terminal in (*part.terminals, *part.internal)
        )
        self.wires: tuple[WireData, ...] = tuple(_wires(document))
        self.elements: tuple[Element, ...] = tuple(_elements(document.part))
        self.element_names: tuple[str, ...] = tuple(item.name for item in self.elements)
        self._bits = {name: index for index, name in enumerate(self.element_names)}
        self.coils: tuple[CoilData, ...] = tuple(
            _coil(part.ref, part.coil) for part in document.part if part.coil is not None
        )
        self.coil_names: tuple[str, ...] = tuple(coil.name for coil in self.coils)
        self.boards: tuple[Part, ...] = tuple(p for p in document.part if p.board is not None)
        self.has_controller: bool = bool(self.boards)
        self.rest_mask: int = self.mask_of(e.name for e in self.elements if e.closed_at_rest)
        text = json.dumps(document.model_dump(mode="json"), sort_keys=True, separators=(",", ":"))
        self.content_hash: str = hashlib.sha256(text.encode()).hexdigest()
        self.net_of: dict[str, str] = joined_by(
            self.terminals, ((wire.a, wire.b) for wire in self.wires)
        )

    def bit(self, name: str) -> int:
        """Bit index of an element; raise BadInput for a name that is not in this netlist."""
        try:
            return self._bits[name]
        except KeyError:
            raise BadInput(
                f"Netlist {self.name} has no element '{name}'; it has"
                f" {', '.join(self.element_names)}."
            ) from None

    def mask_of(self, names: Iterable[str]) -> int:
        """Bit mask in which the named elements are 1."""
        mask = 0
        for name in names:
            mask |= 1 << self.bit(name)
        return mask

    def actuate(self, mask: int, part: str, acts: str = "") -> int:
        """Return mask with one part acted upon: its NC contacts open, its NO ones closed.

        `acts` narrows it to one kind of action, such as `raise` of the control.
        """
        for index, element in enumerate(self.elements):
            if element.part == part and (not acts or element.acts == acts):
                if element.type == "nc":
                    mask &= ~(1 << index)
                else:
                    mask |= 1 << index
        return mask

    def location_of(self, terminal: str) -> str:
        """Name of the location that holds a terminal."""
        return self.parts[terminal.split(":")[0]].at


def load_netlist(name_or_path: str | Path) -> Netlist:
    """Load a netlist by shipped name or path; raise BadInput with one clear sentence.

    The result is kept per path and file time, so that loading twice is cheap.
    """
    path = find_file(name_or_path)
    stamp = path.stat().st_mtime_ns if path.is_file() else 0
    return _load(path, stamp)


@lru_cache(maxsize=16)
def _load(path: Path, _stamp: int) -> Netlist:
    found_path, document = read_document(path)
    check_document(found_path, document)
    return Netlist(found_path, document)


def _elements(parts: Iterable[Part]) -> Iterable[Element]:
    for part in parts:
        for contact in part.contacts:
            a, b = (f"{part.ref}:{terminal}" for terminal in contact.terminals)
            yield Element(
                name=f"{part.ref}:{contact.name}",
                part=part.ref,
                type=contact.type,
                acts=contact.acts,
                role=contact.role,
                a=a,
                b=b,
                ohm=contact.ohm,
                closed_at_rest=contact.type == "nc",
                direct_opening=contact.direct_opening,
                wetting_ma=contact.wetting_ma,
                signal=contact.signal,
            )


def _coil(ref: str, coil: Coil) -> CoilData:
    factor = RELEASE_FACTOR[coil.suppression]
    a, b = (f"{ref}:{terminal}" for terminal in coil.terminals)
    return CoilData(
        name=ref,
        a=a,
        b=b,
        ohm=coil.ohm,
        nominal_v=coil.nominal_v,
        pull_in=coil.pull_in,
        drop_out=coil.drop_out,
        operate_ms=coil.operate_ms,
        mirror_open_ms=coil.mirror_open_ms,
        release_ms=coil.release_ms * factor,
        mirror_close_ms=coil.mirror_close_ms * factor,
        suppression=coil.suppression,
    )


def _wires(document: Document) -> Iterable[WireData]:
    cables = {cable.name: cable for cable in document.cable}
    groups: tuple[Group, ...] = ("control", "power", "earth")
    for group in groups:
        for entry in getattr(document.wires, group):
            a, b, mark = entry[:3]
            cable_name, _, core = mark.partition(".")
            cable = cables.get(cable_name) if core else None
            if cable is not None:
                length_m, mm2 = cable.length_m, cable.mm2
            else:
                length_m = document.panel.length_m
                control = group == "control"
                mm2 = document.panel.control_mm2 if control else document.panel.power_mm2
            if len(entry) == 5:
                length_m, mm2 = entry[3], entry[4]
            yield WireData(
                mark=mark,
                a=a,
                b=b,
                cable=cable.name if cable else "",
                core=int(core) if cable else 0,
                length_m=length_m,
                mm2=mm2,
                group=group,
            )


def joined_by(terminals: Sequence[str], pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Map each terminal to the first one, in this order, of all that the pairs join it to."""
    parent = {terminal: terminal for terminal in terminals}

    def root(terminal: str) -> str:
        while parent[terminal] != terminal:
            parent[terminal] = parent[parent[terminal]]
            terminal = parent[terminal]
        return terminal

    for a, b in pairs:
        parent[root(b)] = root(a)
    first: dict[str, str] = {}
    for terminal in terminals:
        first.setdefault(root(terminal), terminal)
    return {terminal: first[root(terminal)] for terminal in terminals}


def signal_bit(signal: str) -> int:
    """Firmware contact bit (a mask) of a signal name; raise BadInput when unknown."""
    if signal not in signals.CONTACT_NAMES:
        raise BadInput(
            f"Signal '{signal}' is unknown; allowed are {', '.join(signals.CONTACT_NAMES)}."
        )
    return 1 << signals.CONTACT_NAMES.index(signal)
