"""The walk over the inputs at commissioning: power on, drivers off, one thing worked at a time.

> The walk comes after the sheet of measurements, never in its place: a miswired contactor can
> pull in the moment the control supply is on. Take the motor's and the brake's wires off their
> strip first, keep everybody off the deck and the leaves propped. Mains work belongs to a
> licensed electrician.

At each step the board's inputs are compared with what the netlist says; a fuse that opens, a
board that stays dark and a contactor that pulls in are seen as well.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from leafwinch.signals import CONTACT_NAMES
from leafwinch_wiring.miswires import Miswire
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit
from leafwinch_wiring.point_sheet import PointSheet, worked_words

WALKED = ("raise", "lower", "press", "turn", "plug", "limit")
"""What a person works with power on. Contactors are left alone: one that is pushed in runs."""

BOARD_RUNS_MV = 18_000
"""Below this supply in mV the board counts as dark; three quarters of 24 V, common practice."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the walk, and the board inputs that must then read live, by name."""

    number: int
    operated: str
    acts: str
    words: str
    live: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WalkShare:
    """What the walk, the sheet, both or neither find of a set of miswires."""

    total: int
    walk_alone: tuple[Miswire, ...]
    sheet_alone: tuple[Miswire, ...]
    both: tuple[Miswire, ...]
    neither: tuple[Miswire, ...]


Seen = tuple[tuple[bool, int, tuple[bool, ...], bool], ...]


def steps(net: Netlist) -> tuple[Step, ...]:
    """The walk of a netlist: first nothing worked, then each device by hand, in file order.

    Empty for a netlist without a board.
    """
    if not net.has_controller:
        return ()
    sound = Circuit(net)
    found = []
    for number, (operated, acts) in enumerate(_worked(net), 1):
        live = sound.solve(_mask(net, operated, acts)).inputs
        words = worked_words(operated, acts) or "everything at rest"
        names = tuple(name for bit, name in enumerate(CONTACT_NAMES) if live >> bit & 1)
        found.append(Step(number, operated, acts, words, names))
    return tuple(found)


def _worked(net: Netlist) -> list[tuple[str, str]]:
    keys = [(e.part, e.acts) for e in net.elements if e.acts in WALKED]
    return [("", ""), *dict.fromkeys(keys)]


def _mask(net: Netlist, operated: str, acts: str) -> int:
    mask = net.rest_mask & ~net.mask_of(e.name for e in net.elements if e.role == "driver")
    return net.actuate(mask, operated, acts) if operated else mask


def seen(net: Netlist, item: Miswire | None) -> Seen:
    """What a person sees at each step: board on, its inputs, coils that pull, a device trips."""
    circuit = item.circuit(net) if item else Circuit(net)
    found = []
    for operated, acts in _worked(net):
        mask = _mask(net, operated, acts)
        solution = circuit.solve(item.state(net, mask) if item else mask)
        pulled = tuple(
            ratio >= coil.pull_in
            for ratio, coil in zip(solution.coil_ratio, net.coils, strict=True)
        )
        runs = solution.supply_mv >= BOARD_RUNS_MV and not solution.short
        found.append((runs, solution.inputs if runs else 0, pulled, solution.short))
    return tuple(found)


def finds(net: Netlist, item: Miswire) -> bool:
    """True when the walk shows a miswire; without a board there is no walk."""
    return net.has_controller and seen(net, item) != seen(net, None)


def share(
    net: Netlist,
    sheet: PointSheet,
    items: Sequence[Miswire] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> WalkShare:
    """What the walk adds to the sheet.

    Args:
        net: the netlist.
        sheet: its sheet of measurements.
        items: the miswires to look at; all that are not harmless when None.
        progress: called with the number of miswires done and their total.
    """
    by_sheet = {item.id for item in sheet.found}
    every = items if items is not None else [*sheet.found, *(m for m, _ in sheet.not_found)]
    sound = seen(net, None) if net.has_controller else ()
    groups: dict[tuple[bool, bool], list[Miswire]] = {}
    for number, item in enumerate(every, 1):
        walk = net.has_controller and seen(net, item) != sound
        groups.setdefault((walk, item.id in by_sheet), []).append(item)
        if progress:
            progress(number, len(every))
    return WalkShare(
        total=len(every),
        walk_alone=tuple(groups.get((True, False), ())),
        sheet_alone=tuple(groups.get((False, True), ())),
        both=tuple(groups.get((True, True), ())),
        neither=tuple(groups.get((False, False), ())),
    )
