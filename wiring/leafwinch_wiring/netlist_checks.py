"""Checks that a netlist hangs together, beyond the form that `format` enforces."""

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from leafwinch import signals
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.format import Document, Part


def check_document(path: Path, document: Document) -> None:
    """Raise BadInput for the first thing that does not fit together."""
    head = f"Netlist file {path}"
    _check_names(head, document)
    known = {f"{part.ref}:{terminal}" for part in document.part for terminal in part.terminals}
    for part in document.part:
        _check_part(head, part, {other.ref for other in document.part})
    _check_wires(head, document, known)
    _check_ends(head, document)
    _check_signals(head, document)


def _check_names(head: str, document: Document) -> None:
    """Names are unique and every place that is named exists."""
    lists = (
        ("location", [item.name for item in document.location]),
        ("cable", [item.name for item in document.cable]),
        ("part", [item.ref for item in document.part]),
    )
    for table, names in lists:
        for name, count in Counter(names).items():
            if count > 1:
                raise BadInput(f"{head}, {table} '{name}' is given {count} times; allowed is once.")
    places = {item.name for item in document.location}
    for part in document.part:
        if part.at not in places:
            raise BadInput(
                f"{head}, part '{part.ref}', key 'at': location '{part.at}' is unknown; allowed"
                f" are {', '.join(sorted(places))}."
            )
    for cable in document.cable:
        for end in cable.ends:
            if end not in places:
                raise BadInput(
                    f"{head}, cable '{cable.name}', key 'ends': location '{end}' is unknown;"
                    f" allowed are {', '.join(sorted(places))}."
                )


def _terminals_used(part: Part) -> Iterator[tuple[str, str]]:
    """Every terminal that something inside the part stands on, with what that is."""
    for contact in part.contacts:
        for terminal in contact.terminals:
            yield f"contact '{contact.name}'", terminal
    for load in part.loads:
        for terminal in load.terminals:
            yield f"load '{load.name}'", terminal
    for winding in part.windings:
        for terminal in winding.terminals:
            yield f"winding '{winding.name}'", terminal
    if part.coil is not None:
        for terminal in part.coil.terminals:
            yield "coil", terminal
    if part.source is not None:
        for terminal in (*part.source.terminals, *(part.source.fed_by or ())):
            yield "source", terminal
    if part.board is not None:
        for terminal in (*part.board.supply, *(item.terminal for item in part.board.inputs)):
            yield "board", terminal


def _check_part(head: str, part: Part, refs: set[str]) -> None:
    """A part uses only terminals it lists, and contact names are unique in it."""
    for terminal, count in Counter((*part.terminals, *part.internal)).items():
        if count > 1:
            raise BadInput(
                f"{head}, part '{part.ref}', key 'terminals': '{terminal}' is listed {count}"
                " times; allowed is once."
            )
    for what, terminal in _terminals_used(part):
        if terminal not in part.terminals and terminal not in part.internal:
            raise BadInput(
                f"{head}, part '{part.ref}', {what}: terminal '{terminal}' is not among its"
                f" terminals {', '.join(part.terminals)}."
            )
    for name, count in Counter(contact.name for contact in part.contacts).items():
        if count > 1:
            raise BadInput(
                f"{head}, part '{part.ref}': contact '{name}' is given {count} times; allowed is"
                " once."
            )
    if part.coil is not None and part.coil.drop_out >= part.coil.pull_in:
        raise BadInput(
            f"{head}, part '{part.ref}', coil: drop_out {part.coil.drop_out} is not below pull_in"
            f" {part.coil.pull_in}; a coil holds at less than it pulls in with."
        )
    if part.interlocked_with and part.interlocked_with not in refs:
        raise BadInput(
            f"{head}, part '{part.ref}', key 'interlocked_with': part '{part.interlocked_with}' is"
            " unknown; it must be another part of the netlist."
        )


def _check_wires(head: str, document: Document, known: set[str]) -> None:
    """Wires join known terminals, marks are unique, cores fit their cable and its ends."""
    cables = {cable.name: cable for cable in document.cable}
    place = {part.ref: part.at for part in document.part}
    seen: set[str] = set()
    for group in ("control", "power", "earth"):
        for entry in getattr(document.wires, group):
            a, b, mark = entry[:3]
            where = f"{head}, wires.{group}, wire '{mark}'"
            for terminal in (a, b):
                if terminal not in known:
                    raise BadInput(
                        f"{where}: terminal '{terminal}' is unknown; write part:terminal of a part"
                        " in this netlist."
                    )
            if a == b:
                raise BadInput(f"{where} joins '{a}' to itself; it must join two terminals.")
            if mark in seen:
                raise BadInput(f"{where}: this mark is used twice; each wire has its own.")
            seen.add(mark)
            ends = (place[a.split(":")[0]], place[b.split(":")[0]])
            if "." not in mark:
                if ends[0] != ends[1]:
                    raise BadInput(
                        f"{where} runs from location '{ends[0]}' to '{ends[1]}'; between locations"
                        " only a core such as 'W1.2' is allowed."
                    )
                continue
            name, core = mark.split(".", 1)
            if name not in cables:
                raise BadInput(
                    f"{where}: cable '{name}' is unknown; allowed are {', '.join(cables)}."
                )
            cable = cables[name]
            if not core.isdigit() or not 1 <= int(core) <= cable.cores:
                raise BadInput(
                    f"{where}: core '{core}' is not in cable '{name}'; allowed are 1 to"
                    f" {cable.cores}."
                )
            if sorted(ends) != sorted(cable.ends):
                raise BadInput(
                    f"{where} runs from location '{ends[0]}' to '{ends[1]}', but cable '{name}'"
                    f" joins '{cable.ends[0]}' and '{cable.ends[1]}'."
                )


def _check_ends(head: str, document: Document) -> None:
    """No terminal hangs loose: a strip terminal joins at least two wires, others one."""
    counts: Counter[str] = Counter()
    for group in ("control", "power", "earth"):
        for entry in getattr(document.wires, group):
            counts.update(entry[:2])
    for part in document.part:
        needed = 2 if part.kind == "terminals" else 1
        inside = {terminal for _, terminal in _terminals_used(part)}
        for terminal in part.terminals:
            used = counts[f"{part.ref}:{terminal}"]
            if used >= needed or (part.kind == "earth" and used == 0):
                continue
            if part.kind == "terminals" and used == 1:
                raise BadInput(
                    f"{head}: node '{part.ref}:{terminal}' is used once; a terminal of a strip"
                    " must join at least two wires."
                )
            what = "" if terminal in inside else " and nothing inside the part stands on it"
            raise BadInput(
                f"{head}: terminal '{part.ref}:{terminal}' has no wire{what}; wire it or remove it"
                " from the part's terminals."
            )


def _check_signals(head: str, document: Document) -> None:
    """Board inputs and driver outputs carry signal names the control core knows."""
    for part in document.part:
        for contact in part.contacts:
            if contact.role == "driver" and contact.signal not in signals.OUTPUT_NAMES:
                raise BadInput(
                    f"{head}, part '{part.ref}', contact '{contact.name}': output signal"
                    f" '{contact.signal}' is unknown; allowed are"
                    f" {', '.join(signals.OUTPUT_NAMES)}."
                )
        if part.board is None:
            continue
        names = [item.signal for item in part.board.inputs]
        for name in names:
            if name not in signals.CONTACT_NAMES:
                raise BadInput(
                    f"{head}, part '{part.ref}', inputs: signal '{name}' is unknown; allowed are"
                    f" {', '.join(signals.CONTACT_NAMES)}."
                )
        for name in signals.CONTACT_NAMES:
            if names.count(name) != 1:
                raise BadInput(
                    f"{head}, part '{part.ref}', inputs: signal '{name}' is given"
                    f" {names.count(name)} times; each signal is read by exactly one input."
                )
