"""What a person's hands do at a virtual board, said in one plain line."""

from leafwinch.fault_texts import FAULTS
from leafwinch.states import STATE_NAMES
from leafwinch_host.virtual_eyes import Eyes
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import find_defect
from leafwinch_sim.scripts import VERBS, parse_step
from leafwinch_sim.virtual_board import VirtualEdge
from leafwinch_wiring.errors import BadInput

OTHER_WORDS = {
    "wait SECONDS": "let time pass between two things in one line",
    "power off": "take every supply from the board, at once",
    "power on": "give it back",
    "unplug": "pull the USB cable, which also feeds the board",
    "plug": "put it in again",
    "motor off|on": "take the cores of motor and brake off their terminals, put them back",
    "wire off|on LIMIT": "take the wire of a limit's second contact off, put it back",
    "defect ID": "let this break ('leafwinch sites --defects SITE' lists the names)",
    "mend": "mend everything that is broken",
    "mend ID": "mend that one only",
    "state": "say what the drive does, or off, starting or prompt",
    "look": "say what eyes, ears and meters tell: deck, lamps, current, supply, overrun, pull",
    "look limits": "move each limit by hand, isolated: where it operates",
    "look interlock": "push both direction contactors in by hand, isolated",
    "help": "list all this",
    "quit": "end",
}


def sentences() -> tuple[str, ...]:
    """Return every line that hands understand."""
    return (*_scripted(), *OTHER_WORDS)


def _scripted() -> list[str]:
    return [
        f"{verb} {'|'.join(things)}".strip() for verb, things in VERBS.items() if verb != "wait"
    ]


def explained() -> str:
    """Return every line that hands understand, with what it does where that is not plain."""
    return "; ".join((*_scripted(), *(f"{words}: {what}" for words, what in OTHER_WORDS.items())))


def act(bench: Bench, edge: VirtualEdge, line: str, eyes: Eyes | None = None) -> str:
    """Do what a line says at this moment; return the answer.

    Args:
        bench: the installation.
        edge: its board.
        line: what is to be done.
        eyes: who looks, where somebody does.

    Raises:
        BadInput: the line says nothing that hands can do.
    """
    words = line.split()
    board = bench.board
    if not words or board is None:
        return ""
    if words == ["state"]:
        return described(bench, edge)
    if words == ["help"]:
        return explained()
    if words[0] == "look":
        return seen(eyes, words[1:])
    if words[0] == "power" and words[1:] in (["off"], ["on"]):
        edge.cut = words[1] == "off"
    elif words in (["plug"], ["unplug"]):
        board.usb = words[0] == "plug"
    elif words[0] == "defect" and len(words) == 2:
        bench.add_defect(find_defect(bench.site, bench.net, words[1]))
    elif words[0] == "mend" and len(words) == 2:
        bench.remove_defect(find_defect(bench.site, bench.net, words[1]))
    elif words[0] in ("motor", "wire") and len(words) > 1 and words[1] in ("off", "on"):
        for name in motor_cables(bench) if words[0] == "motor" else limit_wire(bench, words[2:]):
            defect = find_defect(bench.site, bench.net, name)
            if words[1] == "off" and defect not in bench.defects:
                bench.add_defect(defect)
            elif words[1] == "on" and defect in bench.defects:
                bench.remove_defect(defect)
    elif words == ["mend"]:
        for defect in bench.defects:
            bench.remove_defect(defect)
    elif words[0] in VERBS:
        bench.operator.begin(bench, parse_step("hands", {"do": " ".join(words)}))
    else:
        raise BadInput(f"'{line.strip()}' is nothing to do; allowed are: {', '.join(sentences())}.")
    return "done"


def motor_cables(bench: Bench) -> list[str]:
    """Return the defects that take the cores of motor and brake off."""
    net = bench.net
    moved = {f"{ref}:" for ref, part in net.parts.items() if part.kind in ("motor", "brake")}
    cables = {
        wire.cable
        for wire in net.wires
        if wire.cable and any(end.startswith(tuple(moved)) for end in (wire.a, wire.b))
    }
    return [f"{cable}:cut" for cable in sorted(cables)]


def limit_wire(bench: Bench, words: list[str]) -> list[str]:
    """Return the defect that takes one wire of a limit's second contact off.

    Raises:
        BadInput: there is no such limit, or it has no second contact with a wire of its own.
    """
    limit = getattr(bench.site.limits, words[0], None) if len(words) == 1 else None
    second = f"{limit.part}:second" if limit is not None else ""
    for element in bench.net.elements:
        for wire in bench.net.wires:
            if element.name == second and wire.cable and element.b in (wire.a, wire.b):
                return [f"{wire.mark}:open"]
    raise BadInput(f"'{' '.join(words)}' is no limit whose second contact has a wire to take off.")


def seen(eyes: Eyes | None, what: list[str]) -> str:
    """Return what eyes and meters tell.

    Raises:
        BadInput: nobody looks, or at nothing that is known.
    """
    if eyes is None:
        raise BadInput("nobody looks at this installation.")
    if not what:
        return eyes.look()
    if what == ["limits"]:
        points = eyes.operating_points()
        return "; ".join(f"{name} {place}" for name, place in points.items())
    if what == ["interlock"]:
        both = "both go in" if eyes.both_in() else "the other one is blocked"
        return f"{both}; contacts {'closed' if eyes.interlock_closed() else 'open'}"
    raise BadInput(f"'look {' '.join(what)}' is not known; allowed are limits, interlock.")


def described(bench: Bench, edge: VirtualEdge) -> str:
    """Return the drive's state in a few words."""
    if not edge.process.running:
        return "off"
    if edge.at_prompt:
        return "prompt"
    if not edge.program_runs:
        return "starting"
    seen = edge.seen
    words = STATE_NAMES[seen.state]
    if seen.fault:
        words += f" {FAULTS[seen.fault - 1][0]}"
    return f"{words}, {bench.observation.angle_deg:.1f} deg"
