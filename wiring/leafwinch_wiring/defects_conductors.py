"""Defects of wires, cables, terminals and their insulation."""

from collections.abc import Iterable, Iterator
from itertools import combinations, pairwise

from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.netlist import Netlist, WireData
from leafwinch_wiring.resistors import EARTH

OPEN = float("inf")
BRIDGE_OHM = 0.01
EARTH_FAULT_OHM = 0.2
LEAKS = (("1k", 1000.0), ("10k", 10000.0))
ALL_PAIRS_TERMINALS = 6
"""A device with at most so many terminals can bridge any two of them, a larger one neighbours."""

Pair = tuple[str, str, str]
"""Label, terminal, terminal of two conductors that can touch."""


def wire_id(wire: WireData) -> str:
    """Id of a wire in defect names: the core's mark, or w and the wire number."""
    return wire.mark if wire.cable else f"w{wire.mark}"


def control_return(net: Netlist) -> str:
    """Net name of the control supply's 0 V, empty without a control supply."""
    for ref, part in net.parts.items():
        if part.source is not None and part.source.feeds == "control":
            return net.net_of[f"{ref}:{part.source.terminals[1]}"]
    return ""


def _cut_off(net: Netlist, cut: WireData) -> frozenset[str]:
    """Device terminals that lose their net when this wire opens, strip terminals left out.

    Two wires that cut off the same terminals are the same defect. The smaller side counts.
    """
    name = net.net_of[cut.a]
    joined: dict[str, list[str]] = {}
    for wire in net.wires:
        if wire is not cut and net.net_of[wire.a] == name:
            joined.setdefault(wire.a, []).append(wire.b)
            joined.setdefault(wire.b, []).append(wire.a)
    seen, waiting = {cut.b}, [cut.b]
    while waiting:
        for other in joined.get(waiting.pop(), ()):
            if other not in seen:
                seen.add(other)
                waiting.append(other)
    devices = {
        t for t, n in net.net_of.items() if n == name and _kind(net, t) not in ("terminals",)
    }
    far, near = frozenset(devices & seen), frozenset(devices - seen)
    return min(far, near, key=lambda side: (len(side), sorted(side)))


def _kind(net: Netlist, terminal: str) -> str:
    return net.parts[terminal.split(":")[0]].kind


def open_wires(net: Netlist) -> Iterator[WiringDefect]:
    """Each wire or core open; wires in series with nothing between count once."""
    groups: dict[tuple[str, frozenset[str]], list[WireData]] = {}
    for wire in net.wires:
        groups.setdefault((net.net_of[wire.a], _cut_off(net, wire)), []).append(wire)
    zero = control_return(net)
    for (name, cut), wires in groups.items():
        # A core in the field breaks more easily than a wire in the box, so it gives the name.
        wires.sort(key=lambda wire: not wire.cable)
        first = wires[0]
        kind, mechanics = "wire_open", ""
        if any(_kind(net, t) == "current_sensor" and ":S" in t for t in cut):
            kind, mechanics = "sensor_lost", "current_signal_lost"
        elif first.group == "earth":
            kind = "earth_bond_lost"
        elif name == zero:
            kind = "return_lost"
        yield WiringDefect(
            id=f"{wire_id(first)}:open",
            kind=kind,
            cause="the conductor is broken, or has come off its clamp",
            part=first.cable or f"w{first.mark}",
            series=((first.mark, OPEN),),
            mechanics=mechanics,
            also=tuple(f"{wire_id(wire)}:open" for wire in wires[1:]),
        )


def group_of(net: Netlist) -> dict[str, str]:
    """Group (control, power or earth) of each net, by the wires in it."""
    groups: dict[str, str] = {}
    for wire in net.wires:
        groups.setdefault(net.net_of[wire.a], wire.group)
    return groups


def cable_pairs(net: Netlist, *, only_wet: bool = False) -> Iterator[Pair]:
    """Any two wired cores of one cable."""
    for name, cable in net.cables.items():
        if only_wet and not cable.wet:
            continue
        cores = [wire for wire in net.wires if wire.cable == name]
        for one, two in combinations(cores, 2):
            yield f"{one.mark}-{two.mark}", one.a, two.a


def terminal_pairs(net: Netlist, *, only_wet: bool = False) -> Iterator[Pair]:
    """Neighbouring terminals of one device or strip; any two of a small device."""
    for ref, part in net.parts.items():
        if only_wet and not net.locations[part.at].wet:
            continue
        small = len(part.terminals) <= ALL_PAIRS_TERMINALS and part.kind != "terminals"
        names = part.terminals
        for one, two in combinations(names, 2) if small else pairwise(names):
            yield f"{ref}.{one}-{ref}.{two}", f"{ref}:{one}", f"{ref}:{two}"


def distinct_pairs(net: Netlist, pairs: Iterable[Pair]) -> dict[frozenset[str], list[Pair]]:
    """Pairs by the two nets they join; those of one net, earth or two groups are left out.

    Control and power are kept apart by safe separation, which the parts must have.
    Touching earth is a defect of its own.
    """
    groups = group_of(net)
    found: dict[frozenset[str], list[Pair]] = {}
    for label, a, b in pairs:
        one, two = net.net_of.get(a, a), net.net_of.get(b, b)
        if one == two or groups.get(one) != groups.get(two):
            continue
        if EARTH in (one.split(":")[0], two.split(":")[0]):
            continue
        found.setdefault(frozenset((one, two)), []).append((label, a, b))
    return found


def contact_nets(net: Netlist) -> dict[frozenset[str], str]:
    """Net pairs of contacts whose weld is already in the catalogue, with its id.

    Poles and mirror contacts are left out: a bridge beside them leaves the armature free.
    """
    found = {}
    for element in net.elements:
        if element.role in ("aux", "driver", "protect"):
            nets = frozenset((net.net_of[element.a], net.net_of[element.b]))
            found[nets] = element.name
    return found


def bridges(net: Netlist, *, strict: bool) -> Iterator[WiringDefect]:
    """Credible bridges; with strict also those between any two nets of one group."""
    found = distinct_pairs(net, [*cable_pairs(net), *terminal_pairs(net)])
    if strict:
        firsts = sorted(set(net.net_of.values()))
        every = (
            (f"{one}-{two}".replace(":", "."), one, two) for one, two in combinations(firsts, 2)
        )
        found = distinct_pairs(net, every) | found
    welded = contact_nets(net)
    sensors = {
        frozenset(net.net_of[f"{ref}:{terminal}"] for terminal in load.terminals)
        for ref, part in net.parts.items()
        if part.kind == "current_sensor"
        for load in part.loads
    }
    for nets, group in found.items():
        # A bridge across a contact is that contact not opening, listed there with its places.
        if nets in welded:
            continue
        label, a, b = group[0]
        blind = nets in sensors
        yield WiringDefect(
            id=f"bridge:{label}",
            kind="sensor_lost" if blind else "bridge",
            mechanics="current_signal_lost" if blind else "",
            cause="damaged insulation, a strand across, or metal swarf",
            part=label.split("-")[0].split(".")[0],
            links=((a, b, BRIDGE_OHM),),
            also=tuple(f"bridge:{other}" for other, _, _ in group[1:]),
        )


def bridges_like_contacts(net: Netlist) -> dict[str, tuple[str, ...]]:
    """For each contact or driver, ids of the bridges that are the same as its welding."""
    pairs = distinct_pairs(net, [*cable_pairs(net), *terminal_pairs(net)])
    found: dict[str, tuple[str, ...]] = {}
    for nets, element in contact_nets(net).items():
        if nets in pairs:
            found[element] = tuple(f"bridge:{label}" for label, _, _ in pairs[nets])
    return found


def leaks(net: Netlist) -> Iterator[WiringDefect]:
    """Moisture between cores of wet cables and between terminals in wet boxes."""
    pairs = [*cable_pairs(net, only_wet=True), *terminal_pairs(net, only_wet=True)]
    for group in distinct_pairs(net, pairs).values():
        label, a, b = group[0]
        for word, ohm in LEAKS:
            yield WiringDefect(
                id=f"leak{word}:{label}",
                kind="leak",
                cause="water in the cable or box",
                part=label.split("-")[0].split(".")[0],
                links=((a, b, ohm),),
                also=tuple(f"leak{word}:{other}" for other, _, _ in group[1:]),
            )


def earth_faults(net: Netlist) -> Iterator[WiringDefect]:
    """Each net that leaves the box touches earth; inside an enclosure this is excluded."""
    zero = control_return(net)
    cores: dict[str, list[WireData]] = {}
    for wire in net.wires:
        name = net.net_of[wire.a]
        if wire.cable and wire.group != "earth" and name != zero:
            cores.setdefault(name, []).append(wire)
    for wires in cores.values():
        yield WiringDefect(
            id=f"{wires[0].mark}:earth",
            kind="earth_fault",
            cause="the core's insulation is worn through to earthed metal",
            part=wires[0].cable,
            links=((wires[0].a, EARTH, EARTH_FAULT_OHM),),
            also=tuple(f"{wire.mark}:earth" for wire in wires[1:]),
        )


def whole_cables(net: Netlist) -> Iterator[WiringDefect]:
    """A cable cut through, and a cable crushed so that its cores touch."""
    for name in net.cables:
        cores = [wire for wire in net.wires if wire.cable == name]
        if len(cores) < 2:
            continue
        yield WiringDefect(
            id=f"{name}:cut",
            kind="cable_cut",
            cause="the cable was cut or torn out",
            part=name,
            series=tuple((wire.mark, OPEN) for wire in cores),
        )
        yield WiringDefect(
            id=f"{name}:crushed",
            kind="cable_crushed",
            cause="the cable was crushed under the deck or a wheel",
            part=name,
            links=tuple((one.a, two.a, BRIDGE_OHM) for one, two in pairwise(cores)),
        )


def water(net: Netlist) -> Iterator[WiringDefect]:
    """Water in one wet place: leaks between every two neighbouring nets in it at once."""
    for place, location in net.locations.items():
        if not location.wet:
            continue
        inside = [
            pair for pair in terminal_pairs(net, only_wet=True) if net.location_of(pair[1]) == place
        ]
        pairs = [group[0] for group in distinct_pairs(net, inside).values()]
        if not pairs:
            continue
        for word, ohm in LEAKS:
            yield WiringDefect(
                id=f"water{word}:{place}",
                kind="water",
                cause="water stands in the box or switch",
                part=place,
                links=tuple((a, b, ohm) for _, a, b in pairs),
            )
