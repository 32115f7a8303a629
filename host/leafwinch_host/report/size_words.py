"""Sentences of the sizing report: tiles, the trip, what is uncertain, assumed and not judged."""

import math
from collections.abc import Sequence

from leafwinch_host.report.band_plot import INPUT_WORDS
from leafwinch_host.report.prove_words import Tile
from leafwinch_host.report.size_tables import PRACTICE, Row, Table, num
from leafwinch_sim.sizing import (
    end_places,
    findings_drive,
    findings_lift,
    parts,
    plate,
    proposals,
    rope_part,
    stopping,
    supply_part,
    trip_window,
)
from leafwinch_sim.sizing.conditions import NAMES, RANGES
from leafwinch_sim.sizing.force_rules import GAPS_MM
from leafwinch_sim.sizing.parts import Parts
from leafwinch_sim.sizing.rope_rules import SHEAVE_FACTORS
from leafwinch_sim.sizing.uncertainty import Band

NOT_JUDGED = (
    "Strength and stiffness of leaves, hinges, anchors and walls beyond what the site file states.",
    "People, goods, snow or wind on the deck; clear it, and fold and lower in calm weather only.",
    "Bearings, keys, screws and the winch's own gear; wear and corrosion.",
    "Shocks, except the jerk of a start and the coast of a stop, which were simulated.",
    "Gaps at hinges, wheels and wall in which people are caught: measure them. The least that does "
    "not crush, in mm (ISO 13854, from memory): "
    + ", ".join(f"{part} {least:g}" for part, least in GAPS_MM.items())
    + ".",
    "Selectivity, earthing, residual current protection and short circuits of the supply: they "
    "belong to a licensed electrician.",
    "The control itself; the proof report says what single defects do.",
)


def tiles(all_parts: Parts) -> list[Tile]:
    """Return the large numbers of the page's head."""
    worked, pull, window = all_parts.worked, all_parts.pull, all_parts.window
    known = pull.allowed_n is not None
    reserve = num(pull.reserve if known else None, ".2f")
    depth = worked.site.deck.kicker_depth * 1000.0
    least = "not judged"
    if known:
        deep = pull.least_kicker_m
        # Rounded up, since less would not do.
        least = "none is enough" if deep is None else num(math.ceil(deep * 1000.0), "d", "mm")
    longest = max(worked.overruns(worn=True), key=lambda overrun: overrun.point_mm)
    return [
        Tile(
            "greatest line pull",
            num(all_parts.rope.peak_n, ".0f", "N"),
            f"reserve of the winch {reserve}" if known else "reserve not judged",
        ),
        Tile("least kicker depth", least, f"yours is {depth:.0f} mm"),
        Tile("time to raise", num(float(worked.nominal.raising.seconds), ".1f", "s")),
        Tile("time to lower", num(float(worked.nominal.lowering.seconds), ".1f", "s")),
        Tile(
            "current trip",
            num(window.chosen_a, ".2f", "A") if window.open else "no place",
            f"window {num(window.low_a, '.2f')} to {num(window.high_a, '.2f', 'A')}",
        ),
        Tile(
            "longest overrun",
            num(longest.point_mm, ".0f", "mm"),
            f"fastest point, worn brake: {longest.kind.words}",
        ),
        Tile(
            "stands at up to",
            f"{all_parts.stands_deg:.1f}°",
            f"stays up from {all_parts.slack_poor_deg:.1f}° when aged",
        ),
        Tile(
            "full cycles in an hour",
            num(all_parts.duty.cycles_per_hour, ".0f"),
            f"S3 {all_parts.duty.duty_percent:g} %",
        ),
    ]


def window_words(all_parts: Parts) -> list[str]:
    """Return in sentences why the trip lies where it lies."""
    window = all_parts.window
    reading = (
        f"The trip must lie above {window.low_a:.2f} A: the highest healthy current with "
        f"{100 * trip_window.READING_ERROR:g} % of the reading and "
        f"{100 * trip_window.RANGE_ERROR:g} % of the sensor's range on top ({PRACTICE})."
    )
    if window.stall_a <= window.strength_a:
        bound = (
            f"It must lie below {window.high_a:.2f} A: the current of a motor that stands still "
            f"on a low supply, times {trip_window.STALL_SHARE:g} so that a stall always trips "
            f"({PRACTICE})."
        )
    else:
        bound = (
            f"It must lie below {window.high_a:.2f} A: there {window.weakest.words} has all that "
            f"it bears, {window.weakest.line_n:.0f} N of line pull. Of a rope that is "
            f"{100 * trip_window.ROPE_SHARE:g} % of its breaking force with its end fittings "
            f"({PRACTICE})."
        )
    if not window.open:
        return [reading, bound, "There is no current between the two: no trip can be set."]
    chosen = (
        f"{window.chosen_a:.2f} A lies as many times above the one as below the other. A jammed "
        f"winch then pulls the rope with up to {window.line_at_trip_n:.0f} N."
    )
    return [reading, bound, chosen]


def band_words(bands: Sequence[Band]) -> list[str]:
    """Return one sentence for each uncertain result: how wide, and which input matters most."""
    return [_band_sentence(band) for band in bands]


def _band_sentence(band: Band) -> str:
    unit = {"": "times", "deg": "degrees"}.get(band.unit, band.unit)
    name = band.matters_most
    total = sum(band.shares.values())
    start = f"{band.words[0].upper()}{band.words[1:]}"
    first = (
        f"{start}: {num(band.low, '.4g')} to {num(band.high, '.4g', unit)} in 90 % of what may be, "
        f"{num(band.middle, '.4g')} in the middle"
    )
    if total <= 0.0:
        return f"{first}; nothing that was varied changes it."
    share = 100.0 * band.shares[name] / total
    return f"{first}; {INPUT_WORDS[name]} matters most ({share:.0f} %)."


def assumed(all_parts: Parts) -> list[str]:
    """Return what the numbers rest on."""
    site = all_parts.worked.site
    deck, rope = site.deck, site.rope
    spread = "; ".join(
        f"{INPUT_WORDS[name]} {low:g} to {high:g}"
        for name, (low, high) in zip(NAMES, RANGES, strict=True)
    )
    return [
        "The deck moves so slowly that its inertia does not count: forces follow from virtual work "
        "with dry friction at every angle. Only starts, stops and the slack at the top were "
        "simulated in time.",
        f"Friction is that of the site file: hinge pins {deck.hinge_friction:g} at a radius of "
        f"{deck.hinge_pin_radius * 1000:g} mm, wheels {deck.wheel_resistance:g}, sheaves "
        f"{rope.sheave_factor:g} each ({_bearings()}), gear {site.gear.efficiency:g}. Measure the "
        "line pull at the first travel and compare.",
        f"Healthy installations differ, as factors of what the file says ({PRACTICE}): {spread}. "
        "Hardest and easiest conditions are all of these at once; the bands draw them together.",
        f"A worn brake has {100 * stopping.WORN_TORQUE:g} % of its torque and sets "
        f"{stopping.WORN_DELAY:g} times as late ({PRACTICE}).",
        "The rope has two parts between wall and free end; leaves are stiff, hinges have no play, "
        "and the ground is level; the rope's own weight is left out.",
        "Lengths, masses, motor and supply are those of the site file; nothing was measured.",
    ]


def _bearings() -> str:
    listed = " and ".join(f"{factor:g} on {name}" for name, factor in SHEAVE_FACTORS.items())
    return f"handbooks have {listed} bearings"


def practice_table() -> Table:
    """Return the values that no standard gives."""
    listed: tuple[tuple[str, str], ...] = (
        ("reserve of line pull, as built", f"{parts.RESERVE:g} times"),
        ("reserve of starting torque, low supply", f"{findings_lift.START_RESERVE:g} times"),
        ("kicker that can be built, of leaf A", f"{100 * findings_lift.KICKER_SHARE:g} %"),
        ("place of a bracket or cam, uncertain by", f"{end_places.ANGLE_MARGIN_DEG:g}°"),
        ("short of where the deck stays up", f"{end_places.UPRIGHT_MARGIN_DEG:g}°"),
        ("slack that stretch and curl of a rope make", f"{end_places.SLACK_MARGIN_MM:g} mm"),
        ("turns between bottom final and flat deck", f"{end_places.TURN_MARGIN:g} turns"),
        ("error of a current sensor, of the reading", f"{100 * trip_window.READING_ERROR:g} %"),
        ("error of a current sensor, of its range", f"{100 * trip_window.RANGE_ERROR:g} %"),
        ("a jam may pull, of the rope's strength", f"{100 * trip_window.ROPE_SHARE:g} %"),
        ("trip below the least stall current", f"{trip_window.STALL_SHARE:g} times"),
        ("starting trip over the start", f"{proposals.INRUSH_MARGIN:g} times"),
        ("travel budget over the slowest travel", f"{proposals.BUDGET_MARGIN:g} times, 1 s"),
        ("early limit, of the fastest travel", f"{proposals.EARLY_SHARE:g} times"),
        ("duty where the plate tells none and no group", f"S3 {plate.DUTY_DEFAULT:g} %"),
        ("fleet angle of a smooth drum", f"{rope_part.FLEET_LIMIT_DEG:g}°"),
        ("flange above the rope, rope diameters", f"{rope_part.FLANGE_OVER_ROPE:g}"),
        ("brake that is worn, of its torque", f"{100 * stopping.WORN_TORQUE:g} %"),
        ("brake that is worn, of its setting delay", f"{stopping.WORN_DELAY:g} times"),
        ("power factor at a start", f"{supply_part.START_COS:g}"),
        ("voltage drop at a start", f"{100 * supply_part.START_DROP:g} %"),
        ("code letter and motor may differ by", f"{100 * findings_drive.LETTER_OFF:g} %"),
        ("fuse over the running current", f"{supply_part.FUSE_MARGIN:g} times"),
        ("a slow fuse bears at a start", f"{supply_part.FUSE_START:g} times"),
        ("least breaker that is fitted", f"{supply_part.LEAST_BREAKER_A:g} A"),
    )
    rows = [Row((words, value)) for words, value in listed]
    return Table("practice", ("Value", PRACTICE.capitalize()), rows)
