"""The board's terminals in a netlist against the pins that its firmware uses."""

from dataclasses import dataclass
from typing import cast

from leafwinch.edge.pins import NO_PIN, Board
from leafwinch.signals import CONTACT_NAMES, OUTPUT_NAMES
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.format import Board as BoardData
from leafwinch_wiring.format import Part
from leafwinch_wiring.netlist import Netlist

ANALOGUE_TERMINALS = ("AP", "AN")
"""Between these the burden of the current sensor's signal lies."""

DRIVER_TERMINALS = {
    "line_pulse": ("LI", "LO"),
    "raise": ("RI", "RO"),
    "lower": ("DI", "DO"),
    "lamp_white": ("24", "LW"),
    "lamp_red": ("24", "LR"),
    "buzzer": ("24", "BZ"),
}
"""Each driver's input and output."""


@dataclass(frozen=True, slots=True)
class TerminalPin:
    """One terminal of the board's enclosure: its signal and the pin of the module behind it."""

    terminal: str
    signal: str
    pin: int


def terminal_pins(netlist: Netlist, board: Board) -> tuple[TerminalPin, ...]:
    """Return every terminal with a pin of its own: inputs, drivers, current, supply.

    Raises BadInput with one sentence where the netlist's board and the firmware differ.
    """
    if len(netlist.boards) != 1:
        raise BadInput(
            f"Netlist {netlist.name} has {len(netlist.boards)} boards, but the firmware is for one."
        )
    part = netlist.boards[0]
    name = part.ref
    wired = cast(BoardData, part.board)
    rows = []
    given = {row.terminal: row.signal for row in wired.inputs}
    for bit, signal in enumerate(CONTACT_NAMES):
        terminal = f"I{bit + 1}"
        found = given.pop(terminal, None)
        if found != signal:
            raise BadInput(
                f"{name}:{terminal} reads '{found or 'nothing'}' in the netlist, "
                f"but the firmware reads '{signal}' there."
            )
        rows.append(TerminalPin(terminal, signal, board.contacts[bit]))
    for terminal, signal in given.items():
        raise BadInput(f"{name}:{terminal} reads '{signal}', but the firmware has no such input.")
    rows += _driver_rows(part, board)
    if not any(load.terminals == ANALOGUE_TERMINALS for load in part.loads):
        raise BadInput(
            f"{name} has no load between {' and '.join(ANALOGUE_TERMINALS)}, where the firmware "
            "measures the motor current."
        )
    rows.append(TerminalPin(ANALOGUE_TERMINALS[0], "current", board.current))
    rows.append(TerminalPin(wired.supply[0], "supply", board.supply))
    return tuple(rows)


def _driver_rows(part: Part, board: Board) -> list[TerminalPin]:
    """Return the drivers in bit order; each output needs exactly one."""
    rows = []
    drivers = [contact for contact in part.contacts if contact.role == "driver"]
    for bit, signal in enumerate(OUTPUT_NAMES):
        found = [contact for contact in drivers if contact.signal == signal]
        if len(found) != 1:
            raise BadInput(
                f"{part.ref} has {len(found)} drivers for '{signal}', but the firmware has one "
                "such output."
            )
        if found[0].terminals != DRIVER_TERMINALS[signal]:
            raise BadInput(
                f"{part.ref} drives '{signal}' at {'-'.join(found[0].terminals)}, but the board "
                f"has that driver at {'-'.join(DRIVER_TERMINALS[signal])}."
            )
        rows.append(TerminalPin(found[0].terminals[1], signal, board.outputs[bit]))
    for contact in drivers:
        if contact.signal not in OUTPUT_NAMES:
            raise BadInput(
                f"{part.ref}:{contact.terminals[1]} is driven by '{contact.signal}', but the "
                "firmware has no such output."
            )
    return rows


def pin_table(netlist: Netlist, boards: tuple[Board, ...]) -> str:
    """Return a Markdown table: terminal, signal, and the pin on each board.

    Raises BadInput where the netlist and the firmware differ.
    """
    columns = [terminal_pins(netlist, board) for board in boards]
    names = " | ".join(f"`{board.name}`" for board in boards)
    lines = [f"| terminal | signal | {names} |", "| --- " * (2 + len(boards)) + "|"]
    for rows in zip(*columns, strict=True):
        pins = " | ".join(str(row.pin) for row in rows)
        lines.append(f"| {rows[0].terminal} | `{rows[0].signal}` | {pins} |")
    beats = " | ".join(
        "-" if board.heartbeat == NO_PIN else str(board.heartbeat) for board in boards
    )
    lines.append(f"| - | `heartbeat` | {beats} |")
    return "\n".join(lines)
