"""The fewest measurements from point to point, power off, that find every single miswire.

> Isolate, lock off and prove dead first: the supply's plug out or both of its poles off, and a
> while of waiting until the control supply's capacitors are empty. Push contactors in by hand
> only so, and with the deck propped: a brake can slip. Mains work is a licensed electrician's.

`point_candidates` says what each measurement would find, `point_cover` chooses among them.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from leafwinch_wiring.miswires import KINDS, Miswire, miswires
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_candidates import (
    Candidate,
    Found,
    Progress,
    candidates,
    far_apart,
    states,
)
from leafwinch_wiring.point_cover import smallest_cover
from leafwinch_wiring.point_limits import Limits, expected_words
from leafwinch_wiring.point_paths import path_words
from leafwinch_wiring.point_readings import JOINT_OHM, OPEN_OHM
from leafwinch_wiring.resistors import resistors_of

WORKED = {
    "raise": "held to raise",
    "lower": "held to lower",
    "press": "pressed",
    "turn": "turned",
    "plug": "fitted",
    "limit": "actuated",
    "coil": "armature pushed in by hand",
    "isolate": "opened",
    "trip": "opened",
}
"""What is done by hand, by what acts on the contacts."""

SOLVER_SECONDS = 5.0
DIODE_REASON = (
    "a diode reads by which tip is where; check it with the meter's diode range, cathode to plus"
)
SMALL_REASON = "every reading stays within its tolerance"


@dataclass(frozen=True, slots=True)
class PointRow:
    """One line of the sheet.

    Attributes:
        number: from 1.
        what: the measurement, with the lowest and highest reading of the sound circuit.
        why: what it proves, in words.
        only: ids of the miswires that no other line finds.
    """

    number: int
    what: Candidate
    why: str
    only: tuple[str, ...]

    @property
    def limits(self) -> Limits:
        """What counts as the expected reading, in ohm."""
        return self.what.limits

    @property
    def expected(self) -> str:
        """The expected reading in words."""
        return expected_words(self.what.low_ohm, self.what.high_ohm, self.what.closed)

    @property
    def operate(self) -> str:
        """What is worked by hand, in words; empty with all at rest."""
        return worked_words(self.what.operated, self.what.acts)


@dataclass(frozen=True, slots=True)
class PointSheet:
    """The sheet and what it is worth.

    Attributes:
        netlist: name of the netlist.
        content_hash: its SHA-256, in hexadecimal.
        rows: the measurements.
        found: every miswire that at least one row finds.
        harmless: those that change nothing that matters, with their reasons.
        not_found: those that no row finds, each with the reason.
        lower_bound: no sheet of the candidates has fewer rows; proven by the solver.
    """

    netlist: str
    content_hash: str
    rows: tuple[PointRow, ...]
    found: tuple[Miswire, ...]
    harmless: tuple[Miswire, ...]
    not_found: tuple[tuple[Miswire, str], ...]
    lower_bound: int


def worked_words(operated: str, acts: str) -> str:
    """A device worked by hand in words, such as `SF1 held to raise`; empty with all at rest."""
    return f"{operated} {WORKED[acts]}" if operated else ""


def point_sheet(
    net: Netlist, progress: Progress | None = None, seconds: float = SOLVER_SECONDS
) -> PointSheet:
    """The sheet of a netlist.

    Args:
        net: the netlist.
        progress: called with the number of states worked through and their total.
        seconds: time for the solver to go below the greedy cover; 0 for greedy alone.
    """
    every = miswires(net)
    items = [item for item in every if not item.harmless and item.kind != "diode"]
    listed, table, same = candidates(net, items, progress)
    cost = np.array([_cost(net, item) for item in listed])
    cover = smallest_cover(table, cost, seconds)
    order = {state[:2]: place for place, state in enumerate(states(net))}
    chosen = sorted(
        cover.chosen, key=lambda row: (order[listed[row].operated, listed[row].acts], row)
    )
    found: Found = np.any(table[chosen], axis=0, out=np.zeros(len(items), dtype=bool))
    reasons = [
        (item, _reason(net, item) if unchanged else SMALL_REASON)
        for item, known, unchanged in zip(items, found, same, strict=True)
        if not known
    ]
    reasons += [(item, DIODE_REASON) for item in every if item.kind == "diode"]
    return PointSheet(
        netlist=net.name,
        content_hash=net.content_hash,
        rows=_rows(net, [listed[row] for row in chosen], table[chosen], items),
        found=tuple(item for item, known in zip(items, found, strict=True) if known),
        harmless=tuple(item for item in every if item.harmless),
        not_found=tuple(reasons),
        lower_bound=cover.lower_bound,
    )


def _cost(net: Netlist, item: Candidate) -> float:
    """Breaks ties: short leads, no hand at work, and readings plainly open, closed or a value."""
    vague = item.low_ohm < OPEN_OHM <= item.high_ohm
    return 1e-4 * (far_apart(net, item.a, item.b) + bool(item.operated) + 3 * vague)


def _rows(
    net: Netlist, listed: Sequence[Candidate], table: Found, items: Sequence[Miswire]
) -> tuple[PointRow, ...]:
    times = table.sum(axis=0)
    return tuple(
        PointRow(
            number,
            item,
            path_words(net, item),
            tuple(items[int(column)].id for column in np.flatnonzero(found & (times == 1))),
        )
        for number, (item, found) in enumerate(zip(listed, table, strict=True), 1)
    )


def _reason(net: Netlist, item: Miswire) -> str:
    """Why no reading changes: a conductor inside a device joins what the mistake exchanges."""
    ends = {end for a, b, _ in item.effects.links for end in (a, b)}
    for joint in resistors_of(net):
        if joint.ohm < JOINT_OHM and joint.name.count(":") and {joint.a, joint.b} & ends:
            device = joint.name.split(":")[0]
            return (
                f"{device} itself joins {joint.a} and {joint.b}, so no reading changes; compare"
                f" what {device} shows with a clamp meter on the first run"
            )
    return "no reading changes in any state"


def summary(sheet: PointSheet) -> list[tuple[str, int, int, int]]:
    """Per kind of miswire: its words, how many there are, how many the sheet finds, harmless ones.

    Those that make the same circuit count once.
    """
    found = Counter(item.kind for item in sheet.found)
    harmless = Counter(item.kind for item in sheet.harmless)
    missed = Counter(item.kind for item, _ in sheet.not_found)
    return [
        (words, found[kind] + harmless[kind] + missed[kind], found[kind], harmless[kind])
        for kind, words in KINDS.items()
        if found[kind] + harmless[kind] + missed[kind]
    ]
