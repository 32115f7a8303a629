"""Rules for two cores that touch: what one bridge can start, and which stops it can take away.

Every pair of cores in one cable is bridged in the contact network, and every stop is tried
with the bridge in place. Two things must not happen: a coil gets voltage while the control is
released and the board drives nothing; or a stop is lost both by copper and to the board's eyes.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

from leafwinch_wiring.defect_types import Effects
from leafwinch_wiring.defects_conductors import BRIDGE_OHM, cable_pairs, distinct_pairs, group_of
from leafwinch_wiring.motion import (
    DIRECTIONS,
    Demand,
    Situation,
    contactors,
    demand_situations,
    settle,
    travel,
)
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit
from leafwinch_wiring.reliability.ways import copper_path
from leafwinch_wiring.rules_base import Findings, Rule, elements_of, zero_net


@dataclass(frozen=True, slots=True)
class BridgeEffect:
    """What a bridge between two nets does.

    `starts` is what gets voltage by it alone; `lost` are stops that neither copper nor the
    board's inputs show any more; `watched` are stops that only the board would still see.
    """

    label: str
    a: str
    b: str
    starts: tuple[str, ...]
    lost: tuple[str, ...]
    watched: tuple[str, ...]

    @property
    def hazardous(self) -> bool:
        """Whether the two must never touch, so must not share a cable."""
        return bool(self.starts or self.lost)


def _stops_by_copper(net: Netlist) -> list[tuple[Demand, str]]:
    """Every stop that the wires alone carry out, with its direction."""
    return [
        (demand, direction)
        for demand in demand_situations(net)
        for direction in DIRECTIONS
        if copper_path(net, demand, direction) is not None
    ]


def _stop_name(net: Netlist, demand: Demand, direction: str) -> str:
    word = "raising" if direction == "raise" else "lowering"
    return f"{demand.part} {'released' if demand.released else 'operated'} while {word}"


def bridge_effect(
    net: Netlist, label: str, a: str, b: str, tried: Iterable[tuple[Demand, str]]
) -> BridgeEffect:
    """Bridge two terminals and try every stop.

    Args:
        net: the netlist.
        label: what the bridge is called in the result.
        a: one terminal.
        b: the other terminal.
        tried: the stops that the wires alone carry out without the bridge.
    """
    circuit = Circuit(net, (Effects(links=((a, b, BRIDGE_OHM),)),))
    rest = settle(net, Situation(), circuit=circuit)
    drop_out = {coil.name: coil.drop_out for coil in net.coils}
    starts = [
        name for name in contactors(net) if rest.ratios[name] >= drop_out[name] and not rest.tripped
    ]
    if rest.moving:
        starts.append("motor or brake")
    lost: list[str] = []
    watched: list[str] = []
    going = {way: settle(net, travel(net, way), circuit=circuit).pulled for way in DIRECTIONS}
    for demand, direction in tried:
        after = settle(
            net, demand.situation(net, direction), circuit=circuit, before=going[direction]
        )
        if not after.moving:
            continue
        # The board goes on only while it reads what it reads in a sound travel.
        blind = not net.boards or after.inputs == settle(net, travel(net, direction)).inputs
        (lost if blind else watched).append(_stop_name(net, demand, direction))
    return BridgeEffect(label, a, b, tuple(starts), tuple(lost), tuple(watched))


def cable_bridges(net: Netlist) -> list[BridgeEffect]:
    """The effect of a bridge between any two cores of one cable, equal pairs once."""
    tried = _stops_by_copper(net)
    return [
        bridge_effect(net, group[0][0], group[0][1], group[0][2], tried)
        for group in distinct_pairs(net, cable_pairs(net)).values()
    ]


def keep_apart(net: Netlist) -> list[BridgeEffect]:
    """Every two control nets that must not share a cable, whether or not they do now.

    0 V and the fused supply count like any other net. Takes some seconds.
    """
    groups = group_of(net)
    names = sorted(name for name, group in groups.items() if group == "control")
    tried = _stops_by_copper(net)
    found = []
    for a, b in combinations(names, 2):
        effect = bridge_effect(net, f"{a}-{b}", a, b, tried)
        if effect.hazardous:
            found.append(effect)
    return found


def _board_only(net: Netlist) -> list[Demand]:
    """Switches that stop nothing by copper, such as the slack-rope switch, but are read."""
    if not net.boards:
        return []
    by_copper = {demand.part for demand, _ in _stops_by_copper(net)}
    return [demand for demand in demand_situations(net) if demand.part not in by_copper]


def _unseen(net: Netlist, effect: BridgeEffect, demands: list[Demand]) -> list[str]:
    """Switches without a copper path that a bridge hides from the board."""
    touched = {net.net_of[effect.a], net.net_of[effect.b]}
    demands = [
        demand
        for demand in demands
        if any(touched & {net.net_of[e.a], net.net_of[e.b]} for e in elements_of(net, demand.part))
    ]
    if not demands:
        return []
    circuit = Circuit(net, (Effects(links=((effect.a, effect.b, BRIDGE_OHM),)),))
    found = []
    for demand in demands:
        usual = settle(net, travel(net, DIRECTIONS[1]))
        after = settle(net, demand.situation(net, DIRECTIONS[1]), circuit=circuit)
        if after.inputs == usual.inputs:
            found.append(demand.part)
    return found


def bridges(net: Netlist) -> Findings:
    """No bridge inside one cable starts anything or takes a stop away from copper and board."""
    found = Findings(applies=bool(net.cables))
    alone = _board_only(net)
    for effect in cable_bridges(net):
        if effect.starts:
            found.offending.append(f"{effect.label} feeds {', '.join(effect.starts)}")
        if effect.lost:
            found.offending.append(f"{effect.label} takes away: {'; '.join(effect.lost)}")
        if effect.watched and not effect.hazardous:
            found.notes.append(f"{effect.label}: only the board sees {'; '.join(effect.watched)}")
        for ref in _unseen(net, effect, alone):
            found.notes.append(f"{effect.label}: nobody sees {ref}, which has no copper path")
    if not zero_net(net):
        found.notes.append("without a control circuit every core carries the motor's power")
    return found


BRIDGE_RULES: tuple[Rule, ...] = (
    Rule(
        "bridges",
        "No bridge between two cores of one cable starts anything, or takes a stop away from the"
        " copper path and from the board's eyes together",
        "ISO 13849-2 table D.4: a short between any two conductors of a cable is to be assumed",
        bridges,
    ),
)
