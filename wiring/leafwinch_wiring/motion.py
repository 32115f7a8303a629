"""What a netlist does in a given situation: which contactors are in, whether the brake lifts.

The contact network alone is static. Here the contactors follow their coils until nothing
changes any more, so that a question such as "does this button stop it" has an answer from
the wires alone. The board is not simulated: its drivers are held as the question says.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from leafwinch_wiring.defect_types import Effects
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Circuit

DIRECTIONS = ("raise", "lower")
Action = tuple[str, str]
"""A part and what acts on it, such as (`SF1`, `raise`)."""

STEPS_MAX = 12
"""Contactors settle in two or three steps; a circuit that does not is one that chatters."""


@dataclass(frozen=True, slots=True)
class Situation:
    """What acts on the machine from outside.

    `actions` are operated parts, `drivers` the board's output signals held on, `moved` single
    elements put into the state that they do not have at rest.
    """

    actions: tuple[Action, ...] = ()
    drivers: tuple[str, ...] = ()
    moved: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Settled:
    """Where the contactors came to rest.

    `pulled` are the contactors in, `ratios` the voltage of each coil as a ratio of its nominal
    one, `fed` whether a motor winding is fed, `lifted` whether the brake lifts, `inputs` the
    board's contact bits, `tripped` whether a protective device would open, `mask` the elements
    that are closed then.
    """

    pulled: frozenset[str]
    ratios: dict[str, float]
    fed: bool
    lifted: bool
    inputs: int
    tripped: bool
    mask: int

    @property
    def moving(self) -> bool:
        """Whether the load can move: the brake lifts or a winding is fed."""
        return (self.fed or self.lifted) and not self.tripped


FED_RATIO = 0.05
"""A winding with more than this share of its voltage counts as fed; an assumption, no source."""


def contactors(net: Netlist) -> tuple[str, ...]:
    """References of all contactors, in file order."""
    return tuple(ref for ref, part in net.parts.items() if part.kind == "contactor")


def control(net: Netlist) -> str:
    """Reference of the hold-to-run control; empty without one."""
    return next((ref for ref, part in net.parts.items() if part.kind == "hold_control"), "")


def brakes(net: Netlist) -> tuple[str, ...]:
    """References of all brakes, in file order."""
    return tuple(ref for ref, part in net.parts.items() if part.kind == "brake")


def drivers_for(net: Netlist, direction: str) -> tuple[str, ...]:
    """Output signals that the board holds on for one direction; empty without a board."""
    wanted = ("line_pulse", direction)
    return tuple(e.signal for e in net.elements if e.role == "driver" and e.signal in wanted)


def all_drivers(net: Netlist) -> tuple[str, ...]:
    """Every output signal of the board: a program that has gone wild."""
    return tuple(e.signal for e in net.elements if e.role == "driver")


def _mask(net: Netlist, situation: Situation) -> int:
    mask = net.rest_mask
    for part, acts in situation.actions:
        mask = net.actuate(mask, part, acts)
    for index, element in enumerate(net.elements):
        if element.role == "driver" and element.signal in situation.drivers:
            mask |= 1 << index
    for name in situation.moved:
        mask ^= 1 << net.bit(name)
    return mask


@lru_cache(maxsize=8)
def sound(net: Netlist) -> Circuit:
    """The network without defects, kept because every question asks it again."""
    return Circuit(net)


def settle(
    net: Netlist,
    situation: Situation,
    *,
    circuit: Circuit | None = None,
    before: frozenset[str] = frozenset(),
) -> Settled:
    """Let the contactors follow their coils.

    Args:
        net: the netlist.
        situation: what acts from outside.
        circuit: its network, with defects if any; made anew where none is given.
        before: contactors that were in before, which hold down to their drop-out voltage.
    """
    circuit = circuit or sound(net)
    own = set(contactors(net))
    brake_names = set(brakes(net))
    pulled = frozenset(before)
    mask = full = _mask(net, situation)
    for _ in range(STEPS_MAX):
        full = mask
        for name in pulled:
            full = net.actuate(full, name, "coil")
        # An element that is moved by hand stays so, whatever its armature does.
        for name in situation.moved:
            bit = 1 << net.bit(name)
            full = full & ~bit | mask & bit
        found = circuit.solve(full)
        ratios = dict(zip(net.coil_names, found.coil_ratio, strict=True))
        now = frozenset(
            coil.name
            for coil in net.coils
            if coil.name in own
            and ratios[coil.name] >= (coil.drop_out if coil.name in pulled else coil.pull_in)
        )
        if now == pulled:
            break
        pulled = now
    drop_out = {coil.name: coil.drop_out for coil in net.coils}
    return Settled(
        pulled=pulled,
        ratios=ratios,
        fed=any(abs(ratio) > FED_RATIO for ratio in found.windings),
        lifted=any(ratios[name] >= drop_out[name] for name in brake_names),
        inputs=found.inputs,
        tripped=bool(found.trip_mask) or found.short,
        mask=full,
    )


def travel(net: Netlist, direction: str, more: Iterable[Action] = ()) -> Situation:
    """The situation of a healthy travel: control held, the board's drivers on for it."""
    held = control(net)
    actions = ((held, direction),) if held else ()
    return Situation((*actions, *more), drivers_for(net, direction))


@dataclass(frozen=True, slots=True)
class Demand:
    """Something that must stop a travel: the control released, or a part operated."""

    part: str
    acts: str
    released: bool = False

    def situation(self, net: Netlist, direction: str) -> Situation:
        """The travel with the demand present, the drivers still on: the board does nothing."""
        if self.released:
            return Situation((), drivers_for(net, direction))
        return travel(net, direction, ((self.part, self.acts),))


def demand_situations(net: Netlist) -> tuple[Demand, ...]:
    """Every stop that a netlist has: control released, stop buttons, limits, slack rope."""
    found = []
    held = control(net)
    if held:
        found.append(Demand(held, "", released=True))
    acts = {"stop_button": "press", "limit_switch": "limit", "slack_switch": "limit"}
    for ref, part in net.parts.items():
        if part.kind in acts:
            found.append(Demand(ref, acts[part.kind]))
    return tuple(found)


def stops(
    net: Netlist, demand: Demand, direction: str, effects: tuple[Effects, ...] = ()
) -> tuple[Settled, Settled]:
    """Return what a travel and the same travel with a demand settle to, drivers held on."""
    circuit = Circuit(net, effects) if effects else sound(net)
    going = settle(net, travel(net, direction), circuit=circuit)
    after = settle(net, demand.situation(net, direction), circuit=circuit, before=going.pulled)
    return going, after
