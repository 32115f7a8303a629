"""Every single mistake of whoever wires the machine, as a changed circuit each.

Unlike the catalogue of defects, which is about what breaks later, these are there from the
first day: a wire forgotten, two ends exchanged, two neighbours joined by a strand, a device
fitted the wrong way round, a contact of the wrong type.

A mistake is *harmless* when every device terminal is joined to the same others as intended,
or when all it does is to turn round a contact that works either way.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations, pairwise

from leafwinch_wiring.defect_types import Effects
from leafwinch_wiring.defects_conductors import (
    BRIDGE_OHM,
    OPEN,
    cable_pairs,
    terminal_pairs,
    wire_id,
)
from leafwinch_wiring.netlist import Netlist, WireData, joined_by
from leafwinch_wiring.network import Circuit

KINDS = {
    "left-out": "a wire or core left out",
    "exchanged": "the ends of two wires exchanged",
    "bridged": "two neighbouring terminals or cores joined",
    "reversed": "a device with a plus or a sense of its own connected the wrong way round",
    "wrong-type": "a normally open contact fitted for a normally closed one, or the reverse",
    "diode": "a suppression diode fitted the wrong way round",
}
"""Kinds of miswires and what each means."""

SENSED_KINDS = ("board", "control_supply", "rectifier", "current_sensor", "lamp", "buzzer")
"""Devices on whose loads plus and minus matter, or may matter: a lamp may be a diode."""


@dataclass(frozen=True, slots=True)
class Miswire:
    """One mistake.

    Attributes:
        id: short and safe to paste into a shell.
        kind: one of the keys of `KINDS`.
        words: the mistake in words.
        effects: its electrical effects.
        inverted: elements that open when they should close and close when they should open.
        harmless: why it changes nothing that matters; empty when it does.
        also: ids of other mistakes that make the same circuit.
    """

    id: str
    kind: str
    words: str
    effects: Effects
    inverted: tuple[str, ...] = ()
    harmless: str = ""
    also: tuple[str, ...] = ()

    def circuit(self, net: Netlist) -> Circuit:
        """The circuit with this mistake; give it masks that `state` has changed."""
        return Circuit(net, (self.effects,))

    def state(self, net: Netlist, mask: int) -> int:
        """The elements closed in this circuit when `mask` would be closed in the sound one."""
        return mask ^ net.mask_of(self.inverted)


def wire_words(wire: WireData) -> str:
    """A wire as the sheet calls it: core W3.2, or wire 48."""
    return f"core {wire.mark}" if wire.cable else f"wire {wire.mark}"


@lru_cache(maxsize=8)
def miswires(net: Netlist) -> tuple[Miswire, ...]:
    """All single miswires, those that make one circuit merged into the first of them.

    The ends exchanged are those of any two cores of one cable, of any two wires between the
    same two places, and of any two wires that land on one device. Bridged are neighbours along
    a device's row of terminals, any two of a small device, and any two cores of one cable.
    """
    judge = _Judge(net)
    found: list[Miswire] = []
    by_circuit: dict[object, int] = {}
    for item in _all(net):
        names = judge.joined(item)
        changed = frozenset((t, name) for t, name in names.items() if judge.sound[t] != name)
        # A mistake that only exchanges what lies in one net is like no other for the words.
        key = (changed or item.id, item.inverted, item.kind == "diode")
        if key in by_circuit:
            first = found[by_circuit[key]]
            found[by_circuit[key]] = replace(first, also=(*first.also, item.id))
        else:
            by_circuit[key] = len(found)
            found.append(replace(item, harmless=judge.reason(item, names)))
    return tuple(found)


def _all(net: Netlist) -> Iterator[Miswire]:
    yield from _left_out(net)
    yield from _exchanged(net)
    yield from _bridged(net)
    yield from _reversed(net)
    yield from _wrong_type(net)
    yield from _diodes(net)


def _left_out(net: Netlist) -> Iterator[Miswire]:
    for wire in net.wires:
        yield Miswire(
            f"left-out:{wire_id(wire)}",
            "left-out",
            f"{wire_words(wire)} from {wire.a} to {wire.b} left out",
            Effects(series=((wire.mark, OPEN),)),
        )


def _exchanged(net: Netlist) -> Iterator[Miswire]:
    places = {wire.mark: _places(net, wire) for wire in net.wires}
    for one, two in combinations(net.wires, 2):
        same_run = bool(one.cable) and one.cable == two.cable
        same_run = same_run or sorted(places[one.mark]) == sorted(places[two.mark])
        # Two circuits can come of it: like ends exchanged, or one wire turned round.
        for word, (far, near) in (("swap", (two.b, two.a)), ("cross", (two.a, two.b))):
            acts = [(one.b, far), (one.a, near)]
            acts = [
                (a, b)
                for a, b in acts
                if a != b
                and (
                    a.split(":")[0] == b.split(":")[0]
                    or (same_run and net.location_of(a) == net.location_of(b))
                )
            ]
            if not acts:
                continue
            end, other = acts[0]
            # The wire whose far end stays where it is brings its own resistance along.
            ohms = (one.ohm, two.ohm) if end == one.b else (two.ohm, one.ohm)
            yield Miswire(
                f"{word}:{wire_id(one)}-{wire_id(two)}",
                "exchanged",
                f"{wire_words(one)} and {wire_words(two)} exchanged:"
                f" {one.mark} on {other}, {two.mark} on {end}",
                Effects(
                    series=((one.mark, OPEN), (two.mark, OPEN)),
                    links=((one.a, far, ohms[0]), (near, one.b, ohms[1])),
                ),
            )


def _places(net: Netlist, wire: WireData) -> tuple[str, str]:
    return net.location_of(wire.a), net.location_of(wire.b)


def _bridged(net: Netlist) -> Iterator[Miswire]:
    pairs = [(pair, f"terminals {pair[1]} and {pair[2]}") for pair in terminal_pairs(net)]
    pairs += [(pair, f"cores {pair[0].replace('-', ' and ')}") for pair in cable_pairs(net)]
    for (label, a, b), words in pairs:
        effects = Effects(links=((a, b, BRIDGE_OHM),))
        yield Miswire(f"bridged:{label}", "bridged", f"{words} joined", effects)


def _sensed(net: Netlist) -> Iterator[tuple[str, str, str]]:
    """What has a plus, or a sense of its own: its name and two terminals."""
    for ref, part in net.parts.items():
        pairs = [(item.name, item.terminals) for item in part.windings]
        if part.kind in SENSED_KINDS:
            pairs += [(item.name, item.terminals) for item in part.loads]
        if part.kind == "control_supply" and part.source is not None:
            outlets = tuple(item.terminals[1] for item in part.contacts if item.role == "supply")
            pairs += [("output", (plus, part.source.terminals[1])) for plus in outlets]
        if part.kind == "rectifier":
            # The legs' far ends, two and two: its output and its feed.
            ends = [item.terminals for item in part.loads]
            pairs += [("output", (one[1], two[1])) for one, two in pairwise(ends)]
        if part.board is not None:
            pairs.append(("supply", part.board.supply))
        if part.coil is not None and part.coil.suppression == "diode":
            pairs.append(("coil", part.coil.terminals))
        for name, (a, b) in pairs:
            yield name, f"{ref}:{a}", f"{ref}:{b}"


def _reversed(net: Netlist) -> Iterator[Miswire]:
    for name, a, b in _sensed(net):
        other = {a: b, b: a}
        series, links = [], []
        for wire in net.wires:
            if wire.a in other or wire.b in other:
                series.append((wire.mark, OPEN))
                links.append((other.get(wire.a, wire.a), other.get(wire.b, wire.b), wire.ohm))
        ref = a.split(":")[0]
        yield Miswire(
            f"reversed:{ref}.{name}",
            "reversed",
            f"{name} of {ref} connected the wrong way round, at {a} and {b}",
            Effects(series=tuple(series), links=tuple(links)),
        )


def _wrong_type(net: Netlist) -> Iterator[Miswire]:
    for element in net.elements:
        if element.role in ("aux", "mirror"):
            fitted, meant = ("open", "closed") if element.type == "nc" else ("closed", "open")
            yield Miswire(
                f"wrong-type:{element.name.replace(':', '.')}",
                "wrong-type",
                f"contact {element.name}: normally {fitted} one in place of a normally {meant} one",
                Effects(),
                inverted=(element.name,),
            )


def _diodes(net: Netlist) -> Iterator[Miswire]:
    for coil in net.coils:
        if coil.suppression == "diode":
            yield Miswire(
                f"diode:{coil.name}",
                "diode",
                f"suppression diode of {coil.name} fitted the wrong way round",
                Effects(links=((coil.a, coil.b, BRIDGE_OHM),)),
            )


class _Judge:
    """Tells which terminals wires join, and which mistakes change nothing that matters."""

    def __init__(self, net: Netlist) -> None:
        self.order = {terminal: number for number, terminal in enumerate(net.terminals)}
        self.strips = {ref for ref, part in net.parts.items() if part.kind == "terminals"}
        joints = [(wire.mark, wire.a, wire.b) for wire in net.wires]
        for ref, part in net.parts.items():
            if part.kind == "earth":
                bar = [f"{ref}:{terminal}" for terminal in part.terminals]
                joints += [("", bar[0], other) for other in bar[1:]]
        self.sound = self._names(list(net.terminals), [(a, b) for _, a, b in joints])
        self.members: dict[str, list[str]] = {}
        for terminal, name in self.sound.items():
            self.members.setdefault(name, []).append(terminal)
        self.joints: dict[str, list[tuple[str, str, str]]] = {name: [] for name in self.members}
        for joint in joints:
            self.joints[self.sound[joint[1]]].append(joint)
        self.end = {wire.mark: wire.a for wire in net.wires}
        # Main poles for direct current and breakers may have a line and a load side.
        self.either_way = [
            (element.name, element.a, element.b)
            for element in net.elements
            if (element.role in ("aux", "mirror") or net.parts[element.part].kind == "fuse")
            or (
                element.role == "main"
                and net.drive == "capacitor_run"
                and net.parts[element.part].kind in ("contactor", "isolator", "hold_control")
            )
        ]
        self.either_way += [
            (f"coil of {coil.name}", coil.a, coil.b)
            for coil in net.coils
            if coil.suppression != "diode"
        ]

    def _names(self, terminals: list[str], pairs: list[tuple[str, str]]) -> dict[str, str]:
        """For each terminal the first one, in file order, of all that the pairs join it to."""
        return joined_by(sorted(terminals, key=self.order.__getitem__), pairs)

    def joined(self, item: Miswire) -> dict[str, str]:
        """The same after a mistake, for the terminals of the nets that it touches."""
        cut = {mark for mark, _ in item.effects.series}
        ends = [self.end[mark] for mark in cut]
        ends += [end for a, b, _ in item.effects.links for end in (a, b)]
        nets = sorted({self.sound[end] for end in ends})
        pairs = [(a, b) for name in nets for mark, a, b in self.joints[name] if mark not in cut]
        pairs += [(a, b) for a, b, _ in item.effects.links]
        return self._names([t for name in nets for t in self.members[name]], pairs)

    def _grouped(self, names: dict[str, str], other: dict[str, str]) -> set[frozenset[str]]:
        """What each net joins of devices, strips left out, with `other` terminals renamed."""
        groups: dict[str, set[str]] = {}
        for terminal, name in names.items():
            if terminal.split(":")[0] not in self.strips:
                groups.setdefault(name, set()).add(other.get(terminal, terminal))
        return {frozenset(group) for group in groups.values()}

    def reason(self, item: Miswire, names: dict[str, str]) -> str:
        """Why a mistake is harmless; empty when it is not."""
        if item.inverted or item.kind == "diode":
            return ""
        wanted = self._grouped({terminal: self.sound[terminal] for terminal in names}, {})
        if self._grouped(names, {}) == wanted:
            return "every terminal is joined to the same others as intended"
        for name, a, b in self.either_way:
            if a in names and b in names and self._grouped(names, {a: b, b: a}) == wanted:
                return f"{name} works either way round"
        return ""
