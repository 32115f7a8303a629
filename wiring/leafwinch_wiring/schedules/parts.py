"""The parts list by rating and required property, never by maker."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from leafwinch_wiring.advice_values import clamp_voltage
from leafwinch_wiring.format import Contact, Part
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.schedules import loading
from leafwinch_wiring.schedules.ip_codes import code_for
from leafwinch_wiring.schedules.loading import Carried, Motor

KIND_WORDS = {
    "source": "supply point",
    "control_supply": "control supply",
    "isolator": "isolator",
    "breaker": "breaker",
    "fuse": "fuse",
    "terminals": "terminal strip",
    "earth": "earth bar",
    "stop_button": "emergency stop",
    "hold_control": "hold-to-run control",
    "push_button": "push-button",
    "key_switch": "key switch",
    "plug": "link",
    "limit_switch": "limit switch",
    "slack_switch": "slack-rope switch",
    "contactor": "contactor",
    "board": "control board",
    "motor": "motor",
    "brake": "brake",
    "rectifier": "rectifier",
    "lamp": "lamp",
    "buzzer": "buzzer",
    "current_sensor": "current sensor",
}

DIRECT_OPENING = "NC contacts with direct opening action (IEC 60947-5-1 annex K)"
MIRROR = "NC contacts as mirror contacts of the main poles (IEC 60947-4-1 annex F)"
OPERATES_FROM = 0.85
"""A coil operates from 85 % of its rated voltage (IEC 60947-4-1, from memory)."""


@dataclass(frozen=True, slots=True)
class PartRow:
    """Parts that are bought alike: `refs` with what each is for, and what all must have.

    `code` is the least degree of protection, `properties` are clauses in the order in which
    they are read.
    """

    refs: tuple[str, ...]
    kind: str
    what: str
    texts: tuple[str, ...]
    places: tuple[str, ...]
    properties: tuple[str, ...]
    code: str

    @property
    def quantity(self) -> int:
        """How many are needed."""
        return len(self.refs)


@dataclass(frozen=True, slots=True)
class _Case:
    """What the makers of properties work from."""

    net: Netlist
    part: Part
    load: dict[str, Carried]
    motor: Motor | None

    def current(self, contacts: tuple[Contact, ...]) -> Carried | None:
        """Least and greatest current in A over some contacts; None when none carries any."""
        found = [self.load[n] for c in contacts if (n := f"{self.part.ref}:{c.name}") in self.load]
        if not found:
            return None
        return Carried(min(item.least_a for item in found), max(item.most_a for item in found))


def parts_list(net: Netlist, motor: Motor | None = None, over: str = "pit") -> tuple[PartRow, ...]:
    """Return every part of a netlist once, those with equal demands in one row.

    Args:
        net: the wiring.
        motor: numbers of the motor; without them its contacts are asked for in words.
        over: what the deck lies over: `pit`, `stair` or `water`.

    Raises:
        BadInput: `over` is none of the three.
    """
    load = loading.carried(net)
    rows: dict[tuple[str, tuple[str, ...], str], list[Part]] = {}
    for part in net.parts.values():
        code = code_for(net.locations[part.at].wet, over)
        properties = tuple(_MAKERS[part.kind](_Case(net, part, load, motor)))
        rows.setdefault((part.kind, properties, code), []).append(part)
    return tuple(
        PartRow(
            refs=tuple(part.ref for part in parts),
            kind=kind,
            what=KIND_WORDS[kind],
            texts=tuple(part.text for part in parts),
            places=tuple(dict.fromkeys(part.at for part in parts)),
            properties=properties,
            code=code,
        )
        for (kind, properties, code), parts in rows.items()
    )


def amperes(value: float) -> str:
    """A current in words: in mA below 1 A, else in A."""
    return f"{value * 1000:.3g} mA" if value < 1.0 else f"{value:.3g} A"


def at_least(value: float) -> str:
    """A demanded current in words, rounded up to two figures."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return "at least " + amperes(math.ceil(value / step - 1e-9) * step)


def _volts(net: Netlist, feeds: str) -> float:
    """Nominal voltage in V of the source that feeds `control` or `power`; 0 without one."""
    sources = [part.source for part in net.parts.values() if part.source is not None]
    return next((source.nominal_v for source in sources if source.feeds == feeds), 0.0)


def _main_volts(net: Netlist) -> str:
    return f"{_volts(net, 'power'):.0f} V {'DC' if net.drive == 'dc' else 'AC'}"


def _motor_contacts(case: _Case) -> str:
    duty = loading.category(case.net)
    volts = _main_volts(case.net)
    if case.motor is None:
        times = loading.BREAKS[duty]
        return (
            f"{duty}, {volts}; rated for the motor's plate and 1/{times:g} of its starting current"
        )
    return f"{duty}, {volts}, {at_least(loading.operational_a(case.net, case.motor))}"


def _count(contacts: tuple[Contact, ...]) -> str:
    numbers = {kind: sum(item.type == kind for item in contacts) for kind in ("no", "nc")}
    return " + ".join(f"{n} {kind.upper()}" for kind, n in numbers.items() if n)


def _control_contacts(case: _Case, contacts: tuple[Contact, ...]) -> Iterator[str]:
    """Demands on contacts of the control circuit: how many, DC-13 load, low current."""
    if not contacts:
        return
    yield _count(contacts)
    carried = case.current(contacts)
    volts = _volts(case.net, "control")
    if carried is None:
        return
    if carried.most_a > 2 * carried.least_a or carried.most_a > 0.05:
        yield f"DC-13 {volts:.0f} V, {at_least(carried.most_a)}"
    wetting = max(item.wetting_ma for item in contacts)
    if wetting > 0.0 and carried.least_a < 0.05:
        yield (
            f"low-level contacts (gold or the like): {amperes(carried.least_a)} at {volts:.0f} V,"
            f" must be sure from {wetting:g} mA"
        )


def _switch(case: _Case) -> Iterator[str]:
    contacts = case.part.contacts
    control = tuple(item for item in contacts if item.role == "aux")
    main = tuple(item for item in contacts if item.role == "main")
    if main:
        yield _count(main)
        yield _motor_contacts(case)
    yield from _control_contacts(case, control)
    if any(item.direct_opening for item in contacts):
        yield DIRECT_OPENING


def _stop(case: _Case) -> Iterator[str]:
    yield from _switch(case)
    yield "latching, reset does not start; red on yellow (ISO 13850)"


def _hold(case: _Case) -> Iterator[str]:
    yield from _switch(case)
    yield "three positions, spring return to the middle"
    yield "actuator white, grey or black; not red, yellow or green (IEC 60204-1)"


def _push(case: _Case) -> Iterator[str]:
    yield from _switch(case)
    yield "blue, white, grey or black; not green (IEC 60204-1)"
    if case.part.spring_return:
        yield "spring return"


def _key(case: _Case) -> Iterator[str]:
    yield from _switch(case)
    yield "spring return; key withdrawn in the off position"


def _limit(case: _Case) -> Iterator[str]:
    yield from _switch(case)
    if case.part.kind == "limit_switch":
        yield "snap action; bracket and cam of its own"
    else:
        yield "snap action"


def _contactor(case: _Case) -> Iterator[str]:
    part, coil = case.part, case.part.coil
    main = tuple(item for item in part.contacts if item.role == "main")
    brake = tuple(item for item in main if _feeds_brake(case.net, part, item))
    yield f"{len(main)} main poles NO"
    yield _motor_contacts(case)
    if brake:
        carried = case.current(brake)
        load = f", {at_least(carried.most_a)}" if carried else ""
        yield f"one pole for the brake's coil: DC-13, {_brake_volts(case.net)}{load}"
    mirrors = tuple(item for item in part.contacts if item.role == "mirror")
    if mirrors:
        counted, *others = _control_contacts(case, mirrors)
        yield f"auxiliary contacts {counted}"
        yield from others
        yield MIRROR
    if part.interlocked_with:
        pair = " and ".join(sorted((part.ref, part.interlocked_with)))
        yield f"{pair} mechanically interlocked (IEC 60947-4-1)"
    if coil is not None:
        watts = coil.nominal_v**2 / coil.ohm
        yield f"coil {coil.nominal_v:.0f} V DC, {coil.ohm:.0f} ohm ({watts:.1f} W) or less power"
        yield (
            f"pulls in from {coil.pull_in:.0%} or less ({OPERATES_FROM:.0%} is the standard's most)"
            f", drops out by {coil.drop_out:.0%} or more"
        )
        yield (
            f"operates within {coil.operate_ms:.0f} ms, releases within {coil.release_ms:.0f} ms"
            " without suppression"
        )
        if coil.suppression != "none":
            yield f"coil suppressed with a {coil.suppression}, not with a plain diode"


def _feeds_brake(net: Netlist, part: Part, contact: Contact) -> bool:
    """Tell whether behind a main pole, and one pole further, lies a brake's coil and no motor."""
    brakes = {end for c in net.coils if net.parts[c.name].kind == "brake" for end in (c.a, c.b)}
    motors = {f"{r}:{t}" for r, p in net.parts.items() for w in p.windings for t in w.terminals}
    load_side = net.net_of[f"{part.ref}:{contact.terminals[1]}"]
    reached = {load_side} | {
        net.net_of[item.b]
        for item in net.elements
        if item.role == "main" and item.part != part.ref and net.net_of[item.a] == load_side
    }
    return not reached & {net.net_of[t] for t in motors} and bool(
        reached & {net.net_of[t] for t in brakes}
    )


def _brake_volts(net: Netlist) -> str:
    """Voltage in V on a brake's direct-current side: 0.9 of the mains behind a full-wave bridge."""
    for coil in net.coils:
        if net.parts[coil.name].kind == "brake":
            bridge = any(part.kind == "rectifier" for part in net.parts.values())
            return f"{(0.9 if bridge else 1.0) * coil.nominal_v:.0f} V"
    return "as the brake needs"


def _isolator(case: _Case) -> Iterator[str]:
    poles = case.part.contacts
    yield f"{len(poles)} poles, {_main_volts(case.net)}"
    yield "suitable for isolation and lockable in off (IEC 60947-3)"
    yield f"{'DC-23A' if case.net.drive == 'dc' else 'AC-23A'}, not below the breaker's rating"


def _breaker(case: _Case) -> Iterator[str]:
    protection = case.part.protection
    yield f"{len(case.part.contacts)} poles, {_main_volts(case.net)}"
    if protection is not None:
        yield f"opens at once from {protection.trip_a:.0f} A or less"
    for part in case.net.parts.values():
        if part.source is not None and part.source.feeds == "power":
            fault = part.source.nominal_v / part.source.ohm
            yield f"breaks the fault current at its place: at least {fault:.0f} A from this supply"
    if protection is not None and protection.residual_ma > 0.0:
        yield f"residual current {protection.residual_ma:.0f} mA, type A (IEC 61009-1)"
    if any(part.kind == "contactor" for part in case.net.parts.values()):
        yield "type 2 coordination with the contactors (IEC 60947-4-1), from their maker's table"


def _fuse(case: _Case) -> Iterator[str]:
    carried = case.current(case.part.contacts)
    if carried is not None:
        yield f"carries {amperes(carried.most_a)} for good"
    if case.part.protection is not None:
        yield f"opens quickly at {case.part.protection.trip_a:g} A"
    yield "rated for direct current" if case.net.has_controller else "rated for the supply"


def _supply(case: _Case) -> Iterator[str]:
    source = case.part.source
    if source is None:
        return
    carried = case.current(case.part.contacts)
    yield f"{source.nominal_v:.0f} V DC, safe separation (IEC 61558-2-16 or the like)"
    if carried is not None:
        yield f"{at_least(carried.most_a)} in service"
    yield f"holds up {source.holdup_ms:.0f} ms, works from {source.feed_min:.0%} of its input"
    yield "output rated for one side earthed (PELV)"


def _source(case: _Case) -> Iterator[str]:
    source = case.part.source
    if source is not None:
        yield f"{_main_volts(case.net)}, {'one side earthed' if source.earthed else 'unearthed'}"
        yield "protected upstream as the local code says"


def _board(case: _Case) -> Iterator[str]:
    board = case.part.board
    if board is None:
        return
    drivers = tuple(item for item in case.part.contacts if item.role == "driver")
    carried = case.current(drivers)
    yield (
        f"{len(board.inputs)} isolated inputs, {board.input_ohm:.0f} ohm, threshold about"
        f" {board.threshold_v:.0f} V"
    )
    coils = [c for c in case.net.coils if case.net.parts[c.name].kind == "contactor"]
    least = max((clamp_voltage(c.nominal_v) + c.nominal_v for c in coils), default=0.0)
    if carried is not None:
        yield (
            f"{len(drivers)} drivers of {at_least(carried.most_a)}, blocking more than"
            f" {least:.0f} V"
        )
    if any(item.signal == "line_pulse" for item in drivers):
        yield "line driver behind a charge pump that only toggling keeps up"


def _motor(case: _Case) -> Iterator[str]:
    if case.motor is not None:
        yield (
            f"takes {amperes(case.motor.rated_a)} rated and {amperes(case.motor.start_a)} starting"
        )
    yield f"{_main_volts(case.net)}, both ends of {_number(len(case.part.windings))} brought out"
    yield "duty type and thermal class by its plate (IEC 60034-1)"


def _brake(case: _Case) -> Iterator[str]:
    coil = case.part.coil
    yield "spring-applied, lifted by its direct-current coil"
    if coil is not None:
        yield f"coil about {coil.nominal_v / coil.ohm * 1000:.0f} mA at {_brake_volts(case.net)}"
        yield f"lifts from {coil.pull_in:.0%}, closes by {coil.drop_out:.0%} of it"


def _rectifier(case: _Case) -> Iterator[str]:
    yield f"full-wave, input {_main_volts(case.net)}, output {_brake_volts(case.net)} DC"
    yield "cut on its direct-current side, so that the brake closes quickly"


def _load(case: _Case) -> Iterator[str]:
    volts = _volts(case.net, "control")
    for item in case.part.loads:
        yield f"{volts:.0f} V DC, about {amperes(volts / item.ohm)}"


def _sensor(case: _Case) -> Iterator[str]:
    yield f"isolated between motor circuit and board, {_main_volts(case.net)}"
    yield (
        "reads direct current of either sign" if case.net.drive == "dc" else "reads 50 or 60 Hz AC"
    )
    if case.motor is not None:
        yield f"linear to {at_least(1.2 * case.motor.start_a)} (starting current and a fifth)"


def _strip(case: _Case) -> Iterator[str]:
    mm2 = max(
        (w.mm2 for w in case.net.wires for e in (w.a, w.b) if e.startswith(f"{case.part.ref}:")),
        default=0.0,
    )
    yield f"{len(case.part.terminals)} terminals, numbered, for {mm2:g} mm2"


_MAKERS: dict[str, Callable[[_Case], Iterator[str]]] = {
    "source": _source,
    "control_supply": _supply,
    "isolator": _isolator,
    "breaker": _breaker,
    "fuse": _fuse,
    "terminals": _strip,
    "earth": _strip,
    "stop_button": _stop,
    "hold_control": _hold,
    "push_button": _push,
    "key_switch": _key,
    "plug": _switch,
    "limit_switch": _limit,
    "slack_switch": _limit,
    "contactor": _contactor,
    "board": _board,
    "motor": _motor,
    "brake": _brake,
    "rectifier": _rectifier,
    "lamp": _load,
    "buzzer": _load,
    "current_sensor": _sensor,
}


def _number(windings: int) -> str:
    return "its winding" if windings == 1 else f"{windings} windings"
