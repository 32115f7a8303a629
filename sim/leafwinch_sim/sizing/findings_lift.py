"""Findings about lifting and holding: kicker, winch, start, gear, standing too upright."""

import math
from collections.abc import Iterator

import numpy as np

from leafwinch_sim.sizing.conditions import POOR_FRICTION
from leafwinch_sim.sizing.finding import Finding, Level
from leafwinch_sim.sizing.parts import RESERVE, Parts
from leafwinch_sim.sizing.rope_rules import SELF_SUSTAINING_BELOW, self_sustaining
from leafwinch_sim.sizing.start import highest_deg
from leafwinch_sim.sizing.statics import least_kicker_m, push_off
from leafwinch_sim.spread import SUPPLY

START_RESERVE = 1.5  # of starting torque at the lowest supply
KICKER_SHARE = 0.3  # of leaf A: a longer post is hardly built
LOW_PERCENT = round(100 * (1 - SUPPLY[0]))


def lift_findings(parts: Parts) -> Iterator[Finding]:
    """Find what is wrong with lifting and holding."""
    yield from _holding(parts)
    yield from _line_pull(parts)
    yield from _starting(parts)
    yield from _coming_down(parts)


def _holding(parts: Parts) -> Iterator[Finding]:
    site = parts.worked.site
    gear = site.gear
    if gear.back_efficiency > 0.0:
        yield Finding(
            "load_not_held",
            "blocks",
            f"The gear lets the load turn the motor: {100 * gear.back_efficiency:.0f} % of its "
            "torque comes through, and there is no load brake.",
            "Only the motor's brake holds the deck. With it released, or with an open capacitor or "
            "winding, the deck drives the motor backwards at a current close to normal: raise then "
            "lowers the deck, and no current trip can tell.",
            "Take a winch with a self-locking gear or a load brake (its efficiency backwards 0 or "
            "less), or fit a load brake between gear and drum.",
        )
    elif not self_sustaining(gear.efficiency):
        yield Finding(
            "held_by_brake",
            "note",
            f"The deck hangs on the winch's load brake: with an efficiency of {gear.efficiency:g} "
            "the gear's own friction does not hold it.",
            f"Only a gear below {SELF_SUSTAINING_BELOW:g} holds by friction (Khurmi and Gupta, "
            "Theory of Machines, ch. 10). A load brake wears, and oil or rust makes it slip.",
            "See in the winch's papers that it has one, and keep up the proof test 'hold on the "
            "gear'.",
        )
    if gear.holds_one_direction:
        fitted = "" if site.limits.slack_rope else " and fit a slack-rope switch"
        yield Finding(
            "holds_one_way",
            "amend",
            "The winch holds the load in one winding direction only.",
            "Rope that was slack can be taken up the wrong way round; then raise lowers the deck "
            f"and almost nothing holds it ({site.brake.wrong_way_torque:g} N m).",
            f"Mark the winding direction on the drum{fitted}; let the bottom final sense slack or "
            "turns, look at the drum before each first travel, and have the winding direction "
            "proven at commissioning.",
        )


def _line_pull(parts: Parts) -> Iterator[Finding]:
    site = parts.worked.site
    if math.isinf(parts.rope.peak_n):
        yield _dead_centre(parts)
        return
    if parts.pull.allowed_n is None:
        return
    reserve, hard = parts.pull.reserve, parts.pull.hard_reserve
    if reserve >= RESERVE and hard >= 1.0:
        return
    least = parts.pull.least_kicker_m
    depth = site.deck.kicker_depth
    practical = least is not None and least <= KICKER_SHARE * site.deck.leaf_a.length
    peak = parts.rope.peak_n
    pull = f"{peak:.0f} N"
    level: Level = "blocks" if hard < 1.0 else "amend"
    if practical and least is not None and depth < least:
        yield Finding(
            "kicker_too_short" if hard < 1.0 else "small_reserve",
            level,
            f"The kicker is too short: at {depth * 1000:.0f} mm the flat deck needs a line pull of "
            f"{pull}; the winch has {parts.pull.allowed_n:.0f} N.",
            "A flat deck is a dead centre: the rope has hardly any lever to start it. Friction of "
            "an aged deck and wet boards come on top.",
            f"Lower the kicker's roller to {math.ceil(least * 1000):.0f} mm below the mid hinge, "
            f"{math.ceil((least - depth) * 1000):.0f} mm more; that leaves a reserve of "
            f"{RESERVE:g}.",
        )
        return
    needed = max(RESERVE * peak, parts.rope.worst_n) * parts.pull.layer_share
    plate_n = parts.pull.allowed_n * parts.pull.layer_share
    yield Finding(
        "winch_too_weak" if level == "blocks" else "small_reserve",
        level,
        f"The winch is too weak: the deck needs a line pull of {pull} "
        f"({parts.rope.worst_n:.0f} N when heavy and stiff), the winch has "
        f"{parts.pull.allowed_n:.0f} N on the layer in use.",
        f"The reserve is {reserve:.2f}, {RESERVE:g} is wanted as built and 1 when heavy and stiff. "
        "No kicker of a depth that can be built makes up for it.",
        f"Take a winch of at least {_round_up(needed, 50):.0f} N on its first layer, or make the "
        f"leaves lighter by {100 * (1 - plate_n / needed):.0f} %.",
    )


def _dead_centre(parts: Parts) -> Finding:
    """Return the finding about a flat deck whose rope has no lever at all."""
    least = parts.pull.least_kicker_m
    depth = "" if least is None else f" {math.ceil(least * 1000):.0f} mm"
    return Finding(
        "kicker_too_short",
        "blocks",
        "There is no kicker to speak of: the flat deck needs a line pull without end.",
        "A flat deck is a dead centre: rope and leaves lie in one line, so the rope has no "
        "lever to "
        "start it.",
        f"Hang a kicker's roller{depth} below the mid hinge"
        + (
            "."
            if depth
            else "; how deep follows once the winch's line pull is in the site file (nameplate)."
        ),
    )


def _round_up(value: float, step: float) -> float:
    return math.ceil(min(value, 1e7) / step) * step


def _starting(parts: Parts) -> Iterator[Finding]:
    worked = parts.worked
    reserve = parts.start.reserve
    hard = parts.start.hard_reserve
    if math.isinf(parts.start.need_nm):
        return  # the missing lever is a finding already
    if hard < 1.0 or math.isinf(worked.starting.seconds):
        yield Finding(
            "does_not_start",
            "blocks",
            f"The motor does not start the deck on a supply {LOW_PERCENT} % low: it makes "
            f"{parts.start.torque_nm:.2f} N m, {parts.start.hard_need_nm:.2f} N m are needed when "
            "heavy, stiff and cold.",
            "It then stands still with its starting current until the trip acts.",
            _starting_help(parts),
        )
    elif reserve < START_RESERVE:
        yield Finding(
            "start_reserve",
            "amend",
            f"The starting torque on a supply {LOW_PERCENT} % low is {reserve:.2f} times what the "
            f"worst angle ({parts.start.angle_deg:.0f} deg) needs; {START_RESERVE:g} times are "
            "wanted.",
            "A capacitor-run motor starts weakly. A cold or aged deck may not start, and the trip "
            "will act for no good reason."
            if worked.site.supply.frequency
            else "A tired battery may not start a cold or aged deck.",
            _starting_help(parts),
        )


def _starting_help(parts: Parts) -> str:
    worked = parts.worked
    site = worked.site
    drag = parts.start.need_nm - parts.start.load_nm
    allowed_load = parts.start.torque_nm / START_RESERVE - drag
    if allowed_load <= 0.0:
        return "Take a stronger motor, or one with a starting capacitor, or a thicker supply cable."
    line = float(np.max(worked.tension.raise_n[worked.up_range()]))
    line *= allowed_load / max(parts.start.load_nm, 1e-9)
    depth = least_kicker_m(site, line)
    help_ = f"Bring the greatest line pull down to {line:.0f} N"
    if depth is not None and depth <= KICKER_SHARE * site.deck.leaf_a.length:
        help_ += f", which a kicker of {math.ceil(depth * 1000):.0f} mm does"
    share = 100 * (1 - allowed_load / max(parts.start.load_nm, 1e-9))
    return f"{help_}; or make the leaves {share:.0f} % lighter; or take a stronger motor."


def _coming_down(parts: Parts) -> Iterator[Finding]:
    worked = parts.worked
    top = next(place for place in parts.places if place.key == "top_end")
    free = parts.slack_poor_deg
    stands = parts.stands_deg
    spring = push_off(worked.site, min(stands, worked.site.buffer.wall), POOR_FRICTION)
    if spring is None:
        yield from _from_the_final(parts)
        return
    yield Finding(
        "does_not_come_down",
        "blocks",
        f"The deck comes to rest at up to {stands:.1f} deg, too upright: from {free:.1f} deg on it "
        "does not come down by itself.",
        "Near the vertical gravity has no lever left against the friction of aged hinges, wheels "
        "and sheaves. The winch then pays out slack rope, and the deck falls into it later.",
        f"Stop it at {top.proposed:.2f} {top.unit} or lower, or fit a spring that pushes the "
        "free end "
        f"off the wall with at least {spring.force_n:.0f} N where it stands and over "
        f"{spring.travel_mm:.0f} mm.",
    )


def _from_the_final(parts: Parts) -> Iterator[Finding]:
    worked = parts.worked
    at = highest_deg(worked.site)
    spring = push_off(worked.site, at, POOR_FRICTION)
    if spring is None and worked.slack.comes_down:
        return
    cure = f"Set the top final below {parts.slack_poor_deg:.1f} deg"
    if spring is not None:
        cure += (
            f", or fit a spring that pushes the free end off the wall with at least "
            f"{spring.force_n:.0f} N there and over {spring.travel_mm:.0f} mm"
        )
    yield Finding(
        "stays_at_final",
        "amend",
        f"If the working limit fails, the deck stops at the top final at {at:g} deg, from where it "
        "does not come down by itself.",
        f"With aged friction gravity carries it only below {parts.slack_poor_deg:.1f} deg. The way "
        "off the final is downwards, and rope is then paid out slack.",
        cure + ".",
    )
