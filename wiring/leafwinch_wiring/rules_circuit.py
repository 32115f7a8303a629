"""Rules for the control circuit: its earth, its coils, its contactors, its board."""

from leafwinch.edge.pins import esp32, pico
from leafwinch_wiring.board_pins import terminal_pins
from leafwinch_wiring.defect_types import Effects
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.format import Part
from leafwinch_wiring.motion import (
    DIRECTIONS,
    Demand,
    Situation,
    contactors,
    control,
    settle,
    travel,
)
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit
from leafwinch_wiring.reliability.ways import copper_path, read_alone
from leafwinch_wiring.rules_base import Findings, Rule, elements_of, parts_of, zero_net

OPERATE_RATIO = 0.85
"""A contactor operates from 85 % of its rated voltage, IEC 60947-4-1 (from memory)."""

PELV_MAX_V = 60.0
"""Greatest PELV in V, direct current without ripple, IEC 60204-1 6.4 (from memory)."""


def earthed_once(net: Netlist) -> Findings:
    """One wire and no more joins 0 V to the protective earth."""
    zero = zero_net(net)
    if not zero:
        return Findings(applies=False)
    found = Findings()
    bars = {part.ref for part in parts_of(net, "earth")}
    marks = []
    for wire in net.wires:
        ends = (wire.a, wire.b)
        to_bar = [end for end in ends if end.split(":")[0] in bars]
        if len(to_bar) == 1 and net.net_of[wire.a] == zero:
            marks.append(wire.mark)
    if not marks:
        found.offending.append("0 V is not earthed")
    elif len(marks) > 1:
        found.offending.append(f"0 V is earthed by {len(marks)} wires: {', '.join(marks)}")
    return found


def coils_on_zero(net: Netlist) -> Findings:
    """Coils lie on 0 V with one end, contacts on the live side of them."""
    zero = zero_net(net)
    if not zero:
        return Findings(applies=False)
    found = Findings()
    for coil in net.coils:
        if coil.name in contactors(net) and zero not in (net.net_of[coil.a], net.net_of[coil.b]):
            found.offending.append(f"coil {coil.name} has no end on 0 V")
    for element in net.elements:
        if zero in (net.net_of[element.a], net.net_of[element.b]):
            found.offending.append(f"contact {element.name} lies on 0 V")
    return found


def pin_map(net: Netlist) -> Findings:
    """The board's terminals carry what the firmware reads and drives, on either board."""
    if not net.boards:
        return Findings(applies=False)
    found = Findings()
    for board in (pico(), esp32()):
        try:
            terminal_pins(net, board)
        except BadInput as error:
            found.offending.append(str(error))
    found.offending = list(dict.fromkeys(found.offending))
    return found


def mirrors(net: Netlist) -> Findings:
    """Each contactor has a mirror contact that an input reads by itself."""
    found = Findings(applies=bool(contactors(net)))
    for ref in contactors(net):
        watched = [e for e in elements_of(net, ref) if e.role == "mirror" and e.type == "nc"]
        if not any(read_alone(net, element) for element in watched):
            found.offending.append(f"no mirror contact of {ref} is read by itself")
    return found


def direction_contactors(net: Netlist) -> dict[str, tuple[str, ...]]:
    """Contactors that drop when the control is released, by direction."""
    held = control(net)
    found: dict[str, tuple[str, ...]] = {}
    for direction in DIRECTIONS:
        path = copper_path(net, Demand(held, "", released=True), direction) if held else None
        found[direction] = path.dropped if path else ()
    return found


def _pairs(net: Netlist) -> list[tuple[str, str, str]]:
    """Direction, its contactor and the other direction's."""
    found = direction_contactors(net)
    rows = []
    for direction, other in (DIRECTIONS, reversed(DIRECTIONS)):
        rows += [(direction, one, two) for one in found[direction] for two in found[other]]
    return rows


def mechanical_interlock(net: Netlist) -> Findings:
    """The two direction contactors name each other as mechanically interlocked."""
    pairs = _pairs(net)
    found = Findings(applies=bool(pairs))
    for _, one, two in pairs:
        if net.parts[one].interlocked_with != two:
            found.offending.append(f"{one} is not stated to be interlocked with {two}")
    return found


def electrical_interlock(net: Netlist) -> Findings:
    """While one direction contactor is stuck in, the other one's coil gets nothing."""
    pairs = _pairs(net)
    found = Findings(applies=bool(pairs))
    for direction, one, two in pairs:
        stuck = Effects(
            force_open=tuple(e.name for e in elements_of(net, two) if e.role == "mirror")
        )
        if one in settle(net, travel(net, direction), circuit=Circuit(net, (stuck,))).pulled:
            found.offending.append(f"{one} pulls while {two} is stuck in")
    return found


def two_contactors(net: Netlist) -> Findings:
    """Line and direction contactor are both needed; one that is stuck in moves nothing alone."""
    found = Findings()
    for direction in DIRECTIONS:
        pulled = settle(net, travel(net, direction)).pulled
        if len(pulled) < 2:
            found.offending.append(
                f"'{direction}' is switched by {len(pulled)} contactors, needed are 2"
            )
    for ref in contactors(net):
        poles = tuple(e.name for e in elements_of(net, ref) if e.role == "main")
        stuck = Circuit(net, (Effects(force_closed=poles),))
        if settle(net, Situation(), circuit=stuck).moving:
            found.offending.append(f"{ref} stuck in moves the load or lifts the brake alone")
    return found


def suppression(net: Netlist) -> Findings:
    """Contactor coils have suppression, and no plain diode, which delays the release."""
    found = Findings(applies=bool(contactors(net)))
    for coil in net.coils:
        if coil.name in contactors(net) and coil.suppression in ("none", "diode"):
            words = "a plain diode" if coil.suppression == "diode" else "no suppression"
            found.offending.append(f"coil {coil.name} has {words}")
    return found


def coil_voltage(net: Netlist) -> Findings:
    """In a travel every contactor's coil gets at least 85 % of its rated voltage."""
    found = Findings(applies=bool(contactors(net)))
    for direction in DIRECTIONS:
        usual = travel(net, direction)
        lamps = tuple(e.signal for e in net.elements if e.role == "driver" and "lamp" in e.signal)
        loaded = Situation(usual.actions, (*usual.drivers, *lamps, "buzzer"))
        settled = settle(net, loaded)
        for ref in sorted(settled.pulled):
            ratio = settled.ratios[ref]
            words = f"coil {ref} gets {100 * ratio:.1f} % in '{direction}'"
            if ratio < OPERATE_RATIO:
                found.offending.append(words)
            else:
                found.notes.append(words)
    return found


def _supplies(net: Netlist, feeds: str) -> list[Part]:
    return [p for p in net.parts.values() if p.source is not None and p.source.feeds == feeds]


def pelv(net: Netlist) -> Findings:
    """Control and mains share no cable; what is touched at the deck is on safe low voltage."""
    found = Findings()
    groups: dict[str, set[str]] = {}
    for wire in net.wires:
        if wire.cable:
            groups.setdefault(wire.cable, set()).add(wire.group)
            stated = net.cables[wire.cable].group
            if wire.group not in (stated, "earth"):
                found.offending.append(f"core {wire.mark} is {wire.group} in a {stated} cable")
    for part in _supplies(net, "control"):
        volts = part.source.nominal_v if part.source else 0.0
        if volts > PELV_MAX_V:
            found.offending.append(f"{part.ref} gives {volts:g} V, PELV ends at {PELV_MAX_V:g} V")
        separate = "safe separation" in part.text or "isolated" in part.text
        if "PELV" not in part.text or not separate:
            found.offending.append(f"{part.ref} is not stated to give PELV by safe separation")
    for part in _supplies(net, "power"):
        if part.source is None or part.source.nominal_v <= PELV_MAX_V:
            continue
        powered = {t for w in net.wires if w.group == "power" for t in (w.a, w.b)}
        for other in parts_of(net, "hold_control", "limit_switch", "stop_button", "push_button"):
            if any(f"{other.ref}:{terminal}" in powered for terminal in other.terminals):
                found.offending.append(
                    f"{other.ref} at the {other.at} switches {part.source.nominal_v:g} V itself"
                )
    return found


CIRCUIT_RULES: tuple[Rule, ...] = (
    Rule(
        "earthed-once",
        "0 V of the control circuit is earthed, at one place",
        "IEC 60204-1 9.4.3.1 (from memory)",
        earthed_once,
    ),
    Rule(
        "coils-on-zero",
        "Coils lie directly on the earthed 0 V, contacts on the live side",
        "IEC 60204-1 9.4.3.1: an earth fault neither starts nor prevents a stop (from memory)",
        coils_on_zero,
    ),
    Rule(
        "pin-map",
        "Every terminal of the board carries what the firmware reads or drives there",
        "the firmware's own table of pins",
        pin_map,
    ),
    Rule(
        "mirrors",
        "Each contactor has a mirror contact read by an input of its own",
        "IEC 60947-4-1 annex F; ISO 13849-1 table E.1",
        mirrors,
    ),
    Rule(
        "mechanical-interlock",
        "The direction contactors are mechanically interlocked",
        "IEC 60204-1 9.3.4: reversing contactors (from memory)",
        mechanical_interlock,
    ),
    Rule(
        "electrical-interlock",
        "While one direction contactor is in, the other one's coil path is open",
        "IEC 60204-1 9.3.4: reversing contactors (from memory)",
        electrical_interlock,
    ),
    Rule(
        "two-contactors",
        "Motor and brake need the line contactor and a direction contactor, both of them",
        "ISO 13849-1 6.2.6: one fault does not lose the stop (from memory)",
        two_contactors,
    ),
    Rule(
        "suppression",
        "Contactor coils are suppressed, and not by a plain diode",
        "makers' tables: a plain diode lengthens the release several times (from memory)",
        suppression,
    ),
    Rule(
        "coil-voltage",
        "In a travel each contactor's coil gets 85 % of its rated voltage or more",
        "IEC 60947-4-1: operates from 85 % (from memory)",
        coil_voltage,
    ),
    Rule(
        "pelv",
        "Control wires share no cable with power, and what is touched at the deck is on PELV",
        "IEC 60204-1 6.4 and 13.1.3 (from memory)",
        pelv,
    ),
)
