"""What a person's hands do at a virtual board, said in one plain line."""

from leafwinch.fault_texts import FAULTS
from leafwinch.states import STATE_NAMES
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import find_defect
from leafwinch_sim.scripts import VERBS, parse_step
from leafwinch_sim.virtual_board import VirtualEdge
from leafwinch_wiring.errors import BadInput

OTHER_WORDS = {
    "power off": "take every supply from the board, at once",
    "power on": "give it back",
    "unplug": "pull the USB cable, which also feeds the board",
    "plug": "put it in again",
    "defect ID": "let this break ('leafwinch sites --defects SITE' lists the names)",
    "mend": "mend everything that is broken",
    "state": "say what the drive does, or off, starting or prompt",
    "quit": "end",
}


def sentences() -> tuple[str, ...]:
    """Return every line that hands understand."""
    own = [f"{verb} {'|'.join(things)}".strip() for verb, things in VERBS.items()]
    return (*own, *OTHER_WORDS)


def act(bench: Bench, edge: VirtualEdge, line: str) -> str:
    """Do what a line says at this moment; return the answer.

    Raises:
        BadInput: the line says nothing that hands can do.
    """
    words = line.split()
    board = bench.board
    if not words or board is None:
        return ""
    if words == ["state"]:
        return described(bench, edge)
    if words[0] == "power" and words[1:] in (["off"], ["on"]):
        edge.cut = words[1] == "off"
    elif words in (["plug"], ["unplug"]):
        board.usb = words[0] == "plug"
    elif words[0] == "defect" and len(words) == 2:
        bench.add_defect(find_defect(bench.site, bench.net, words[1]))
    elif words == ["mend"]:
        for defect in bench.defects:
            bench.remove_defect(defect)
    elif words[0] in VERBS:
        bench.operator.begin(bench, parse_step("hands", {"do": " ".join(words)}))
    else:
        raise BadInput(f"'{line.strip()}' is nothing to do; allowed are: {', '.join(sentences())}.")
    return "done"


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
