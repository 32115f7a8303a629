"""What each conductor is called: derived from the board's signals, the supplies and the contacts.

Wires of the earth group are left out when terminals are joined: the one link of 0 V to earth
would make 0 V and the protective earth one conductor, which they are not for a person with a
screwdriver.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from leafwinch_wiring.format import Part
from leafwinch_wiring.netlist import Netlist

PE = "PE"
PASS_THROUGH = ("isolator", "breaker", "fuse")
"""Kinds of part behind which a conductor keeps its potential."""

SIGNAL_WORDS = {
    "raise_off": "control not at raise",
    "lower_off": "control not at lower",
    "raise_path": "raise path, behind the top working limit",
    "lower_path": "lower path, behind the bottom working limit",
    "top_end": "top working limit, second contact",
    "bottom_end": "bottom working limit, second contact",
    "top_final": "top final limit, second contact",
    "bottom_final": "bottom final limit, second contact",
    "stop_ok": "emergency stop, second contact",
    "chain_ok": "a3, end of the chain",
    "line_released": "line contactor released (mirror)",
    "raise_released": "raise contactor released (mirror)",
    "lower_released": "lower contactor released (mirror)",
    "rope_taut": "rope taut",
    "recovery_off": "recovery key off",
    "reset": "reset button",
    "service_link": "service link",
}
"""What a board input's conductor is called; the keys are the firmware's contact names."""

DRIVER_WORDS = {
    "line_pulse": "line driver",
    "raise": "raise driver",
    "lower": "lower driver",
    "lamp_white": "white lamp",
    "lamp_red": "red lamp",
    "buzzer": "buzzer",
}
"""What a driver's conductor is called; the keys are the firmware's output names."""


@dataclass(frozen=True, slots=True)
class Function:
    """What a conductor is for.

    `net` is the first terminal joined to it (earth wires left out) or PE, `words` what it is
    called, `potential` one of `PE`, `live`, `neutral`, `switched` (either, or a winding's end),
    `plus`, `minus`, `control`, and `volts` the nominal voltage of its supply in V.
    """

    net: str
    words: str
    potential: str
    volts: float


def joined(net: Netlist) -> dict[str, str]:
    """Map each terminal to the first terminal that wires other than earth ones join it to."""
    first = {terminal: terminal for terminal in net.terminals}

    def root(terminal: str) -> str:
        while first[terminal] != terminal:
            first[terminal] = first[first[terminal]]
            terminal = first[terminal]
        return terminal

    order = {terminal: index for index, terminal in enumerate(net.terminals)}
    for wire in net.wires:
        if wire.group != "earth":
            low, high = sorted((root(wire.a), root(wire.b)), key=order.__getitem__)
            first[high] = low
    return {terminal: root(terminal) for terminal in net.terminals}


def is_earth(net: Netlist, terminal: str) -> bool:
    """Tell whether a terminal is one of the protective earth: of the bar, or named PE."""
    ref, _, name = terminal.partition(":")
    return net.parts[ref].kind == "earth" or name == PE


def supplied(net: Netlist) -> dict[str, set[str]]:
    """Map each joined conductor to the source terminals it keeps the potential of.

    Followed through isolators, protective devices and contactors that do not reverse; a
    conductor behind a reversing contactor keeps none.
    """
    of = joined(net)
    reach: dict[str, set[str]] = {}
    for ref, part in net.parts.items():
        if part.source is None:
            continue
        for name in part.terminals:
            if name not in (part.source.fed_by or ()):
                reach.setdefault(of[f"{ref}:{name}"], set()).add(f"{ref}:{name}")
    passing = [(of[a], of[b]) for a, b, _ in _passing(net)]
    for _ in passing:
        for a, b in passing:
            found = reach.get(a, set()) | reach.get(b, set())
            if found:
                reach[a] = reach[b] = found
    return reach


def _passing(net: Netlist) -> Iterator[tuple[str, str, str]]:
    """Both ends of everything that passes a potential on, and its part, of a contactor the pole."""
    for item in net.elements:
        if _passes(net.parts[item.part], item.role):
            pole = f":{item.a.split(':')[1]}-{item.b.split(':')[1]}"
            line = net.parts[item.part].kind == "contactor"
            yield item.a, item.b, item.part + (pole if line else "")
    for ref, part in net.parts.items():
        if part.kind == "current_sensor":
            for load in part.loads:
                if load.name == "primary":
                    yield f"{ref}:{load.terminals[0]}", f"{ref}:{load.terminals[1]}", ref


def _passes(part: Part, role: str) -> bool:
    line = part.kind == "contactor" and not part.interlocked_with and role == "main"
    return line or part.kind in PASS_THROUGH


def functions(net: Netlist) -> dict[str, Function]:
    """Map every terminal of a netlist, internal nodes left out, to what its conductor is for."""
    of = joined(net)
    members: dict[str, list[str]] = {}
    outside = {f"{ref}:{name}" for ref, part in net.parts.items() for name in part.terminals}
    for terminal in net.terminals:
        if terminal in outside:
            members.setdefault(of[terminal], []).append(terminal)
    reach = supplied(net)
    found: dict[str, Function] = {}
    for name, terminals in members.items():
        if any(is_earth(net, terminal) for terminal in terminals):
            function = Function(PE, "protective earth", PE, 0.0)
        else:
            function = _function(net, name, terminals, reach.get(name, set()))
        found.update(dict.fromkeys(terminals, function))
    return found


def _function(net: Netlist, name: str, terminals: list[str], sources: set[str]) -> Function:
    control = any(wire.group == "control" and wire.a in terminals for wire in net.wires) or any(
        wire.group == "control" and wire.b in terminals for wire in net.wires
    )
    volts = _volts(net, "control" if control else "power")
    words = _from_source(net, terminals, sources, control)
    potential = "control" if control else _potential(net, sources)
    if not words:
        words = _from_signal(net, terminals) or _from_devices(net, terminals)
    return Function(name, words, potential, volts)


def _volts(net: Netlist, feeds: str) -> float:
    for part in net.parts.values():
        if part.source is not None and part.source.feeds == feeds:
            return part.source.nominal_v
    return 0.0


def _potential(net: Netlist, sources: set[str]) -> str:
    if len(sources) != 1:
        return "switched"
    name = next(iter(sources)).split(":")[1]
    if net.drive == "capacitor_run":
        return {"L": "live", "N": "neutral"}.get(name, "switched")
    return {"+": "plus", "-": "minus"}.get(name, "switched")


def _from_source(net: Netlist, terminals: list[str], sources: set[str], control: bool) -> str:
    """Words for a conductor at a supply's potential; empty for any other."""
    if len(sources) != 1:
        return ""
    source = next(iter(sources))
    ref, _, name = source.partition(":")
    behind = _behind(net, terminals)
    if control:
        volts = f"{_volts(net, 'control'):.0f} V"
        if name == "-":
            return "0 V of the control"
        if name == "+":
            return f"P{volts[:-2]}, +{volts} behind {behind}" if behind else f"+{volts} of {ref}"
    return f"{name} behind {behind}" if behind else f"{name} of the supply {ref}"


def _behind(net: Netlist, terminals: list[str]) -> str:
    """What the potential comes through: a contact's second end lies here."""
    return next((part for _, b, part in _passing(net) if b in terminals), "")


def _from_signal(net: Netlist, terminals: list[str]) -> str:
    for part in net.boards:
        board = part.board
        if board is None:
            continue
        for entry in board.inputs:
            if f"{part.ref}:{entry.terminal}" in terminals:
                words = SIGNAL_WORDS.get(entry.signal, entry.signal.replace("_", " "))
                return f"{words}, to {part.ref}:{entry.terminal}"
    for item in net.elements:
        if item.role == "driver" and item.b in terminals:
            words = DRIVER_WORDS.get(item.signal, item.signal.replace("_", " "))
            return f"{words}, out to {_far_end(net, terminals, item.part)}"
    return ""


def _far_end(net: Netlist, terminals: list[str], part: str) -> str:
    """The first device terminal on a conductor that is of no strip and not of `part`."""
    for terminal in terminals:
        ref = terminal.split(":")[0]
        if ref != part and net.parts[ref].kind not in ("terminals", "earth"):
            return terminal
    return part


def _from_devices(net: Netlist, terminals: list[str]) -> str:
    """Words from what ends on a conductor: a winding, a coil, or two contacts."""
    for ref, part in net.parts.items():
        ends = [name for winding in part.windings for name in winding.terminals]
        for name in ends:
            if f"{ref}:{name}" in terminals:
                return f"motor {ref}:{name}"
    for coil in net.coils:
        for end in (coil.a, coil.b):
            if end in terminals:
                what = "brake" if net.parts[coil.name].kind == "brake" else "coil"
                return f"{what} {end}"
    for ref, part in net.parts.items():
        signal = [item.terminals for item in part.loads if item.name == "secondary"]
        if part.kind == "current_sensor" and any(f"{ref}:{a}" in terminals for a, _ in signal):
            return f"motor current, signal of {ref}"
    contacts = [
        f"{item.part}:{item.a.split(':')[1]}-{item.b.split(':')[1]}"
        for item in net.elements
        if item.a in terminals or item.b in terminals
    ]
    if len(contacts) > 1:
        return f"between {contacts[0]} and {contacts[1]}"
    devices = [t for t in terminals if net.parts[t.split(":")[0]].kind != "terminals"]
    return f"between {devices[0]} and {devices[-1]}" if len(devices) > 1 else f"at {terminals[0]}"
