"""The board's answers as data: what each command says, in plain Python values."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from leafwinch.fault_texts import FAULT_NAMES
from leafwinch.state_texts import ENDINGS, WARNINGS
from leafwinch.states import STATE_NAMES
from leafwinch_host.board.link import BoardLink
from leafwinch_wiring.errors import BadInput


@dataclass(frozen=True)
class About:
    """What the board is: its program's greeting, hashes, boot number and uptime."""

    program: str
    site: int
    netlist: int
    boot: int
    uptime_s: int


def about(link: BoardLink) -> About:
    """Ask what the board is."""
    rows = dict(_named(link.ask("version")))
    try:
        return About(
            program=rows["program"],
            site=int(rows["site"], 16),
            netlist=int(rows["netlist"], 16),
            boot=int(rows["boot"]),
            uptime_s=int(rows["uptime_s"]),
        )
    except (KeyError, ValueError) as error:
        raise _strange(link, "version", error) from None


def settings(link: BoardLink) -> dict[str, Any]:
    """Ask for every setting, and the learned envelope by name: {"settings", "envelope"}."""
    values: dict[str, int] = {}
    envelope: dict[str, list[int]] = {}
    try:
        for line in link.ask("settings"):
            words = line.split()
            if words[0] == "setting":
                values[words[1]] = int(words[2])
            elif words[0] == "envelope":
                envelope.setdefault(words[1], []).extend(int(word) for word in words[3:])
    except (IndexError, ValueError) as error:
        raise _strange(link, "settings", error) from None
    return {"settings": values, "envelope": envelope}


def counters(link: BoardLink) -> dict[str, int]:
    """Ask for all counters by name."""
    try:
        return {name: int(value) for name, value in _named(link.ask("counters"))}
    except ValueError as error:
        raise _strange(link, "counters", error) from None


@dataclass(frozen=True)
class Event:
    """One event of the journal; a, b and c mean what its kind says. words: for people."""

    sequence: int
    boot: int
    uptime_s: int
    kind: str
    a: int
    b: int
    c: str
    words: str


def journal(link: BoardLink, most: int) -> list[Event]:
    """Ask for the newest events, newest first."""
    events = []
    try:
        for line in link.ask(f"journal {most}"):
            row = line.split()
            kind, a, b = row[3], int(row[4]), int(row[5])
            c = row[6] if len(row) > 6 else ""
            words = event_words(kind, a, b, c)
            events.append(Event(int(row[0]), int(row[1]), int(row[2]), kind, a, b, c, words))
    except (IndexError, ValueError) as error:
        raise _strange(link, "journal", error) from None
    return events


def event_words(kind: str, a: int, b: int, c: str) -> str:
    """Return what happened, in words."""
    ways = {1: "raising", -1: "lowering"}
    if kind == "boot":
        flags = int(c)
        named = ("watchdog", "settings bad", "settings of another site", "self-test failed")
        why = [words for bit, words in enumerate(named) if flags >> bit & 1]
        version = f"{b // 10_000}.{b // 100 % 100}.{b % 100}"
        return f"power-up of version {version}" + (f": {', '.join(why)}" if why else "")
    if kind in ("fault", "later", "reset"):
        name = _row(FAULT_NAMES, a - 1).replace("_", " ")
        if kind == "reset":
            return f"fault {a} {name} was taken back"
        way = f" while {ways[b]}" if b in ways else ""
        return f"{'another fault' if kind == 'later' else 'fault'} {a} {name}{way}"
    if kind == "warning":
        return f"warning: {_row(WARNINGS, a)[1]}"
    if kind == "travel":
        return f"{ways.get(b, '?')} for {int(c) / 1000:.1f} s: {_row(ENDINGS, a)[1]}"
    if kind == "changed":
        return f"{a} settings were changed"
    if kind == "learned":
        return f"an envelope was learned from {a} travels up and {b} down"
    if kind == "loading":
        return "loading mode was asked for"
    if kind == "fellback":
        return f"the previous program runs again: {c}"
    if kind == "error":
        return f"program error {c}" + (f", line {b}" if b else "")
    if kind == "place":
        return f"in {c}, line {b}"
    if kind == "flash":
        return f"{'a copy was damaged' if b == 1 else 'a write failed'}: {c}"
    return f"{kind} {a} {b} {c}"


def state_name(state: int) -> str:
    """Return the name of a state."""
    return STATE_NAMES[state] if 0 <= state < len(STATE_NAMES) else f"unknown ({state})"


def program_files(link: BoardLink) -> dict[str, tuple[int, str]]:
    """Ask for size and SHA-256 (hexadecimal) of every file of the program."""
    found: dict[str, tuple[int, str]] = {}
    name, size, half = "", 0, ""
    try:
        for line in link.ask("files"):
            words = line.split()
            if words[0] == "file":
                name, size = words[1], int(words[2])
            elif words[1] == "0":
                half = words[2]
            else:
                found[name] = (size, half + words[2])
    except (IndexError, ValueError) as error:
        raise _strange(link, "files", error) from None
    return found


def fault_trace(link: BoardLink) -> dict[str, Any]:
    """Ask for the trace of the last fault: {"fault", "boot", "uptime_s", "interval_ms", "samples"}.

    A sample is [contacts, outputs, state, mA, mV]; the oldest comes first.
    """
    samples = []
    try:
        head, *rows = [line.split() for line in link.ask("fault")]
        for row in rows:
            _, contacts, outputs, state, current, supply = row
            samples.append(
                [int(contacts, 16), int(outputs, 16), int(state), int(current), int(supply)]
            )
        return {
            "fault": int(head[1]),
            "boot": int(head[2]),
            "uptime_s": int(head[3]),
            "interval_ms": int(head[5]),
            "samples": samples,
        }
    except (IndexError, ValueError) as error:
        raise _strange(link, "fault", error) from None


def _named(lines: Sequence[str]) -> list[tuple[str, str]]:
    return [(name, value) for name, _, value in (line.partition(" ") for line in lines)]


def _row(rows: Sequence[Any], index: int) -> Any:
    return rows[index] if 0 <= index < len(rows) else ("unknown", f"unknown ({index})")


def _strange(link: BoardLink, command: str, error: Exception) -> BadInput:
    return BadInput(
        f"Port {link.name}: the answer to '{command}' is not that of this version ({error})."
    )
