"""Rules for wires and what protects them, for the isolator and for direct-current poles."""

import math
import re

from leafwinch_wiring.defect_types import Effects
from leafwinch_wiring.format import Part
from leafwinch_wiring.measure import voltages
from leafwinch_wiring.motion import DIRECTIONS, settle, sound, travel
from leafwinch_wiring.netlist import Netlist, WireData
from leafwinch_wiring.network import Circuit
from leafwinch_wiring.resistors import EARTH
from leafwinch_wiring.rules_base import Findings, Rule, elements_of, parts_of

CAPACITY_40C_A: dict[float, float] = {
    0.75: 8.5,
    1.0: 10.1,
    1.5: 14.4,
    2.5: 20.0,
    4.0: 26.1,
    6.0: 33.1,
    10.0: 45.2,
    16.0: 60.0,
    25.0: 78.3,
}
"""Current in A by mm2 of copper with PVC in conduit or duct at 40 C.

From 1.5 mm2 on two loaded cores in conduit, IEC 60364-5-52 table B.52.2 method B2, with the
factor 0.87 for 40 C; below that IEC 60204-1 table 6, method B2 (all from memory).
"""

ADIABATIC_K = 115.0
"""Factor k in A s^0.5 / mm2 of copper with PVC at a short, IEC 60364-4-43 (from memory)."""

OPENS_WITHIN_S = 0.1
"""A breaker that trips at once opens within 0.1 s, IEC 60898-1."""

SHORT_OHM = 0.001
"""Resistance in ohm of the short that is tried; an assumption, no source."""

CARRIES_SHARE = 0.1
"""A wire carries motor current if a tenth of it is missing without the motor; an assumption."""


def capacity_a(mm2: float) -> float:
    """Return what a copper conductor may carry in A; 0 below the smallest listed section."""
    return max((amps for area, amps in CAPACITY_40C_A.items() if area <= mm2), default=0.0)


def rated_a(part: Part) -> float:
    """Return the rated current in A that a protective device's text states.

    A letter with a number, such as C6, or a number before A; where neither stands there, the
    current at which it trips at once, which is more and so never flatters.
    """
    found = re.search(r"\b[BCD](\d+(?:\.\d+)?)\b", part.text)
    found = found or re.search(r"(\d+(?:\.\d+)?) A\b", part.text)
    if found:
        return float(found.group(1))
    return part.protection.trip_a if part.protection else math.inf


def control_fuse(net: Netlist) -> Findings:
    """The control's fuse protects its thinnest wire and opens at a short of the supply."""
    supplies = [p for p in net.parts.values() if p.source and p.source.feeds == "control"]
    if not supplies:
        return Findings(applies=False)
    found = Findings()
    thinnest = min((wire for wire in net.wires if wire.group == "control"), key=lambda w: w.mm2)
    fuses = parts_of(net, "fuse")
    if not fuses:
        found.offending.append("the control circuit has no fuse")
    for fuse in fuses:
        amps, limit = rated_a(fuse), capacity_a(thinnest.mm2)
        if amps > limit:
            found.offending.append(
                f"{fuse.ref} of {amps:g} A is before {thinnest.mm2:g} mm2,"
                f" which carries {limit:g} A"
            )
        for supply in supplies:
            gives = supply.source.short_a if supply.source else 0.0
            if fuse.protection is not None and fuse.protection.trip_a >= gives:
                found.offending.append(
                    f"{fuse.ref} opens at {fuse.protection.trip_a:g} A,"
                    f" but {supply.ref} gives {gives:g} A at a short"
                )
    return found


def _breaker(net: Netlist) -> Part | None:
    return next(iter(parts_of(net, "breaker")), None)


def _currents(circuit: Circuit, mask: int) -> dict[str, float]:
    """Current in A in every power wire, without sign."""
    net = circuit.net
    volts = voltages(circuit, mask)
    volts |= {t: volts[EARTH] for t in net.terminals if circuit.node(t) == EARTH}
    return {
        wire.mark: abs(volts.get(wire.a, 0.0) - volts.get(wire.b, 0.0)) / wire.ohm
        for wire in net.wires
        if wire.group == "power"
    }


def motor_wires(net: Netlist) -> list[WireData]:
    """Power wires that carry the motor's current in either direction."""
    windings = tuple(
        (f"{ref}:{winding.name}", math.inf)
        for ref, part in net.parts.items()
        for winding in part.windings
    )
    without = Circuit(net, (Effects(series=windings),))
    marks = set()
    for direction in DIRECTIONS:
        mask = settle(net, travel(net, direction)).mask
        usual, idle = _currents(sound(net), mask), _currents(without, mask)
        change = {mark: abs(usual[mark] - idle[mark]) for mark in usual}
        limit = CARRIES_SHARE * max(change.values(), default=0.0)
        marks |= {mark for mark, amps in change.items() if amps > limit}
    return [wire for wire in net.wires if wire.mark in marks]


def _behind(net: Netlist, breaker: Part) -> set[str]:
    """Marks of power wires behind a breaker: without its poles they carry nothing."""
    mask = net.actuate(net.rest_mask, breaker.ref)
    live = voltages(sound(net), mask)
    return {
        wire.mark
        for wire in net.wires
        if wire.group == "power" and not _fed_before(net, breaker, wire, live)
    }


def _fed_before(net: Netlist, breaker: Part, wire: WireData, live: dict[str, float]) -> bool:
    """Whether a wire lies between the supply and the breaker."""
    before = {f"{breaker.ref}:{contact.terminals[0]}" for contact in breaker.contacts}
    nets = {net.net_of[terminal] for terminal in before}
    return net.net_of[wire.a] in nets or abs(live.get(wire.a, 0.0)) > 1.0


def power_wires(net: Netlist) -> Findings:
    """Every wire with motor current carries what the breaker lets through for good."""
    breaker = _breaker(net)
    if breaker is None:
        return Findings(["there is no breaker"])
    found = Findings()
    amps = rated_a(breaker)
    behind = _behind(net, breaker)
    for wire in motor_wires(net):
        limit = capacity_a(wire.mm2)
        if wire.mark in behind and limit < amps:
            found.offending.append(
                f"wire {wire.mark} of {wire.mm2:g} mm2 carries {limit:g} A,"
                f" {breaker.ref} is rated {amps:g} A"
            )
    return found


def branch_shorts(net: Netlist) -> Findings:
    """A branch thinner than the breaker's rating asks is cut off at once when it is shorted.

    It may be thinner where its load cannot overload it (IEC 60364-4-43 433.3.1); then a short
    at its end has to trip the breaker before the wire burns, I^2 t <= k^2 S^2 (434.5.2).
    """
    breaker = _breaker(net)
    if breaker is None:
        return Findings(["there is no breaker"])
    found = Findings()
    amps = rated_a(breaker)
    motor = {wire.mark for wire in motor_wires(net)}
    behind = _behind(net, breaker)
    thin = [
        wire
        for wire in net.wires
        if wire.group == "power" and wire.mark in behind - motor and capacity_a(wire.mm2) < amps
    ]
    trip_a = breaker.protection.trip_a if breaker.protection else math.inf
    for name, a, b in _branch_loads(net):
        shorted = Circuit(net, (Effects(links=((a, b, SHORT_OHM),)),))
        mask = settle(net, travel(net, DIRECTIONS[0])).mask
        currents = _currents(shorted, mask)
        here = [wire for wire in thin if currents[wire.mark] > 0.5 * max(currents.values())]
        if not here:
            continue
        through = max(currents[wire.mark] for wire in here)
        burns = [w for w in here if through**2 * OPENS_WITHIN_S > (ADIABATIC_K * w.mm2) ** 2]
        if through < trip_a:
            found.offending.append(
                f"a short at {name} takes {through:.0f} A through {here[0].mm2:g} mm2,"
                f" {breaker.ref} opens at once from {trip_a:g} A only"
            )
        elif burns:
            found.offending.append(f"wire {burns[0].mark} burns at a short at {name}")
        else:
            found.notes.append(f"a short at {name} takes {through:.0f} A and trips {breaker.ref}")
    return found


def _branch_loads(net: Netlist) -> list[tuple[str, str, str]]:
    """Name and terminals of what hangs on the power circuit beside the motor."""
    found = []
    for coil in net.coils:
        if net.parts[coil.name].kind == "brake":
            found.append((coil.name, coil.a, coil.b))
    for part in parts_of(net, "control_supply"):
        for load in part.loads:
            a, b = load.terminals
            found.append((part.ref, f"{part.ref}:{a}", f"{part.ref}:{b}"))
    return found


def isolator(net: Netlist) -> Findings:
    """The isolator opens every pole of the supply."""
    found = Findings()
    supplies = [p for p in net.parts.values() if p.source and p.source.feeds == "power"]
    poles = [
        {net.net_of[element.a], net.net_of[element.b]}
        for part in parts_of(net, "isolator")
        for element in elements_of(net, part.ref)
        if element.role == "main"
    ]
    for part in supplies:
        for terminal in part.terminals:
            name = net.net_of[f"{part.ref}:{terminal}"]
            beside = [e for e in net.elements if name in (net.net_of[e.a], net.net_of[e.b])]
            leaves = [e for e in beside if net.parts[e.part].kind not in ("isolator", "source")]
            if leaves or not any(name in pole and len(pole) == 2 for pole in poles):
                found.offending.append(f"{part.ref}:{terminal} is not opened by an isolator")
    return found


def dc_rated(net: Netlist) -> Findings:
    """Poles that break direct current are rated for it."""
    found = Findings(applies=net.drive == "dc" or bool(parts_of(net, "rectifier")))
    for part in net.parts.values():
        if part.kind == "fuse":
            continue
        for contact in part.contacts:
            name = f"{part.ref}:{contact.name}"
            breaks = contact.role in ("main", "protect") and (
                net.drive == "dc" or _behind_rectifier(net, name)
            )
            if breaks and not contact.dc_rated:
                found.offending.append(f"{name} is not rated for direct current")
    return found


def _behind_rectifier(net: Netlist, name: str) -> bool:
    """Whether a pole lies between a rectifier and a brake."""
    nets = {
        net.net_of[f"{part.ref}:{terminal}"]
        for part in parts_of(net, "rectifier")
        for terminal in ("+", "-")
        if terminal in part.terminals
    }
    nets |= {
        net.net_of[end]
        for c in net.coils
        if net.parts[c.name].kind == "brake"
        for end in (c.a, c.b)
    }
    element = net.elements[net.bit(name)]
    return net.net_of[element.a] in nets or net.net_of[element.b] in nets


POWER_RULES: tuple[Rule, ...] = (
    Rule(
        "control-fuse",
        "The control's fuse protects its thinnest wire and opens at a short",
        "IEC 60204-1 7.2.4 and table 6 (from memory)",
        control_fuse,
    ),
    Rule(
        "power-wires",
        "Every wire with motor current carries the breaker's rated current",
        "IEC 60364-4-43 433.1; capacities IEC 60364-5-52 table B.52.2 (from memory)",
        power_wires,
    ),
    Rule(
        "branch-shorts",
        "A short at the end of a thinner branch trips the breaker before the wire burns",
        "IEC 60364-4-43 433.3.1 and 434.5.2 (from memory)",
        branch_shorts,
    ),
    Rule(
        "isolator",
        "The isolator opens every pole of the supply",
        "IEC 60204-1 5.3: all-pole disconnection",
        isolator,
    ),
    Rule(
        "dc-rated",
        "Poles that break direct current are rated for it",
        "common practice, no source",
        dc_rated,
    ),
)
