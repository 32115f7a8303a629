"""Safety functions of a netlist and how far each may be trusted, as an estimate.

Two answers for each: by the copper path alone, which is all that is claimed, and with the
firmware's second way beside it, as a comparison only. A hobby board is no rated safety
component: no fault of it may be excluded, its maker states no MTTFD, and its program was not
developed to ISO 13849-1 clause 4.6.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from leafwinch_wiring.motion import DIRECTIONS, Demand, contactors, control
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.reliability.formulas import (
    CCF_NEEDED,
    DC_BANDS,
    MTTFD_BANDS,
    dc_average,
    dc_band,
    lower_level,
    mttfd_band,
    performance_level,
    symmetrised,
)
from leafwinch_wiring.reliability.parts_data import COMMON_CAUSES, CommonCause
from leafwinch_wiring.reliability.table_k1 import HIGHEST_LEVEL, pfhd
from leafwinch_wiring.reliability.ways import (
    Block,
    Builder,
    Channel,
    Use,
    board_contacts,
    board_drops,
    copper_path,
)

ESTIMATE_ONLY = (
    "This is an estimate for comparing ways of building; it certifies nothing and replaces no"
    " risk assessment."
)
WHY_NOT_FIRMWARE = (
    "The way through the firmware is not claimed: a hobby board is no rated safety component, none"
    " of its faults may be excluded, its MTTFD of 10 years is assumed, and its program was not"
    " developed to ISO 13849-1 clause 4.6."
)
LEFT_OUT = (
    "Not in these numbers: brake, gear, rope and deck, shorts between cores of one cable, wrong"
    " assembly, and what the maker of a part asks for. The typical values are for alternating"
    " current: a contactor that breaks the direct current of a motor wears faster."
)
NOT_DIRECT = (
    "its contact has no direct opening action and a spring alone must open it, so it is no"
    " well-tried component of ISO 13849-2 table D.3 (from memory)"
)


@dataclass(frozen=True, slots=True)
class WayEstimate:
    """One way, or two together.

    `mttfd_a` in years after capping and symmetrising, `dc_avg` as a share, `pfhd_per_h` in
    1/h or None where a channel has less than 3 years, `level` the letter or `-`. `ccf` are the
    measures that count, `reasons` says why the category is not higher. `replace_after_a` is
    the shortest T10D in years, 0 where no part has one. What is not `claimed` is there to be
    compared only: its category is the structure's, not one that it may be said to have.
    """

    channels: tuple[Channel, ...]
    category: str
    mttfd_a: float
    band: str
    dc_avg: float
    dc_band: str
    ccf: tuple[CommonCause, ...]
    pfhd_per_h: float | None
    level: str
    replace_after_a: float
    reasons: tuple[str, ...]
    claimed: bool

    @property
    def ccf_points(self) -> int:
        """Score against common causes; 65 are needed for category 2, 3 and 4."""
        return sum(item.points for item in self.ccf)


@dataclass(frozen=True, slots=True)
class FunctionEstimate:
    """One safety function. None stands for a way that this netlist does not have.

    Only the copper path is claimed: `claimed_category` and `claimed_level` are `-` without it.
    `also` names contactors that open as well and are not counted.
    """

    key: str
    name: str
    copper: WayEstimate | None
    with_firmware: WayEstimate | None
    also: tuple[str, ...]
    sentence: str

    @property
    def claimed_category(self) -> str:
        """Category of the copper path alone."""
        return self.copper.category if self.copper else "-"

    @property
    def claimed_level(self) -> str:
        """Performance level of the copper path alone."""
        return self.copper.level if self.copper else "-"


def _rated(
    channels: tuple[Channel, ...],
    category: str,
    ccf: tuple[CommonCause, ...],
    why: list[str],
    *,
    claimed: bool = False,
) -> WayEstimate:
    """Put channels of a category into numbers."""
    sizes = [channel.capped_a for channel in channels]
    mttfd_a = symmetrised(sizes[0], sizes[1]) if len(sizes) == 2 else sizes[0]
    blocks = [block for channel in channels for block in channel.blocks]
    dc = dc_average((block.dc, block.mttfd_a) for block in blocks) if len(channels) == 2 else 0.0
    if min(sizes) < MTTFD_BANDS[0][0]:
        found, level = None, "-"
        why.append("a channel has a MTTFD of less than 3 years, which is not acceptable")
    else:
        found = pfhd(category, mttfd_a, dc)
        level = lower_level(performance_level(found), HIGHEST_LEVEL[category])
    lives = [block.t10d_a for block in blocks if block.t10d_a]
    return WayEstimate(
        channels=channels,
        category=category,
        mttfd_a=mttfd_a,
        band=mttfd_band(mttfd_a),
        dc_avg=dc,
        dc_band=dc_band(dc),
        ccf=ccf,
        pfhd_per_h=found,
        level=level,
        replace_after_a=min(lives, default=0.0),
        reasons=tuple(why),
        claimed=claimed,
    )


def copper_way(net: Netlist, channel: Channel) -> WayEstimate:
    """Rate the copper path alone: category 1 where every part of it is well-tried, else B.

    ISO 13849-1 clause 6.2.4 asks for well-tried components and a high MTTFD; a contact that
    must open is well-tried with direct opening action.
    """
    opens = {e.name: e for e in net.elements}
    why = []
    for block in channel.blocks:
        kind = net.parts[block.part].kind
        if kind != "contactor" and not all(opens[name].direct_opening for name in block.contacts):
            why.append(f"{block.part}: {NOT_DIRECT}")
    if not any(net.parts[block.part].kind == "contactor" for block in channel.blocks):
        why.append("the switch breaks the motor current itself, no contactor does")
    if channel.band != "high":
        why.append("its MTTFD is not high")
    return _rated((channel,), "B" if why else "1", (), list(dict.fromkeys(why)), claimed=True)


def common_causes(net: Netlist, one: Channel, other: Channel) -> tuple[CommonCause, ...]:
    """Return the measures of annex F that a netlist shows; what it does not show is not counted.

    Training and immunity to interference are never counted: nobody tested a hobby board.
    The environment is not counted either, since a netlist states no degree of protection.
    """
    cables = [_cables(net, channel) for channel in (one, other)]
    kinds = {part.kind: part for part in net.parts.values()}
    clamped = all(c.suppression != "none" for c in net.coils if c.name in contactors(net))
    shown = {
        "separation": bool(cables[0] and cables[1]) and not cables[0] & cables[1],
        "diversity": bool(net.boards),
        "overvoltage": "fuse" in kinds and "control_supply" in kinds and clamped,
        "well_tried": any(
            e.direct_opening for e in net.elements if e.name in _contact_names(one, other)
        ),
        "analysis": bool(net.boards),
    }
    return tuple(COMMON_CAUSES[name] for name, found in shown.items() if found)


def _contact_names(*channels: Channel) -> set[str]:
    return {name for channel in channels for block in channel.blocks for name in block.contacts}


def _cables(net: Netlist, channel: Channel) -> set[str]:
    """Cables that lead to the contacts of a channel."""
    names = _contact_names(channel)
    ends = {end for e in net.elements if e.name in names for end in (e.a, e.b)}
    nets = {net.net_of[end] for end in ends}
    places = {net.location_of(end) for end in ends}
    return {
        wire.cable
        for wire in net.wires
        if wire.cable and net.net_of[wire.a] in nets and set(net.cables[wire.cable].ends) & places
    }


def both_ways(net: Netlist, one: Channel, other: Channel) -> WayEstimate:
    """Rate the copper path with the firmware's way beside it, for comparison only.

    The structure is that of category 3 where DCavg is low or better; PFHD is that of the
    table as if the score against common causes were reached.
    """
    ccf = common_causes(net, one, other)
    points = sum(item.points for item in ccf)
    blocks = [*one.blocks, *other.blocks]
    dc = dc_average((block.dc, block.mttfd_a) for block in blocks)
    why = [WHY_NOT_FIRMWARE]
    if points < CCF_NEEDED:
        why.append(
            f"against common causes {points} of the {CCF_NEEDED} points are shown that categories"
            " 2, 3 and 4 need"
        )
    category = "3" if dc >= DC_BANDS[1][0] else "B"
    if category == "B":
        why.append("too few failures would be found for category 3")
    return _rated((one, other), category, ccf, why)


def firmware_way(channel: Channel) -> WayEstimate:
    """Rate a function that has the firmware's way only: one channel, nothing more than B."""
    return _rated((channel,), "B", (), [WHY_NOT_FIRMWARE])


def _worst(blocks: list[Block]) -> Block:
    """The part that fails first; of redundant ones only this counts, which is cautious."""
    return min(blocks, key=lambda block: (block.mttfd_a, block.part))


def _sentence(copper: WayEstimate | None, both: WayEstimate | None) -> str:
    """What may be said of a function, in plain words."""
    if copper is None and both is None:
        return f"This way of building does not have this function. {ESTIMATE_ONLY}"
    if copper is None:
        return (
            f"Nothing is claimed: only the firmware does this. {WHY_NOT_FIRMWARE} {ESTIMATE_ONLY}"
        )
    words = f"By copper alone: category {copper.category}, performance level {copper.level}."
    if copper.reasons:
        words += f" Not more, because {'; '.join(copper.reasons)}."
    if both is not None:
        words += f" {WHY_NOT_FIRMWARE}"
    return f"{words} {ESTIMATE_ONLY}"


def _function(
    net: Netlist, key: str, name: str, copper: list[Block], board: list[Block], also: list[str]
) -> FunctionEstimate:
    """Put the blocks of both ways together."""
    one = Channel("copper path", tuple(copper)) if copper else None
    other = Channel("firmware's second way", tuple(board)) if board else None
    alone = copper_way(net, one) if one else None
    both = both_ways(net, one, other) if one and other else None
    if one is None and other is not None:
        both = firmware_way(other)
    return FunctionEstimate(key, name, alone, both, tuple(also), _sentence(alone, both))


def _stop(
    builder: Builder, demand: Demand, direction: str, key: str, name: str
) -> FunctionEstimate:
    """A stop at a demand in one direction."""
    net = builder.net
    path = copper_path(net, demand, direction)
    copper: list[Block] = []
    used = ""
    dropped: tuple[str, ...] = ()
    if path is not None:
        dropped = path.dropped
        copper.append(builder.switch(path.contacts))
        if dropped:
            worst = _worst([builder.contactor(ref) for ref in dropped])
            copper.append(worst)
            used = worst.part
    board: list[Block] = []
    seen = board_contacts(net, demand, direction)
    drops = board_drops(net, direction)
    if seen and drops:
        rest = [ref for ref in drops if ref != used] or list(drops)
        last = _worst([builder.contactor(ref) for ref in rest])
        board = [builder.switch(seen), builder.board(), last]
        used_too = {used, last.part}
    else:
        used_too = {used}
    also = [ref for ref in dropped if ref not in used_too]
    return _function(net, key, name, copper, board, also)


def _limits(builder: Builder) -> Iterator[FunctionEstimate]:
    """End stops and final stops: a limit that stops both directions is a final one."""
    net = builder.net
    words = {"raise": "raising", "lower": "lowering"}
    found: set[str] = set()
    for ref, part in net.parts.items():
        if part.kind != "limit_switch":
            continue
        demand = Demand(ref, "limit")
        stopped = [d for d in DIRECTIONS if copper_path(net, demand, d) is not None]
        if len(stopped) == 1:
            key = f"end_stop_{stopped[0]}"
            name = f"stop at the end, {words[stopped[0]]} ({part.text})"
        elif stopped:
            key, name = f"final_stop_{ref}", f"stop beyond the end ({part.text})"
        else:
            key, name = f"limit_{ref}", f"stop by the firmware only ({part.text})"
        found.add(key.rsplit("_", 1)[0] if key.startswith("final") else key)
        yield _stop(builder, demand, (stopped or ["raise"])[0], key, name)
    for direction in DIRECTIONS:
        if f"end_stop_{direction}" not in found:
            name = f"stop at the end, {words[direction]}"
            yield _function(net, f"end_stop_{direction}", name, [], [], [])
    if "final_stop" not in found:
        yield _function(net, "final_stop", "stop beyond the end", [], [], [])


def _unexpected_start(builder: Builder, held: Demand) -> FunctionEstimate:
    """Nothing moves while the control is not held: both directions in one."""
    net = builder.net
    blocks: dict[tuple[str, ...], Block] = {}
    used: set[str] = set()
    for direction in DIRECTIONS:
        path = copper_path(net, held, direction)
        if path is None:
            continue
        switch = builder.switch(path.contacts)
        blocks[(switch.part, direction)] = switch
        for ref in path.dropped:
            blocks[(ref,)] = builder.contactor(ref)
            used.add(ref)
    board: list[Block] = []
    for direction in DIRECTIONS:
        rest = [ref for ref in board_drops(net, direction) if ref not in used]
        if rest and not board:
            board = [builder.board(), _worst([builder.contactor(ref) for ref in rest])]
    name = "no unexpected start"
    return _function(net, "unexpected_start", name, list(blocks.values()), board, [])


def _firmware_only(builder: Builder, kind: str, key: str, name: str) -> FunctionEstimate:
    """A function for which there is no copper path at all: current trip and slack rope."""
    net = builder.net
    ref = next((ref for ref, part in net.parts.items() if part.kind == kind), "")
    drops = board_drops(net, "raise") if net.boards else ()
    if not ref or not drops:
        return _function(net, key, name, [], [], [])
    if kind == "slack_switch":
        return _stop(builder, Demand(ref, "limit"), "lower", key, name)
    last = _worst([builder.contactor(drop) for drop in drops])
    also = [drop for drop in drops if drop != last.part]
    return _function(net, key, name, [], [builder.sensor(ref), builder.board(), last], also)


def estimate(
    net: Netlist,
    cycles_per_day: float = 4.0,
    days: float = 365.0,
    presses_per_travel: float = 3.0,
) -> list[FunctionEstimate]:
    """Return an estimate of every safety function of a netlist.

    Args:
        net: the netlist, of any way of building.
        cycles_per_day: full cycles in a day of use, above 0 to 10000.
        days: days of use in a year, above 0 to 366.
        presses_per_travel: how often the control is pressed anew in one travel, above 0 to
            1000; three is an assumption, no source.

    Raises:
        BadInput: a use outside these ranges.
    """
    builder = Builder(net, Use(cycles_per_day, days, presses_per_travel))
    found = []
    held = Demand(control(net), "", released=True)
    for direction, word in (("raise", "raising"), ("lower", "lowering")):
        key, name = f"hold_to_run_{direction}", f"hold-to-run stop, {word}"
        found.append(_stop(builder, held, direction, key, name))
    found += _limits(builder)
    found.append(_unexpected_start(builder, held))
    buttons = [ref for ref, part in net.parts.items() if part.kind == "stop_button"]
    for ref in buttons:
        key = "emergency_stop" if len(buttons) == 1 else f"emergency_stop_{ref}"
        found.append(_stop(builder, Demand(ref, "press"), "lower", key, "emergency stop"))
    if not buttons:
        found.append(_function(net, "emergency_stop", "emergency stop", [], [], []))
    found.append(_firmware_only(builder, "current_sensor", "current_trip", "trip by current"))
    found.append(_firmware_only(builder, "slack_switch", "slack_stop", "stop at slack rope"))
    return found
