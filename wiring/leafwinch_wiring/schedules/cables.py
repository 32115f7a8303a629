"""Cable list, core list and the list of single wires inside each place."""

from dataclasses import dataclass

from leafwinch_wiring.format import Cable
from leafwinch_wiring.netlist import Netlist, WireData
from leafwinch_wiring.schedules.colours import Colours
from leafwinch_wiring.schedules.functions import Function, functions

INSULATION = ((50.0, "300/300 V"), (300.0, "300/500 V"), (500.0, "450/750 V"))
"""Rated voltage of a cable by the highest nominal voltage in V it carries; the classes are of
IEC 60245 and IEC 60227 (from memory)."""


@dataclass(frozen=True, slots=True)
class CableRow:
    """One cable. `used` and `spare` count its cores, `mm2` and `length_m` are in mm2 and m."""

    name: str
    start: str
    end: str
    cores: int
    used: int
    mm2: float
    length_m: float
    group: str
    voltage: str
    insulation: str
    wet: bool
    protective: bool
    screen: str

    @property
    def spare(self) -> int:
        """Cores without a wire."""
        return self.cores - self.used


@dataclass(frozen=True, slots=True)
class CoreRow:
    """One core of a cable; `start` and `end` are empty for a spare one."""

    cable: str
    core: int
    mark: str
    start: str
    end: str
    function: str


@dataclass(frozen=True, slots=True)
class WireRow:
    """One wire inside a place, with its length in m and its section in mm2."""

    mark: str
    at: str
    start: str
    end: str
    colour: str
    mm2: float
    length_m: float
    function: str


def cable_list(net: Netlist) -> tuple[CableRow, ...]:
    """Return every cable once, in the order of the file."""
    what = functions(net)
    rows = []
    for cable in net.cables.values():
        wires = _wires_of(net, cable)
        rows.append(
            CableRow(
                name=cable.name,
                start=cable.ends[0],
                end=cable.ends[1],
                cores=cable.cores,
                used=len(wires),
                mm2=cable.mm2,
                length_m=cable.length_m,
                group=cable.group,
                voltage=_voltage(net, cable, [what[wire.a] for wire in wires]),
                insulation=_insulation(_carried_volts(net, cable, wires, what)),
                wet=cable.wet,
                protective=any(wire.group == "earth" for wire in wires),
                screen=_screen(net, cable, wires),
            )
        )
    return tuple(rows)


def core_list(net: Netlist) -> tuple[CoreRow, ...]:
    """Return every core of every cable once, spare ones too, by cable and number."""
    what = functions(net)
    colours = Colours(net)
    rows = []
    for cable in net.cables.values():
        by_core = {wire.core: wire for wire in _wires_of(net, cable)}
        for core in range(1, cable.cores + 1):
            wire = by_core.get(core)
            if wire is None:
                words = "spare: insulate both ends, connect to nothing"
                rows.append(CoreRow(cable.name, core, f"number {core}", "", "", words))
                continue
            start, end = _ordered(net, cable, wire)
            mark = colours.on_core(wire, cable)
            rows.append(CoreRow(cable.name, core, mark, start, end, _words(what, wire)))
    return tuple(rows)


def wire_list(net: Netlist) -> tuple[WireRow, ...]:
    """Return every wire that is no core of a cable, in the order of the file."""
    what = functions(net)
    colours = Colours(net)
    return tuple(
        WireRow(
            mark=wire.mark,
            at=net.location_of(wire.a),
            start=wire.a,
            end=wire.b,
            colour=colours.of(wire),
            mm2=wire.mm2,
            length_m=wire.length_m,
            function=_words(what, wire),
        )
        for wire in net.wires
        if not wire.cable
    )


def _words(what: dict[str, Function], wire: WireData) -> str:
    """What a wire is for; the link of 0 V to earth joins two things and is named as such."""
    first, second = what[wire.a], what[wire.b]
    if wire.group == "earth" and first.potential != second.potential:
        other = second if first.net == "PE" else first
        return f"{other.words} to earth, the one link"
    return first.words


def _wires_of(net: Netlist, cable: Cable) -> list[WireData]:
    return [wire for wire in net.wires if wire.cable == cable.name]


def _ordered(net: Netlist, cable: Cable, wire: WireData) -> tuple[str, str]:
    """Both ends, the one at the cable's first place in front."""
    if net.location_of(wire.a) == cable.ends[0]:
        return wire.a, wire.b
    return wire.b, wire.a


def _voltage(net: Netlist, cable: Cable, carried: list[Function]) -> str:
    volts = max((item.volts for item in carried), default=0.0)
    if cable.group == "earth" or volts == 0.0:
        return "protective earth"
    if cable.group == "control":
        earthed = any(
            wire.group == "earth" and net.parts[end.split(":")[0]].kind == "control_supply"
            for wire in net.wires
            for end in (wire.a, wire.b)
        )
        return f"{volts:.0f} V DC {'PELV' if earthed else 'SELV or PELV'}"
    if net.drive == "dc":
        return f"{volts:.0f} V DC"
    return f"{volts:.0f} V AC"


def _carried_volts(
    net: Netlist, cable: Cable, wires: list[WireData], what: dict[str, Function]
) -> float:
    """Highest nominal voltage in V in a cable; a protective conductor counts as a live one."""
    if cable.group == "earth":
        return max((part.source.nominal_v for part in net.parts.values() if part.source), default=0)
    return max((what[wire.a].volts for wire in wires), default=0.0)


def _insulation(volts: float) -> str:
    return next((words for most, words in INSULATION if volts <= most), "600/1000 V")


def _screen(net: Netlist, cable: Cable, wires: list[WireData]) -> str:
    """Whether a screen is wanted: only where a core carries the analogue signal of a sensor."""
    if cable.group != "control":
        return "no"
    analogue = {
        f"{ref}:{name}"
        for ref, part in net.parts.items()
        if part.kind == "current_sensor"
        for load in part.loads
        if load.name == "secondary"
        for name in load.terminals
    }
    nets = {net.net_of[name] for name in analogue}
    sound = {net.net_of[name] for name in analogue if _on_zero_volts(net, name)}
    if any(net.net_of[wire.a] in nets - sound for wire in wires):
        return "yes, screen to earth at the box only"
    return "no, but apart from power cables"


def _on_zero_volts(net: Netlist, terminal: str) -> bool:
    supplies = [ref for ref, part in net.parts.items() if part.kind == "control_supply"]
    return any(net.net_of.get(f"{ref}:-") == net.net_of[terminal] for ref in supplies)
