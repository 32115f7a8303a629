"""Rules for what a hand, a cam or the rope operates: buttons, control, limits."""

import re
from collections.abc import Iterator

from leafwinch_wiring.format import Part
from leafwinch_wiring.motion import (
    DIRECTIONS,
    Demand,
    Situation,
    all_drivers,
    control,
    settle,
    sound,
    stops,
    travel,
)
from leafwinch_wiring.netlist import Element, Netlist
from leafwinch_wiring.reliability.ways import copper_path, read_alone
from leafwinch_wiring.rules_base import (
    STOPPING_KINDS,
    Findings,
    Rule,
    cables_to,
    elements_of,
    parts_of,
)


def stop_by_opening(net: Netlist) -> Findings:
    """Every contact of a stop, a limit and the slack-rope switch opens when it acts."""
    found = Findings()
    for part in parts_of(net, *STOPPING_KINDS):
        found.offending += [
            f"{e.name} closes to stop" for e in elements_of(net, part.ref) if e.type != "nc"
        ]
    held = control(net)
    for direction in DIRECTIONS:
        path = copper_path(net, Demand(held, "", released=True), direction) if held else None
        for element in path.contacts if path else ():
            if element.type != "no":
                found.offending.append(f"{element.name} is closed while the control is released")
    return found


def direct_opening(net: Netlist) -> Findings:
    """Every NC contact of a stop, a limit, the control and a key has direct opening action."""
    found = Findings()
    for part in parts_of(net, *STOPPING_KINDS, "hold_control", "key_switch"):
        for element in elements_of(net, part.ref):
            if element.type == "nc" and not element.direct_opening:
                found.offending.append(f"{element.name} has no direct opening action")
    return found


def two_contacts(net: Netlist) -> Findings:
    """Each stop, limit and direction of the control has a second contact read by itself."""
    found = Findings()
    for part in parts_of(net, "stop_button", "limit_switch", "hold_control"):
        for acts in dict.fromkeys(e.acts for e in elements_of(net, part.ref)):
            group = [e for e in elements_of(net, part.ref) if e.acts == acts]
            if len(group) < 2:
                found.offending.append(f"{part.ref} has one contact for '{acts}'")
            elif not any(read_alone(net, element) for element in group):
                found.offending.append(f"no contact of {part.ref} for '{acts}' is read by itself")
    return found


def spring_return(net: Netlist) -> Findings:
    """The control, the key and push-buttons go back by a spring."""
    found = Findings()
    for part in parts_of(net, "hold_control", "key_switch", "push_button"):
        if not part.spring_return:
            found.offending.append(f"{part.ref} stays where it is put")
    return found


def only_held(net: Netlist) -> Findings:
    """With every driver of the board on, nothing moves unless the control is held."""
    found = Findings()
    if settle(net, Situation((), all_drivers(net))).moving:
        found.offending.append("it moves with the control released and all drivers on")
    held = control(net)
    if not held:
        return Findings(["there is no hold-to-run control"])
    for direction in DIRECTIONS:
        going, after = stops(net, Demand(held, "", released=True), direction)
        if not going.moving:
            found.offending.append(f"held to '{direction}' it does not move at all")
        elif after.moving:
            found.offending.append(f"released from '{direction}' it moves on")
    return found


def limits_by_copper(net: Netlist) -> Findings:
    """Each end has a working limit in the path of its own direction, without the board."""
    stopped = _stopped_by_limits(net)
    found = Findings()
    for ref, directions in stopped.items():
        if not directions:
            found.offending.append(f"{ref} stops nothing without the board")
    for direction in DIRECTIONS:
        if not any(directions == [direction] for directions in stopped.values()):
            found.offending.append(f"no limit stops '{direction}' and leaves the way back free")
    return found


def _stopped_by_limits(net: Netlist) -> dict[str, list[str]]:
    """Directions that each limit switch stops by the wires alone."""
    return {
        part.ref: [d for d in DIRECTIONS if copper_path(net, Demand(part.ref, "limit"), d)]
        for part in parts_of(net, "limit_switch")
    }


def finals_apart(net: Netlist) -> Findings:
    """Final limits stop both directions and share nothing with a working limit."""
    stopped = _stopped_by_limits(net)
    finals = [ref for ref, directions in stopped.items() if len(directions) == 2]
    working = [ref for ref, directions in stopped.items() if len(directions) == 1]
    found = Findings()
    if len(finals) < len(working):
        found.offending.append(f"{len(working)} working limits have {len(finals)} final limits")
    for final in finals:
        for ref in working:
            found.offending += [
                f"{ref} and {final} share {what}" for what in _shared(net, ref, final)
            ]
    return found


def _shared(net: Netlist, ref: str, final: str) -> Iterator[str]:
    one, two = net.parts[ref], net.parts[final]
    if one.bracket == two.bracket:
        yield f"bracket {one.bracket}"
    if one.at == two.at:
        yield f"place {one.at}"
    for cable in sorted(cables_to(net, ref) & cables_to(net, final)):
        yield f"cable {cable}"


def emergency_stop(net: Netlist) -> Findings:
    """A latching emergency stop opens the path of both directions without the board."""
    buttons = parts_of(net, "stop_button")
    found = Findings()
    if not buttons:
        found.offending.append("there is no emergency stop")
    for part in buttons:
        if "latching" not in part.text:
            found.offending.append(f"{part.ref} is not stated to be latching")
        for direction in DIRECTIONS:
            path = copper_path(net, Demand(part.ref, "press"), direction)
            if path is None:
                found.offending.append(f"{part.ref} does not stop '{direction}' without the board")
    return found


def key_only_finals(net: Netlist) -> Findings:
    """With the recovery key turned, the stop, the control and the working limits still act."""
    keys = parts_of(net, "key_switch")
    if not keys:
        return Findings(applies=False)
    found = Findings()
    held = control(net)
    kept = [Demand(part.ref, "press") for part in parts_of(net, "stop_button")]
    for key in keys:
        turned = (key.ref, "turn")
        for direction in DIRECTIONS:
            going = settle(net, travel(net, direction, (turned,)))
            limits = [
                Demand(ref, "limit")
                for ref, directions in _stopped_by_limits(net).items()
                if directions == [direction]
            ]
            for demand in (*kept, *limits, Demand(held, "", released=True)):
                if copper_path(net, demand, direction) is None:
                    continue  # it stops nothing without the key either, which is another rule's
                usual = demand.situation(net, direction)
                with_key = Situation((*usual.actions, turned), usual.drivers)
                if settle(net, with_key, circuit=sound(net), before=going.pulled).moving:
                    name = demand.part
                    found.offending.append(f"{key.ref} turned, {name} does not stop '{direction}'")
    return found


COLOURS = ("red", "yellow", "green", "blue", "black", "white", "grey")
HELD_COLOURS = {"black", "white", "grey"}
RESET_COLOURS = {"blue", "black", "white", "grey"}


def _colours(part: Part) -> set[str]:
    words = set(re.findall(r"[a-z]+", part.text.lower()))
    return words & set(COLOURS)


def actuator_colours(net: Netlist) -> Findings:
    """Stop red on yellow; hold-to-run black, white or grey; reset blue, black, white or grey."""
    found = Findings()
    wanted: list[tuple[Part, set[str], str]] = []
    wanted += [
        (part, HELD_COLOURS, "black, white or grey") for part in parts_of(net, "hold_control")
    ]
    wanted += [
        (part, RESET_COLOURS, "blue, black, white or grey") for part in parts_of(net, "push_button")
    ]
    for part, allowed, words in wanted:
        colours = _colours(part)
        if not colours or colours - allowed:
            stated = " and ".join(sorted(colours)) or "no colour"
            found.offending.append(f"{part.ref} has {stated}, allowed is {words}")
    for part in parts_of(net, "stop_button"):
        if _colours(part) != {"red", "yellow"}:
            stated = " and ".join(sorted(_colours(part))) or "no colour"
            found.offending.append(f"{part.ref} has {stated}, allowed is red on yellow")
    return found


def slack_read(net: Netlist) -> Findings:
    """The slack-rope switch, which lies in no coil path, is read by an input of its own."""
    found = Findings(applies=bool(parts_of(net, "slack_switch")))
    for part in parts_of(net, "slack_switch"):
        contacts: list[Element] = elements_of(net, part.ref)
        if not any(read_alone(net, element) for element in contacts):
            found.offending.append(f"{part.ref} is read by no input of its own")
    return found


SWITCH_RULES: tuple[Rule, ...] = (
    Rule(
        "stop-by-opening",
        "Stops, limits and the slack-rope switch act by opening; the control is open when released",
        "IEC 60204-1 9.4.2.2 and 9.4.3: stop by de-energising, safe at a broken wire",
        stop_by_opening,
    ),
    Rule(
        "direct-opening",
        "Every NC contact that stops or watches has direct opening action",
        "IEC 60947-5-1 annex K; ISO 13850 for emergency stops (from memory)",
        direct_opening,
    ),
    Rule(
        "two-contacts",
        "Each stop, limit and direction of the control has a second contact of the same device,"
        " read by an input of its own",
        "ISO 13849-1 table E.1, cross-monitoring (from memory)",
        two_contacts,
    ),
    Rule(
        "spring-return",
        "The control, the key and push-buttons return by a spring",
        "IEC 60204-1 9.2.3.7: hold-to-run needs continuous actuation (from memory)",
        spring_return,
    ),
    Rule(
        "only-held",
        "Whatever the board drives, it moves only while the control is held",
        "IEC 60204-1 9.2.3.7; ISO 14118: no unexpected start by a fault of the control",
        only_held,
    ),
    Rule(
        "limits-by-copper",
        "Each end has a limit in the path of its direction that leaves the way back free",
        "common practice, no source",
        limits_by_copper,
    ),
    Rule(
        "finals-apart",
        "Each end has a final limit that shares no bracket, place or cable with a working limit",
        "ISO 13849-1 annex F, separation against common causes (from memory)",
        finals_apart,
    ),
    Rule(
        "emergency-stop",
        "A latching emergency stop opens the path of both directions without the board",
        "ISO 13850; IEC 60204-1 9.2.3.4.2, stop category 0",
        emergency_stop,
    ),
    Rule(
        "key-only-finals",
        "The recovery key bridges the final limits and nothing else",
        "common practice, no source",
        key_only_finals,
    ),
    Rule(
        "actuator-colours",
        "Stop red on yellow, hold-to-run black, white or grey, reset not red, yellow or green",
        "IEC 60204-1 10.2.1; ISO 13850",
        actuator_colours,
    ),
    Rule(
        "slack-read",
        "The slack-rope switch is read by an input of its own",
        "common practice, no source",
        slack_read,
    ),
)
