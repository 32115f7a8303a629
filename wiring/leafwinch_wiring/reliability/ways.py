"""From a netlist to the parts of a stop: one way through copper, one through the board.

A way through copper is found by trying it: the travel goes on with the board's drivers held
on, the stop is demanded, and what opens the motor's path is what the wires alone do.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.motion import (
    Demand,
    Settled,
    Situation,
    contactors,
    settle,
    stops,
    travel,
)
from leafwinch_wiring.netlist import Element, Netlist
from leafwinch_wiring.reliability.formulas import (
    capped,
    mttfd_band,
    mttfd_from_b10d,
    parts_count,
    t10d,
)
from leafwinch_wiring.reliability.parts_data import COVERAGE, TYPICAL, Coverage, Typical

DAYS_PER_WEEK = 7.0
FINAL_TRIALS_PER_YEAR = 12.0
"""How often a final limit is operated in a year, in its trials; an assumption, no source."""


@dataclass(frozen=True, slots=True)
class Use:
    """How much the machine is used.

    `cycles_per_day` are full cycles, up and down; `days` days of use in a year;
    `presses_per_travel` how often the control is pressed anew in one travel.
    """

    cycles_per_day: float
    days: float
    presses_per_travel: float

    def __post_init__(self) -> None:
        """Raise BadInput with one sentence for a use that cannot be."""
        limits = (
            ("cycles a day", self.cycles_per_day, 0.0, 10_000.0),
            ("days a year", self.days, 0.0, 366.0),
            ("presses a travel", self.presses_per_travel, 0.0, 1000.0),
        )
        for name, value, low, high in limits:
            if not low < value <= high:
                raise BadInput(
                    f"The reliability estimate got {value:g} {name}; allowed is above {low:g} to"
                    f" {high:g}."
                )

    @property
    def cycles_per_year(self) -> float:
        """Full cycles in a year."""
        return self.cycles_per_day * self.days


@dataclass(frozen=True, slots=True)
class Block:
    """One part of a channel.

    `operations` in a year, `b10d` in operations (0 where the part has a MTTFD of its own),
    `mttfd_a` and `t10d_a` in years (`t10d_a` is 0 without a B10D), `dc` as a share.
    """

    part: str
    what: str
    contacts: tuple[str, ...]
    operations: float
    b10d: float
    mttfd_a: float
    t10d_a: float
    coverage: Coverage
    source: str

    @property
    def dc(self) -> float:
        """Diagnostic coverage as a share from 0 to 1."""
        return self.coverage.dc


@dataclass(frozen=True, slots=True)
class Channel:
    """Parts in series: any one of them that fails dangerously takes the channel away."""

    title: str
    blocks: tuple[Block, ...]

    @property
    def mttfd_a(self) -> float:
        """MTTFD in years by the parts count, not capped."""
        return parts_count(block.mttfd_a for block in self.blocks)

    @property
    def capped_a(self) -> float:
        """MTTFD in years that the channel may count with."""
        return capped(self.mttfd_a, "B")

    @property
    def band(self) -> str:
        """Band of the MTTFD: low, medium, high, or `-` below 3 years."""
        return mttfd_band(self.capped_a)


def block(
    typical: Typical,
    part: str,
    contacts: Iterable[Element],
    operations: float,
    coverage: str,
) -> Block:
    """Return a block of one part operated so many times in a year."""
    mttfd_a = typical.mttfd_a or mttfd_from_b10d(typical.b10d, operations)
    return Block(
        part=part,
        what=typical.what,
        contacts=tuple(element.name for element in contacts),
        operations=operations,
        b10d=typical.b10d,
        mttfd_a=mttfd_a,
        t10d_a=t10d(typical.b10d, operations) if typical.b10d else 0.0,
        coverage=COVERAGE[coverage],
        source=typical.source,
    )


def input_nets(net: Netlist) -> frozenset[str]:
    """Nets that an input of the board reads."""
    return frozenset(
        net.net_of[f"{part.ref}:{item.terminal}"]
        for part in net.boards
        if part.board is not None
        for item in part.board.inputs
    )


def reaches_board(net: Netlist, element: Element) -> bool:
    """Whether the board reads one side of a contact."""
    read = input_nets(net)
    return net.net_of[element.a] in read or net.net_of[element.b] in read


def read_alone(net: Netlist, element: Element) -> bool:
    """Whether an input of the board reads this contact and no other one behind it."""
    read = input_nets(net)
    for end in (element.a, element.b):
        name = net.net_of[end]
        others = [e for e in net.elements if name in (net.net_of[e.a], net.net_of[e.b])]
        if name in read and others == [element]:
            return True
    return False


def acted_on(net: Netlist, demand: Demand, direction: str) -> tuple[Element, ...]:
    """The contacts that a demand moves."""
    acts = direction if demand.released else demand.acts
    return tuple(e for e in net.elements if e.part == demand.part and e.acts == acts)


@dataclass(frozen=True, slots=True)
class CopperPath:
    """What the wires alone do at a demand: contacts that open, contactors that then drop."""

    contacts: tuple[Element, ...]
    dropped: tuple[str, ...]


def copper_path(net: Netlist, demand: Demand, direction: str) -> CopperPath | None:
    """Return the way through copper, or None where the load goes on moving."""
    going, after = stops(net, demand, direction)
    if not going.moving or after.moving:
        return None
    moved = acted_on(net, demand, direction)
    alone = tuple(e for e in moved if not _with_moved(net, direction, e, going).moving)
    dropped = tuple(name for name in contactors(net) if name in going.pulled - after.pulled)
    return CopperPath(alone or moved, dropped)


def _with_moved(net: Netlist, direction: str, element: Element, going: Settled) -> Settled:
    """The travel with this one contact moved from where the travel has it."""
    usual = travel(net, direction)
    situation = Situation(usual.actions, usual.drivers, (element.name,))
    return settle(net, situation, before=going.pulled)


def board_contacts(net: Netlist, demand: Demand, direction: str) -> tuple[Element, ...]:
    """Contacts by which the board sees a demand; those outside the copper path if there are."""
    seen = tuple(e for e in acted_on(net, demand, direction) if reaches_board(net, e))
    path = copper_path(net, demand, direction)
    apart = tuple(e for e in seen if path is None or e not in path.contacts)
    return apart or seen


def board_drops(net: Netlist, direction: str) -> tuple[str, ...]:
    """Contactors that drop when the board takes its drivers off in a travel."""
    usual = travel(net, direction)
    going = settle(net, usual)
    after = settle(net, Situation(usual.actions), before=going.pulled)
    if after.moving:
        return ()
    return tuple(name for name in contactors(net) if name in going.pulled - after.pulled)


class Builder:
    """Makes the blocks of one netlist in one use."""

    def __init__(self, net: Netlist, use: Use) -> None:
        """Keep what every block needs."""
        self.net = net
        self.use = use

    def operations(self, ref: str) -> float:
        """Operations of a part in a year."""
        kind = self.net.parts[ref].kind
        cycles, presses = self.use.cycles_per_year, self.use.presses_per_travel
        if kind == "stop_button":
            return self.use.days / DAYS_PER_WEEK
        if kind == "limit_switch" and self._final(ref):
            return FINAL_TRIALS_PER_YEAR
        if kind == "hold_control":
            return cycles * presses
        if kind == "contactor":
            in_both = all(ref in settle(self.net, travel(self.net, d)).pulled for d in _BOTH)
            return cycles * presses * (2.0 if in_both else 1.0)
        return cycles

    def _final(self, ref: str) -> bool:
        """Whether a limit stops both directions by copper, so that no travel reaches it."""
        demand = Demand(ref, "limit")
        return all(copper_path(self.net, demand, d) is not None for d in _BOTH)

    def switch(self, contacts: tuple[Element, ...]) -> Block:
        """Block of a switch by its contacts in one channel."""
        ref = contacts[0].part
        kind = self.net.parts[ref].kind
        if kind == "stop_button":
            typical = TYPICAL["stop_button"]
        elif kind == "hold_control" and all(e.role != "main" for e in contacts):
            typical = TYPICAL["push_button"]
        elif all(e.direct_opening for e in contacts):
            typical = TYPICAL["position_switch"]
        else:
            typical = TYPICAL["loaded_switch"]
        return block(typical, ref, contacts, self.operations(ref), self._switch_cover(contacts[0]))

    def _switch_cover(self, contact: Element) -> str:
        """How a wrong contact of a switch is found: by the switch's other contact."""
        others = [e for e in self.net.elements if e.part == contact.part and e.acts == contact.acts]
        if len(others) < 2 or not any(reaches_board(self.net, e) for e in others):
            return "none"
        kind = self.net.parts[contact.part].kind
        seldom = kind == "stop_button" or (kind == "limit_switch" and self._final(contact.part))
        return "seldom" if seldom else "crossed"

    def contactor(self, ref: str) -> Block:
        """Block of a contactor; monitored where a mirror contact leads to the board."""
        poles = [e for e in self.net.elements if e.part == ref and e.role == "main"]
        watched = any(
            e.part == ref and e.role == "mirror" and read_alone(self.net, e)
            for e in self.net.elements
        )
        cover = "mirror" if watched else "none"
        return block(TYPICAL["contactor"], ref, poles, self.operations(ref), cover)

    def board(self) -> Block:
        """Block of the board; a charge pump in its line driver is a watchdog in time."""
        pumped = any(e.role == "driver" and e.signal == "line_pulse" for e in self.net.elements)
        cover = "watchdog" if pumped else "none"
        return block(TYPICAL["board"], self.net.boards[0].ref, (), 0.0, cover)

    def sensor(self, ref: str) -> Block:
        """Block of the current sensor."""
        return block(TYPICAL["current_sensor"], ref, (), 0.0, "none")


_BOTH = ("raise", "lower")
