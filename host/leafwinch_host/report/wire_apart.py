"""Which conductors must not share a cable, as rows that a person who lays cables can follow."""

from collections.abc import Sequence
from dataclasses import dataclass

from leafwinch_wiring.defects_conductors import group_of
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.rules_bridges import BridgeEffect
from leafwinch_wiring.schedules.functions import functions

WHY = (
    "A short between any two conductors of a cable is to be assumed (ISO 13849-2, table D.4). So "
    "no cable may carry two conductors whose short alone gives a contactor voltage with the "
    "control released and no driver on, or takes a stop away from copper and board together. Each "
    "two control conductors were tried, whether or not they share a cable as drawn; conductors of "
    "the motor, the brake and the supply go in cables of their own anyway."
)
NONE = "no short between two control conductors starts anything or takes a stop away"
NO_CONTROL = "no control circuit to keep apart: every core carries the motor's power"


@dataclass(frozen=True, slots=True)
class Conductor:
    """A conductor by a terminal it is on, what it is called, and the cables it runs in."""

    name: str
    words: str
    cables: tuple[str, ...]

    @property
    def where(self) -> str:
        """The cables it runs in as drawn."""
        return f"in {', '.join(self.cables)}" if self.cables else "in no cable"


@dataclass(frozen=True, slots=True)
class Apart:
    """A conductor, those that must not run in a cable with it, and what a short would do.

    `shared` are the cables in which two of them run together as drawn, against the rule.
    """

    one: Conductor
    others: tuple[Conductor, ...]
    effect: str
    shared: tuple[str, ...]


def apart_rows(net: Netlist, effects: Sequence[BridgeEffect]) -> list[Apart]:
    """Gather what must be kept apart under the conductors that most others must avoid.

    Args:
        net: the netlist.
        effects: what `keep_apart` returned for it.
    """
    left = list(effects)
    order = {terminal: place for place, terminal in enumerate(net.terminals)}
    rows = []
    while left:
        ends = [end for effect in left for end in (effect.a, effect.b)]
        most = min(dict.fromkeys(ends), key=lambda end: (-ends.count(end), order[end]))
        mine = [effect for effect in left if most in (effect.a, effect.b)]
        left = [effect for effect in left if most not in (effect.a, effect.b)]
        alike: dict[tuple[tuple[str, ...], tuple[str, ...]], list[BridgeEffect]] = {}
        for effect in mine:
            alike.setdefault((effect.starts, effect.lost), []).append(effect)
        rows += [_row(net, most, group, order) for group in alike.values()]
    return rows


def _row(net: Netlist, most: str, group: list[BridgeEffect], order: dict[str, int]) -> Apart:
    one = _conductor(net, most)
    names = sorted(
        (effect.b if effect.a == most else effect.a for effect in group), key=order.__getitem__
    )
    others = tuple(_conductor(net, name) for name in names)
    shared = {cable for other in others for cable in other.cables} & set(one.cables)
    return Apart(one, others, _effect(net, group), tuple(sorted(shared)))


def _conductor(net: Netlist, name: str) -> Conductor:
    wires = [wire for wire in net.wires if net.net_of[wire.a] == name]
    cables = dict.fromkeys(wire.cable for wire in wires if wire.cable)
    return Conductor(name, functions(net)[name].words, tuple(cables))


def _effect(net: Netlist, group: list[BridgeEffect]) -> str:
    """What a short does, in words; all of a group start and take away the same."""
    said = []
    if group[0].starts:
        starts = [
            f"{name} ({net.parts[name].text})" for name in group[0].starts if name in net.parts
        ]
        starts += [name for name in group[0].starts if name not in net.parts]
        said.append(
            f"gives {' and '.join(starts)} voltage with the control released and no driver on"
        )
    if group[0].lost:
        said.append(f"takes these stops away, unseen: {'; '.join(group[0].lost)}")
    # A stop is named by its device and what it interrupts; the device is enough here.
    watched = sorted({stop.split()[0] for effect in group for stop in effect.watched})
    if watched:
        said.append(f"leaves stops to the board alone, by some of these: {', '.join(watched)}")
    return "; ".join(said)


def apart_level(net: Netlist, rows: Sequence[Apart]) -> str:
    """Whether they are kept apart as drawn: `good`, `bad`, or `amend` with nothing to judge."""
    if any(row.shared for row in rows):
        return "bad"
    return "good" if "control" in group_of(net).values() else "amend"


def apart_words(net: Netlist, rows: Sequence[Apart]) -> str:
    """One sentence on whether the wiring as drawn keeps them apart."""
    if not rows:
        return NONE if "control" in group_of(net).values() else NO_CONTROL
    shared = sorted({cable for row in rows for cable in row.shared})
    count = sum(len(row.others) for row in rows)
    return f"{count} pairs of conductors must not share a cable; as drawn " + (
        f"some do, in {', '.join(shared)}" if shared else "none does"
    )
