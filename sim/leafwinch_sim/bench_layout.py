"""Builds the bench's switches and armatures from a netlist: which element moves with what."""

from leafwinch.signals import OUT_BUZZER, OUT_LAMP_RED, OUT_LAMP_WHITE, OUTPUT_NAMES
from leafwinch_sim.armature import Armature
from leafwinch_sim.chatter import noise
from leafwinch_sim.site_schema import Limit
from leafwinch_sim.spread import Spread
from leafwinch_sim.switches import Switch
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.network import Solution

SENSED = ("leaf_angle", "drum_turns", "rope_slack")
SIGNALS = OUT_LAMP_WHITE | OUT_LAMP_RED | OUT_BUZZER

LIMIT_PARTS = {
    "BG1": "top_end",
    "BG2": "bottom_end",
    "BG3": "top_final",
    "BG4": "bottom_final",
    "BG5": "slack_rope",
}

# Contacts of one manual device and the bench's name for the hand that moves it.
HAND_PARTS = {"SF0": "stop", "SF2": "reset", "SF3": "key", "SF4": "link"}


def armatures_of(net: Netlist) -> tuple[Armature, ...]:
    """Return an armature for each contactor coil of the netlist, with its interlock."""
    found: dict[str, Armature] = {}
    for index, coil in enumerate(net.coils):
        mains = mirrors = 0
        for bit, element in enumerate(net.elements):
            if element.part == coil.name and element.acts == "coil":
                if element.closed_at_rest:
                    mirrors |= 1 << bit
                else:
                    mains |= 1 << bit
        if mains or mirrors:
            found[coil.name] = Armature(coil, index, mains, mirrors)
    for name, armature in found.items():
        other = net.parts[name].interlocked_with
        if other:
            armature.partner = found[other]
    return tuple(found.values())


def brake_coil_index(net: Netlist) -> int:
    """Return the index of the coil that no contactor has: the brake's."""
    contactors = {a.coil_index for a in armatures_of(net)}
    return next(index for index in range(len(net.coils)) if index not in contactors)


def _switch(net: Netlist, name: str, part: str, acts: str, spread: Spread, seed: int) -> Switch:
    contacts = tuple(
        (bit, not element.closed_at_rest, noise(seed, bit, 7) % (spread.skew_ms + 1))
        for bit, element in enumerate(net.elements)
        if element.part == part and (not acts or element.acts == acts)
    )
    return Switch(name, contacts, spread.bounce_ms, seed)


def limits_of(net: Netlist, spread: Spread, seed: int) -> dict[str, Switch]:
    """Return the limit switches that this netlist wires, by limit name."""
    parts = {element.part for element in net.elements}
    return {
        name: _switch(net, name, part, "limit", spread, seed)
        for part, name in LIMIT_PARTS.items()
        if part in parts
    }


def hands_of(net: Netlist, spread: Spread, seed: int) -> dict[str, Switch]:
    """Return the manual devices besides the control, by the bench's name for them."""
    parts = {element.part for element in net.elements}
    found = {
        name: _switch(net, name, part, "", spread, seed)
        for part, name in HAND_PARTS.items()
        if part in parts
    }
    found["isolated"] = _switch(net, "isolated", "QB0", "isolate", Spread(bounce_ms=0), seed)
    return found


def control_of(net: Netlist, spread: Spread, seed: int) -> tuple[tuple[Switch, int, int], ...]:
    """Return the control's contacts as (switch, direction, lever threshold)."""
    found = []
    for acts, way in (("raise", 1), ("lower", -1)):
        for closed_at_rest, threshold in ((True, 300), (False, 700)):
            contacts = tuple(
                (bit, not element.closed_at_rest, noise(seed, bit, 7) % (spread.skew_ms + 1))
                for bit, element in enumerate(net.elements)
                if element.part == "SF1"
                and element.acts == acts
                and element.closed_at_rest == closed_at_rest
            )
            if contacts:
                name = f"SF1 {acts}"
                found.append((Switch(name, contacts, spread.bounce_ms, seed), way, threshold))
    return tuple(found)


class Layout:
    """Which bits of the network's mask the bench's loop needs, looked up once.

    Attributes:
        line_bit: driver of the line contactor's coil, behind the charge pump.
        supply_bit: the control supply.
        signal_mask: drivers of lamps and buzzer.
        driver_mask: the driver elements that are on, for each output mask.
        fixed_mask: supplies and protective devices that are closed while nothing tripped.
        holdup_ms: how long the control supply outlasts its feed.
        brake_index: place of the brake's coil among the coils.
        brake_pull_in, brake_drop_out: ratios of its voltage at which it moves.
        feed_min: ratio of its feed's voltage below which it counts as not fed.
    """

    def __init__(self, net: Netlist) -> None:
        driver_bits: list[tuple[int, int]] = []
        self.line_bit = 0
        self.supply_bit = 0
        self.signal_mask = 0  # drivers of lamps and buzzer
        for bit, element in enumerate(net.elements):
            if element.role == "driver":
                output = 1 << OUTPUT_NAMES.index(element.signal)
                if element.signal == "line_pulse":
                    self.line_bit = 1 << bit
                else:
                    driver_bits.append((output, 1 << bit))
                if output & SIGNALS:
                    self.signal_mask |= 1 << bit
            elif element.role == "supply" and net.parts[element.part].kind == "control_supply":
                self.supply_bit = 1 << bit
        # The driver elements that are on for each output mask.
        self.driver_mask = tuple(
            sum(bit for output, bit in driver_bits if outputs & output)
            for outputs in range(1 << len(OUTPUT_NAMES))
        )
        self.fixed_mask = sum(
            1 << bit
            for bit, element in enumerate(net.elements)
            if element.closed_at_rest and element.role in ("protect", "supply")
        )
        sources = [p.source for p in net.parts.values() if p.source and p.source.fed_by]
        self.holdup_ms: float = sources[0].holdup_ms if sources else 0.0
        self.feed_min: float = sources[0].feed_min if sources else 0.0
        self.brake_index = brake_coil_index(net)
        self.brake_pull_in: float = net.coils[self.brake_index].pull_in
        self.brake_drop_out: float = net.coils[self.brake_index].drop_out


class LimitRule:
    """Which quantity a limit senses, its sense, operating point and differential.

    One that the site does not use senses nothing; `senses` is -1 then.
    """

    __slots__ = ("at", "differential", "name", "pushed", "senses", "sign", "switch")

    def __init__(self, name: str, limit: Limit | None, switch: Switch) -> None:
        self.name = name
        self.switch = switch
        self.pushed = False  # by hand
        self.senses = -1
        self.sign = 1.0
        self.at = 0.0
        self.differential = 0.0
        if limit is not None:
            self.senses = SENSED.index(limit.senses)
            self.sign = 1.0 if limit.operates == "above" else -1.0
            self.at = limit.at
            self.differential = limit.reset_differential


def way_of(windings: tuple[float, ...]) -> int:
    """Return the direction in which a motor is fed: 1, -1, 0, or 2 for fed without one.

    A capacitor-run motor with one winding dead has no direction of its own.
    """
    if not any(windings):
        return 0
    product = windings[0] if len(windings) == 1 else windings[0] * windings[1]
    if product == 0.0:
        return 2
    return 1 if product > 0.0 else -1


def answers_differ(one: Solution, other: Solution) -> bool:
    """Tell whether anything but lamps can see which of two answers holds."""
    return (
        one.inputs != other.inputs
        or one.coil_ratio != other.coil_ratio
        or one.windings != other.windings
        or one.supply_mv != other.supply_mv
        or one.trip_mask != other.trip_mask
        or one.feed_ratio != other.feed_ratio
    )
