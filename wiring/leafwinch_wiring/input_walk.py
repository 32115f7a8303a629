"""The walk over the inputs at commissioning: power on, drivers off, one thing worked at a time.

> The walk comes after the sheet of measurements, never in its place: a miswired contactor can
> pull in the moment the control supply is on. Take the motor's and the brake's wires off their
> strip first, keep everybody off the deck and the leaves propped. Mains work belongs to a
> licensed electrician.

At each step the board's inputs are compared with what the netlist says; a fuse that opens, a
board that stays dark and a contactor that pulls in are seen as well.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from leafwinch.signals import CONTACT_NAMES
from leafwinch_wiring.miswires import Miswire
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit
from leafwinch_wiring.point_sheet import PointSheet, worked_words
from leafwinch_wiring.walk_quick import BOARD_RUNS_MV, least_feed, quick_walk

WALKED = ("raise", "lower", "press", "turn", "plug", "limit")
"""What a person works with power on. Contactors are left alone: one that is pushed in runs."""


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


Sight = tuple[bool, int, tuple[bool, ...], bool]
"""What a person sees at a step: board on, its inputs, coils that pull, something shorted."""


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


def _see(net: Netlist, circuit: Circuit, mask: int) -> Sight:
    """What a person sees with these elements closed."""
    solution = circuit.solve(mask)
    # The sign of an alternating voltage says nothing.
    fed = abs(solution.feed_ratio) if net.drive == "capacitor_run" else solution.feed_ratio
    pulled = tuple(
        ratio >= coil.pull_in for ratio, coil in zip(solution.coil_ratio, net.coils, strict=True)
    )
    runs = solution.supply_mv >= BOARD_RUNS_MV and fed >= least_feed(net) and not solution.short
    return runs, solution.inputs if runs else 0, pulled, solution.short


def _sights(net: Netlist, item: Miswire | None) -> Iterator[Sight]:
    circuit = item.circuit(net) if item else Circuit(net)
    for operated, acts in _worked(net):
        mask = _mask(net, operated, acts)
        yield _see(net, circuit, item.state(net, mask) if item else mask)


@lru_cache(maxsize=8)
def _sound(net: Netlist) -> tuple[Sight, ...]:
    return tuple(_sights(net, None))


def finds(net: Netlist, item: Miswire) -> bool:
    """True when the walk shows a miswire; without a board there is no walk."""
    if not net.has_controller:
        return False
    # The first step that shows it is enough.
    return any(here != sound for here, sound in zip(_sights(net, item), _sound(net), strict=True))


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
        progress: called with the number of steps and of doubtful miswires done, and their total.
    """
    by_sheet = {item.id for item in sheet.found}
    every = items if items is not None else [*sheet.found, *(m for m, _ in sheet.not_found)]
    groups: dict[tuple[bool, bool], list[Miswire]] = {}
    for item, walk in zip(every, _found(net, every, progress), strict=True):
        groups.setdefault((walk, item.id in by_sheet), []).append(item)
    return WalkShare(
        total=len(every),
        walk_alone=tuple(groups.get((True, False), ())),
        sheet_alone=tuple(groups.get((False, True), ())),
        both=tuple(groups.get((True, True), ())),
        neither=tuple(groups.get((False, False), ())),
    )


def _found(
    net: Netlist, items: Sequence[Miswire], progress: Callable[[int, int], None] | None
) -> list[bool]:
    """What `finds` says of each miswire, most of them settled many at once."""
    if not net.has_controller or not items:
        return [False] * len(items)
    masks = [_mask(net, *worked) for worked in _worked(net)]
    shown, perhaps = quick_walk(net, items, masks, progress)
    left = [item for item, might in zip(items, perhaps, strict=True) if might]
    whole: dict[str, bool] = {}
    for number, item in enumerate(left, 1):
        whole[item.id] = finds(net, item)
        if progress:
            progress(len(masks) + number, len(masks) + len(left))
    return [whole.get(item.id, bool(surely)) for item, surely in zip(items, shown, strict=True)]
