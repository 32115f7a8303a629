"""What is drawn: every part of a netlist, cut into the pieces that stand by themselves.

A contactor, for example, is drawn as its coil, its main poles side by side and each of its
auxiliary contacts, all under one reference, as IEC 61082-1 allows (detached
representation). An item has pins, and every terminal that a wire can reach is a pin once.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from leafwinch_wiring.format import Contact, Part
from leafwinch_wiring.netlist import Netlist

GRID_MM = 2.5
"""Step of the drawing grid in mm, the module M of IEC 60617 (from memory)."""

POLE = 6
"""Distance between neighbouring poles of one device, in grid steps."""

TALL = 4
"""Height of an item with a pin above and one below, in grid steps."""


SPOT = 2
"""Distance between spots of one terminal, in grid steps."""


@dataclass(frozen=True, slots=True)
class Pin:
    """A terminal at a place relative to its item, in grid steps.

    `ways` are the directions in which wires may leave: N, E, S or W. A terminal with more
    wires than that has several `spots` in a row on a short bar.
    """

    terminal: str
    dx: int
    dy: int
    ways: str
    spots: int = 1

    def places(self) -> list[tuple[int, int, str]]:
        """Return each spot as its place relative to the item and its ways."""
        last = self.spots - 1
        found = []
        for index in range(self.spots):
            closed = ("W" if index > 0 else "") + ("E" if index < last else "")
            ways = "".join(way for way in self.ways if way not in closed)
            found.append((self.dx + SPOT * index, self.dy, ways))
        return found


@dataclass(slots=True)
class Item:
    """One piece of a part. `sheet`, `x` and `y` are set when it is placed.

    `contacts` are netlist contacts by their element names, `loads`, `windings` and `inputs`
    are named in the same way; `coil` is the reference of the part whose coil it is.
    `sheet` counts from 1; `x` and `y` are in grid steps.
    """

    kind: str
    part: Part
    pins: list[Pin]
    contacts: tuple[str, ...] = ()
    loads: tuple[str, ...] = ()
    windings: tuple[str, ...] = ()
    inputs: tuple[str, ...] = ()
    coil: str = ""
    power: bool = False
    sheet: int = 0
    x: int = 0
    y: int = 0
    flipped: bool = field(default=False)

    @property
    def ref(self) -> str:
        """Reference of the part."""
        return self.part.ref

    def contact(self, index: int = 0) -> Contact:
        """Return one of the item's contacts as the netlist holds it."""
        name = self.contacts[index].split(":")[1]
        return next(item for item in self.part.contacts if item.name == name)

    def pin_at(self, terminal: str) -> tuple[int, int]:
        """Return where a terminal lies on its sheet, in grid steps."""
        pin = next(pin for pin in self.pins if pin.terminal == terminal)
        return self.x + pin.dx, self.y + pin.dy

    def flip(self) -> None:
        """Turn a two-pin item so that its second terminal is above."""
        first, second = self.pins
        self.pins = [
            Pin(second.terminal, 0, 0, "NEW", second.spots),
            Pin(first.terminal, 0, TALL, "SEW", first.spots),
        ]
        self.flipped = not self.flipped


def make_items(net: Netlist) -> list[Item]:
    """Cut every part of a netlist into items, in file order."""
    wired_power = {end for wire in net.wires if wire.group != "control" for end in (wire.a, wire.b)}
    wires = Counter(end for wire in net.wires for end in (wire.a, wire.b))
    items: list[Item] = []
    for part in net.parts.values():
        made = list(_of_part(part))
        seen = Counter(pin.terminal for item in made for pin in item.pins)
        missing = [f"{part.ref}:{t}" for t in part.terminals if f"{part.ref}:{t}" not in seen]
        if missing:
            made.append(Item("box", part, _row(missing, 0, "N")))
        for item in made:
            item.power = any(pin.terminal in wired_power for pin in item.pins)
            item.pins = [
                replace(pin, spots=_spots(pin.ways, wires[pin.terminal])) for pin in item.pins
            ]
        items += made
    return items


def _spots(ways: str, wires: int) -> int:
    """Return how many spots a terminal needs: two ways at the ends, the others at each spot."""
    upright = sum(way in "NS" for way in ways)
    return max(1, -(-(wires - 2) // upright))


def _row(terminals: list[str], dy: int, way: str, pitch: int = POLE, dx: int = 0) -> list[Pin]:
    ways = f"{way}EW"
    return [Pin(name, dx + index * pitch, dy, ways) for index, name in enumerate(terminals)]


def _two(first: str, second: str, dx: int = 0) -> list[Pin]:
    return [Pin(first, dx, 0, "NEW"), Pin(second, dx, TALL, "SEW")]


def _of_part(part: Part) -> Iterator[Item]:
    """Yield the items of one part by its kind."""
    name = part.ref

    def full(terminals: tuple[str, ...]) -> list[str]:
        return [f"{name}:{terminal}" for terminal in terminals]

    if part.kind == "terminals":
        for terminal in full(part.terminals):
            yield Item("terminal", part, [Pin(terminal, 0, 0, "NESW")])
    elif part.kind == "earth":
        for terminal in full(part.terminals):
            yield Item("earth", part, [Pin(terminal, 0, 0, "NEW")])
    elif part.source is not None:
        yield _supply(part)
    elif part.kind == "rectifier" and all(len(set(load.terminals)) == 2 for load in part.loads):
        above = [f"{name}:{load.terminals[0]}" for load in part.loads]
        below = [f"{name}:{load.terminals[1]}" for load in part.loads]
        if len(set(above + below)) == len(above + below):
            loads = tuple(f"{name}:{load.name}" for load in part.loads)
            pins = _row(above, 0, "N") + _row(below, TALL, "S")
            yield Item("rectifier", part, pins, loads=loads)
    elif part.kind == "motor":
        ends = [f"{name}:{end}" for winding in part.windings for end in winding.terminals]
        others = [end for end in full(part.terminals) if end not in ends]
        windings = tuple(f"{name}:{winding.name}" for winding in part.windings)
        yield Item(
            "motor", part, _row(list(dict.fromkeys(ends)) + others, 0, "N"), windings=windings
        )
    elif part.kind == "brake" and part.coil is not None:
        yield Item("brake", part, _row(full(part.coil.terminals), 0, "N"), coil=name)
    else:
        yield from _of_device(part)


def _supply(part: Part) -> Item:
    """Return a source, or a converter that is fed from above."""
    source = part.source
    fed = list(source.fed_by or ()) if source is not None else []
    out = [terminal for terminal in part.terminals if terminal not in fed]
    pins = _row([f"{part.ref}:{terminal}" for terminal in fed], 0, "N")
    pins += _row([f"{part.ref}:{terminal}" for terminal in out], TALL, "S")
    return Item(
        "converter" if fed else "source",
        part,
        pins,
        contacts=tuple(f"{part.ref}:{contact.name}" for contact in part.contacts),
        loads=tuple(f"{part.ref}:{load.name}" for load in part.loads),
    )


def _of_device(part: Part) -> Iterator[Item]:
    """Yield coil, poles, contacts, loads and board blocks of an ordinary device."""
    name = part.ref
    if part.coil is not None:
        first, second = part.coil.terminals
        yield Item("coil", part, _two(f"{name}:{first}", f"{name}:{second}"), coil=name)
    if part.board is not None:
        yield from _board(part)
    use = Counter(end for contact in part.contacts for end in contact.terminals)
    use.update(part.board.supply if part.board is not None else ())
    alone = [c for c in part.contacts if all(use[end] == 1 for end in c.terminals)]
    poles = [c for c in alone if c.role in ("main", "protect")]
    # Only poles that move together share a dashed link.
    for acts in dict.fromkeys(contact.acts for contact in poles):
        group = [contact for contact in poles if contact.acts == acts]
        pins = []
        for index, contact in enumerate(group):
            first, second = contact.terminals
            pins += _two(f"{name}:{first}", f"{name}:{second}", index * POLE)
        yield Item("poles", part, pins, contacts=tuple(f"{name}:{c.name}" for c in group))
    for contact in alone:
        if contact not in poles:
            first, second = contact.terminals
            kind = "driver" if contact.role == "driver" else "contact"
            pins = _two(f"{name}:{first}", f"{name}:{second}")
            yield Item(kind, part, pins, contacts=(f"{name}:{contact.name}",))
    if part.board is None:
        shared = [c for c in part.contacts if c not in alone]
        if shared:
            ends = list(dict.fromkeys(f"{name}:{end}" for c in shared for end in c.terminals))
            names = tuple(f"{name}:{c.name}" for c in shared)
            yield Item("box", part, _row(ends, 0, "N"), contacts=names)
    for load in part.loads:
        first, second = (f"{name}:{end}" for end in load.terminals)
        names = (f"{name}:{load.name}",)
        if part.kind in ("lamp", "buzzer"):
            yield Item(part.kind, part, _two(first, second), loads=names)
        elif part.kind == "current_sensor" and load == part.loads[0]:
            yield Item("sensor", part, _two(first, second), loads=names)
        elif part.kind == "current_sensor":
            yield Item("signal", part, _row([first, second], TALL, "S"), loads=names)
        elif part.board is not None:
            yield Item("burden", part, _row([first, second], 0, "N"), loads=names)
        else:
            yield Item("load", part, _two(first, second), loads=names)


BLOCK_PITCH = 13
"""Distance between outputs of a board in grid steps: each has a column beneath."""


def _board(part: Part) -> Iterator[Item]:
    """Yield the supply of a board with the drivers that it feeds, and its inputs."""
    board = part.board
    if board is None:
        return
    plus, zero = board.supply
    fed = [c for c in part.contacts if plus in c.terminals]
    outs = [c.terminals[1] if c.terminals[0] == plus else c.terminals[0] for c in fed]
    names = [f"{part.ref}:{terminal}" for terminal in (*outs, zero)]
    pins = [Pin(f"{part.ref}:{plus}", 0, 0, "NEW")]
    pins += _row(names, TALL + 2, "S", BLOCK_PITCH)
    contacts = tuple(f"{part.ref}:{contact.name}" for contact in fed)
    yield Item("block", part, pins, contacts=contacts)
    for item in board.inputs:
        yield Item(
            "input",
            part,
            [Pin(f"{part.ref}:{item.terminal}", 0, 0, "NEW")],
            inputs=(f"{part.ref}:{item.terminal}",),
        )
