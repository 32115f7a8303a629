"""Defects of contacts, switches and contactors."""

from collections.abc import Iterator

from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.format import Part
from leafwinch_wiring.netlist import RELEASE_FACTOR, Element, Netlist

HIGH_OHMIC_OHM = 2000.0
"""Contact resistance of a corroded or filmed contact in ohm; common practice, no source."""

STICKING_RELEASE_FACTOR = 30.0
"""How many times longer a contactor takes that sticks by residual magnetism or grease."""

MOTOR_SHORT_OHM = 0.002
"""Resistance of a winding shorted at its terminals in ohm, low enough to trip the breaker."""

OPEN = float("inf")

PROTECTIVE_WELD = {
    "fuse": "the fuse was replaced by a wire",
    "breaker": "the breaker's contact is welded by an earlier short",
}


def contact_defects(net: Netlist) -> Iterator[WiringDefect]:
    """Every single contact: does not open, does not close, high-ohmic, intermittent."""
    for element in net.elements:
        if element.role in ("driver", "supply"):
            continue
        kind = net.parts[element.part].kind
        if kind == "contactor" and element.role == "main":
            yield from _pole(net, element)
        elif element.role == "mirror":
            yield from _mirror(element)
        else:
            yield from _plain(element, kind)


def _short_id(element: Element) -> str:
    return element.name.replace(":", ".")


def _plain(element: Element, kind: str) -> Iterator[WiringDefect]:
    name = _short_id(element)
    welded = "welded by overcurrent, or bridged across its terminals"
    if element.direct_opening:
        # Direct opening breaks a weld, so only the bridge is left as a cause.
        welded = "bridged across its terminals (direct opening breaks a weld)"
    yield WiringDefect(
        id=f"{name}:welded",
        kind="contact_welded",
        cause=PROTECTIVE_WELD.get(kind, welded),
        part=element.part,
        force_closed=(element.name,),
    )
    yield WiringDefect(
        id=f"{name}:dead",
        kind="contact_dead",
        cause="dirt, burn-off or a broken contact spring keeps it open",
        part=element.part,
        force_open=(element.name,),
    )
    if element.role == "aux":
        yield _high_ohmic(element)
    yield _intermittent(element)


def _high_ohmic(element: Element) -> WiringDefect:
    return WiringDefect(
        id=f"{_short_id(element)}:2k",
        kind="contact_high_ohmic",
        cause="corrosion or film on the contact, too little wetting current to break it",
        part=element.part,
        series=((element.name, HIGH_OHMIC_OHM),),
    )


def _intermittent(element: Element) -> WiringDefect:
    return WiringDefect(
        id=f"{_short_id(element)}:intermittent",
        kind="contact_intermittent",
        cause="a loose clamp or a worn spring opens it with vibration",
        part=element.part,
        force_open=(element.name,),
        mechanics="intermittent",
    )


def _mirror(element: Element) -> Iterator[WiringDefect]:
    name = _short_id(element)
    yield WiringDefect(
        id=f"{name}:stuck-closed",
        kind="mirror_closed",
        cause="the auxiliary block has come off the armature, or the contact is bridged",
        part=element.part,
        force_closed=(element.name,),
    )
    yield WiringDefect(
        id=f"{name}:stuck-open",
        kind="mirror_open",
        cause="dirt or a broken spring keeps the auxiliary contact open",
        part=element.part,
        force_open=(element.name,),
    )
    yield _high_ohmic(element)
    yield _intermittent(element)


def contacts_of(net: Netlist, ref: str, acts: str = "") -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names of a part's NO contacts and of its NC contacts, of one action if given."""
    mine = [e for e in net.elements if e.part == ref and (not acts or e.acts == acts)]
    return (
        tuple(e.name for e in mine if e.type == "no"),
        tuple(e.name for e in mine if e.type == "nc"),
    )


def _pole(net: Netlist, element: Element) -> Iterator[WiringDefect]:
    name, ref = _short_id(element), element.part
    _, mirrors = contacts_of(net, ref)
    yield WiringDefect(
        id=f"{name}:welded",
        kind="pole_welded",
        cause="an inrush or short-circuit current welded the pole while it was closed",
        part=ref,
        force_closed=(element.name,),
        # A mirror contact cannot close while a main pole is welded (IEC 60947-4-1 annex F).
        held_open=mirrors,
        mechanics="welded",
        devices=(ref,),
        arms_on=f"{ref}:coil",
    )
    yield WiringDefect(
        id=f"{name}:dead",
        kind="pole_dead",
        cause="the pole is burnt off or its clamp is loose",
        part=ref,
        force_open=(element.name,),
    )
    yield _intermittent(element)


def contactor_defects(net: Netlist) -> Iterator[WiringDefect]:
    """Contactors as a whole, their coils, and the interlock between two of them."""
    for ref, part in net.parts.items():
        if part.coil is not None:
            yield WiringDefect(
                id=f"{ref}:coil-open",
                kind="coil_open",
                cause="the coil wire is broken",
                part=ref,
                series=((f"{ref}:coil", OPEN),),
            )
        if part.kind == "contactor":
            yield from _contactor(net, ref, part)
            yield from _interlock(part)


def _contactor(net: Netlist, ref: str, part: Part) -> Iterator[WiringDefect]:
    normally_open, normally_closed = contacts_of(net, ref)
    yield WiringDefect(
        id=f"{ref}:stuck-pulled",
        kind="stuck_pulled",
        cause="the armature is jammed in the pulled position",
        part=ref,
        held_closed=normally_open,
        held_open=normally_closed,
        mechanics="stuck_pulled",
        devices=(ref,),
        arms_on=f"{ref}:coil",
    )
    yield WiringDefect(
        id=f"{ref}:not-pulling",
        kind="not_pulling",
        cause="the armature is jammed in the released position",
        part=ref,
        held_closed=normally_closed,
        held_open=normally_open,
        mechanics="not_pulling",
        devices=(ref,),
    )
    if part.coil is None:
        return
    diode = RELEASE_FACTOR["diode"] / RELEASE_FACTOR[part.coil.suppression]
    causes = (
        ("slow-diode", diode, "a plain diode stands across the coil in place of its clamp"),
        ("slow-sticking", STICKING_RELEASE_FACTOR, "residual magnetism or grease delays it"),
    )
    for word, factor, cause in causes:
        yield WiringDefect(
            id=f"{ref}:{word}",
            kind="slow_release",
            cause=cause,
            part=ref,
            mechanics="slow_release",
            devices=(ref,),
            factor=factor,
        )


def _interlock(part: Part) -> Iterator[WiringDefect]:
    other = part.interlocked_with
    if other and part.ref < other:
        yield WiringDefect(
            id=f"{part.ref}-{other}:interlock-lost",
            kind="interlock_lost",
            cause="the mechanical interlock was left out or has broken",
            part=part.ref,
            mechanics="interlock_lost",
            devices=(part.ref, other),
        )


LOST_CAUSE = {
    "limit_switch": "its bracket, cam or lever is lost or bent away: both contacts stay still",
    "slack_switch": "its lever is lost or bent away: it never sees slack",
    "stop_button": "the contact block has come off behind the button",
    "hold_control": "the actuator turns without moving its contacts",
    "push_button": "the contact block has come off behind the button",
    "key_switch": "the key turns without moving its contacts",
    "plug": "the plug's bridge is broken",
}

STUCK_CAUSE = {
    "limit_switch": "the lever is jammed, frozen or packed with dirt while actuated",
    "slack_switch": "the lever is jammed in the slack position",
    "stop_button": "the button cannot be unlatched",
    "hold_control": "jammed while actuated, or tied down",
    "push_button": "jammed while pressed",
    "key_switch": "the key does not spring back",
    "plug": "the plug was left in",
}


def actuator_defects(net: Netlist) -> Iterator[WiringDefect]:
    """Switches that are no longer reached, and switches that stay actuated."""
    for ref, part in net.parts.items():
        if part.kind not in LOST_CAUSE:
            continue
        normally_open, normally_closed = contacts_of(net, ref)
        yield WiringDefect(
            id=f"{ref}:bracket" if part.kind == "limit_switch" else f"{ref}:lost",
            kind="actuator_lost",
            cause=LOST_CAUSE[part.kind],
            part=ref,
            held_closed=normally_closed,
            held_open=normally_open,
            mechanics="actuator_lost",
            devices=(ref,),
        )
        actions = sorted({contact.acts for contact in part.contacts})
        for acts in actions:
            normally_open, normally_closed = contacts_of(net, ref, acts)
            yield WiringDefect(
                id=f"{ref}:stuck-{acts}" if len(actions) > 1 else f"{ref}:stuck",
                kind="actuator_stuck",
                cause=STUCK_CAUSE[part.kind],
                part=ref,
                held_closed=normally_open,
                held_open=normally_closed,
                mechanics="actuator_stuck",
                devices=(ref,),
                arms_on=f"{ref}:{acts}",
            )


def common_weld_defects(net: Netlist) -> Iterator[WiringDefect]:
    """A short in the motor that welds the line contactor and a direction contactor."""
    line = [ref for ref, p in net.parts.items() if p.kind == "contactor" and not p.interlocked_with]
    motors = [ref for ref, part in net.parts.items() if part.windings]
    for ref, part in net.parts.items():
        if part.kind != "contactor" or not part.interlocked_with or not line or not motors:
            continue
        both = (line[0], ref)
        poles: list[str] = []
        mirrors: list[str] = []
        for name in both:
            normally_open, normally_closed = contacts_of(net, name)
            poles.extend(normally_open)
            mirrors.extend(normally_closed)
        a, b = net.parts[motors[0]].windings[0].terminals
        yield WiringDefect(
            id=f"{motors[0]}:short-welds-{ref}",
            kind="common_weld",
            cause="a winding short welds both contactors before the breaker opens",
            part=motors[0],
            force_closed=tuple(poles),
            held_open=tuple(mirrors),
            links=((f"{motors[0]}:{a}", f"{motors[0]}:{b}", MOTOR_SHORT_OHM),),
            mechanics="welded",
            devices=both,
            arms_on=f"{ref}:coil",
        )
