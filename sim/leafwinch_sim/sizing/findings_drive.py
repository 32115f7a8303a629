"""Findings about motor, supply, trip and what the settings can't do."""

import math
from collections.abc import Iterator

from leafwinch_sim.sizing.duty_rules import S3_CYCLE_S, duty_share, preferred_share
from leafwinch_sim.sizing.finding import Finding
from leafwinch_sim.sizing.force_part import CLEARLY
from leafwinch_sim.sizing.parts import DutyPart, Parts
from leafwinch_sim.sizing.plate import locked_rotor_band_a
from leafwinch_sim.sizing.proposals import INRUSH_MARGIN, needed_sensor_a
from leafwinch_sim.sizing.rope_rules import SHEAVE_FACTORS
from leafwinch_sim.sizing.supply_part import START_DROP
from leafwinch_sim.sizing.supply_rules import DROP_LIMIT
from leafwinch_sim.sizing.trip_window import least_radius_m, line_pull_at_current

MASS_DIFFERS = 0.05
LETTER_OFF = 0.1  # beside the band of a code letter: supply and measurement (common practice)
DUTY_MIN_CYCLES = 4.0  # in an hour: a deck that may be moved less often is a nuisance


def drive_findings(parts: Parts) -> Iterator[Finding]:
    """Find what is wrong with motor, supply and settings."""
    yield from _window(parts)
    yield from _supply(parts)
    yield from _motor(parts)
    yield from _sensing(parts)
    yield from _forces(parts)
    yield from _data(parts)


def _window(parts: Parts) -> Iterator[Finding]:
    window = parts.window
    if window.open:
        return
    stall_is_low = window.stall_a <= window.strength_a
    if stall_is_low:
        why = (
            f"On a low supply the motor stalls with {window.stall_a:.2f} A already, less than it "
            "takes in healthy work."
        )
        change = (
            "Bring the healthy current down (a deeper kicker, lighter leaves, less friction) or "
            "take a motor whose stall current is higher."
        )
    else:
        pull = window.weakest.line_n
        why = (
            f"{window.weakest.words.capitalize()} has all that it bears, {pull:.0f} N of line "
            "pull, "
            f"at {window.strength_a:.2f} A."
        )
        change = (
            f"Strengthen {window.weakest.words} so that it bears at least "
            f"{_needed_pull(parts):.0f} N of line pull, or bring the healthy current down (a "
            "deeper "
            "kicker, lighter leaves, less friction)."
        )
    yield Finding(
        "trip_window_empty",
        "blocks",
        f"There is no current at which to trip: it must lie above {window.low_a:.2f} A, the "
        "highest "
        f"healthy current, and below {window.high_a:.2f} A.",
        why,
        change,
    )


def _needed_pull(parts: Parts) -> float:
    """Return the line pull that goes with a current a third above the healthy ones."""
    worked = parts.worked
    radius = least_radius_m(worked.geometry)
    return line_pull_at_current(worked.site, 1.35 * parts.window.low_a, radius)


def _supply(parts: Parts) -> Iterator[Finding]:
    supply = parts.supply
    cable = parts.worked.site.supply.cable
    given = supply.given
    if given is not None and supply.capacity_a is not None and given.rating_a > supply.capacity_a:
        yield Finding(
            "cable_too_thin",
            "blocks",
            f"The cable carries {supply.capacity_a:.1f} A, but its breaker {given} lets "
            f"{given.rating_a:g} A through for ever.",
            "An overloaded cable overheats before the breaker trips (IEC 60364-5-52).",
            f"Lay {_area(supply.area_mm2)}, or let a breaker of at most {supply.capacity_a:.0f} A "
            "protect it. A licensed electrician decides.",
        )
    if given is not None and given.may_trip_at_start(supply.start_a):
        low, high = given.magnetic_band_a()
        yield Finding(
            "breaker_trips",
            "blocks",
            f"The breaker {given} may trip at a start: the motor takes {supply.start_a:.1f} A, and "
            f"it trips at once from {low:g} to {high:g} A on.",
            "Whether it does depends on the moment in the mains cycle, so it trips now and then, "
            "with the deck half way.",
            f"Take {supply.breaker or 'another motor'} with {_area(supply.area_mm2)}. A licensed "
            "electrician decides.",
        )
    elif given is not None and given.rating_a < supply.run_a:
        yield Finding(
            "breaker_too_small",
            "amend",
            f"The breaker {given} is smaller than the running current of {supply.run_a:.1f} A.",
            "It trips on a longer travel.",
            f"Take {supply.breaker or 'another one'}.",
        )
    run, start = supply.run_drop, supply.start_drop
    if run is not None and start is not None and (run > DROP_LIMIT or start > START_DROP):
        yield Finding(
            "voltage_drop",
            "amend",
            f"The cable takes {100 * run:.1f} % of the voltage while running and "
            f"{100 * start:.1f} % "
            "at a start.",
            f"{100 * DROP_LIMIT:g} % is the limit while running (IEC 60364-5-52, annex G), "
            f"{100 * START_DROP:g} % at a start is usual; a motor's starting torque falls with the "
            "square of its voltage.",
            f"Lay {_area(supply.area_mm2)}, or shorten the cable.",
        )
    ohm = parts.worked.site.supply.source_resistance
    if cable is not None and supply.cable_ohm is not None and supply.cable_ohm > ohm:
        yield Finding(
            "cable_resistance",
            "amend",
            f"The cable alone has {supply.cable_ohm:.3f} ohm, more than the {ohm:.3f} ohm that the "
            "file gives for supply and cable together.",
            "The start is then weaker than was worked out here.",
            "Set supply.source_resistance to that of the cable and of mains or battery together.",
        )


def _area(area_mm2: float | None) -> str:
    return "a larger cable" if area_mm2 is None else f"{area_mm2:g} mm2 of copper"


def _motor(parts: Parts) -> Iterator[Finding]:
    duty = parts.duty
    if duty.rated is not None and duty.rms_a > duty.rated.value:
        yield Finding(
            "motor_overloaded",
            "amend",
            f"A travel with its start takes {duty.rms_a:.2f} A RMS when the deck is heavy and "
            f"stiff; {duty.rated.words} says {duty.rated.value:g} A.",
            "The motor overheats in repeated travels.",
            "Lighten the deck, deepen the kicker, or take a stronger winch.",
        )
    yield from _circuit(parts)
    if math.isinf(duty.on_s):
        return  # the motor stalls, which is a finding already
    if duty.on_s > duty.in_one_go_s or duty.cycles_per_hour < DUTY_MIN_CYCLES:
        starts = "" if duty.starts is None else f", and {duty.starts.value:g} starts an hour"
        yield Finding(
            "travel_too_long",
            "amend",
            f"Up and down takes {duty.on_s:.0f} s; S3 {duty.duty_percent:g} % allows "
            f"{duty.in_one_go_s:.0f} s in ten minutes{starts}: {duty.cycles_per_hour:.1f} full "
            "cycles an hour.",
            "The firmware then makes the motor wait, half way if need be.",
            _longer_duty(duty),
        )
    elif duty.warmth >= duty.warm:
        yield Finding(
            "motor_warm",
            "amend",
            f"{duty.cycles_per_hour:.0f} full cycles an hour bring the motor's thermal replica to "
            f"{100 * duty.warmth:.0f} % of its trip; from {100 * duty.warm:.0f} % on it refuses a "
            "start.",
            "The duty allows more than the motor's current does.",
            "Move the deck less often, lighten it, or take a stronger winch.",
        )


def _longer_duty(duty: DutyPart) -> str:
    """Return what to change where the duty does not last for up and down often enough."""
    starts = 2.0 * DUTY_MIN_CYCLES
    more = ""
    if duty.starts is not None and duty.starts.value < starts:
        more = f", with at least {starts:g} starts an hour"
    wanted = None
    if duty.on_s <= S3_CYCLE_S:
        in_one_go, hourly = duty_share(duty.on_s), duty.on_s * DUTY_MIN_CYCLES / 3600.0
        wanted = preferred_share(max(in_one_go, hourly))
    if wanted is None:
        return f"Take a faster winch, or one of continuous duty{more}."
    return f"Take a faster winch, or one of S3 {100 * wanted:.0f} %{more}."


def _circuit(parts: Parts) -> Iterator[Finding]:
    """Find a motor in the file that is not the one on the plate."""
    band = locked_rotor_band_a(parts.worked.site)
    if band is None:
        return
    least, most = (1.0 - LETTER_OFF) * band[0], (1.0 + LETTER_OFF) * band[1]
    stall_a = float(parts.worked.stalled.current_a)
    if least <= stall_a <= most:
        return
    yield Finding(
        "motor_differs",
        "amend",
        f"With its rotor locked the motor of the file takes {stall_a:.1f} A; by the code letter of "
        f"its plate it takes {band[0]:.1f} to {band[1]:.1f} A (NEMA MG 1).",
        "Start, stall, trip and overrun follow from the motor of the file.",
        "Measure the current of a travel and of a start, and scale the motor's impedances until "
        "they agree.",
    )


def _sensing(parts: Parts) -> Iterator[Finding]:
    worked = parts.worked
    settings = {row.name: row.value for row in parts.settings}
    range_a = settings["sensor_range_ma"] / 1000.0
    if settings["inrush_trip_ma"] >= settings["sensor_range_ma"] or not math.isfinite(range_a):
        yield Finding(
            "sensor_range",
            "amend",
            f"The current sensor ends at {range_a:g} A, but a start takes "
            f"{parts.supply.start_a:.1f} A and its trip lies {INRUSH_MARGIN:g} times as high.",
            "What lies beyond the sensor's range is not measured.",
            f"Take a sensor of {needed_sensor_a(worked):g} A and set sensor_range_ma to it.",
        )
    missing = [
        way
        for way, name in (("raising", "missing_raise_ma"), ("lowering", "missing_lower_ma"))
        if settings[name] == 0
    ]
    if missing:
        yield Finding(
            "current_not_told",
            "amend",
            f"The healthy current while {' and '.join(missing)} is too small for a sensor of "
            f"{range_a:g} A to tell from none.",
            "A lost sensor or an open winding is then found later, by the travel time.",
            "Take a sensor of a smaller range, if the start still fits into it.",
        )


def _forces(parts: Parts) -> Iterator[Finding]:
    forces = parts.forces
    if forces.closing.dynamic_ok and forces.closing.static_ok and forces.weight.static_ok:
        return
    yield Finding(
        "trip_no_protection",
        "note",
        f"Something in the way of the free end is pressed with up to {forces.closing_n:.0f} N "
        "before "
        "the current trips; something under the folding leaves bears up to "
        f"{forces.weight_n:.0f} N "
        "of their weight.",
        f"{forces.closing.words} {CLEARLY}",
        "Fit the control where the whole deck and the opening are in view, keep it hold-to-run, "
        "and "
        "keep everybody clear.",
    )


def _boards(parts: Parts) -> Iterator[Finding]:
    for row in parts.boards:
        if row.covered:
            continue
        yield Finding(
            "boards_vary",
            "amend",
            f"Built as the file says, leaf {row.leaf} weighs {row.dry_kg:.1f} kg with dry boards, "
            f"but up to {row.heaviest_kg:.1f} kg with wet ones of heavy timber; what is called "
            f"heavy here ends at {row.covered_kg:.1f} kg.",
            "Boards of one timber differ, and wet ones weigh more (USDA report FPL-GTR-113). The "
            "pull follows the mass.",
            "Weigh the leaf when it is wet, and write that as its mass.",
        )


def _data(parts: Parts) -> Iterator[Finding]:
    site = parts.worked.site
    for key, leaf in (("leaf_a", site.deck.leaf_a), ("leaf_b", site.deck.leaf_b)):
        built = leaf.built
        if built is None or abs(built.mass_kg / leaf.mass - 1.0) <= MASS_DIFFERS:
            continue
        yield Finding(
            "mass_differs",
            "note",
            f"deck.{key}.mass says {leaf.mass:.1f} kg, what it is built of weighs "
            f"{built.mass_kg:.1f} kg.",
            "The pull follows the mass.",
            "Weigh the leaf, or take one of the two out of the file.",
        )
    yield from _boards(parts)
    factor, least = site.rope.sheave_factor, min(SHEAVE_FACTORS.values())
    if factor < least:
        yield Finding(
            "sheave_friction",
            "note",
            f"rope.sheave_factor says {factor:g}: that each sheave takes "
            f"{100 * (factor - 1):.1f} % of the pull.",
            f"Handbooks reckon with {SHEAVE_FACTORS['rolling']:g} for rolling and "
            f"{SHEAVE_FACTORS['plain']:g} for plain bearings (Wire Rope Users Manual).",
            "Take the handbook's figure, unless the sheaves' maker states a smaller one.",
        )
    missing = [
        words
        for words, part in (
            ("the winch's plate (nameplate)", site.nameplate),
            ("the sheaves (sheaves)", site.sheaves),
            ("the supply cable and its breaker (supply.cable)", site.supply.cable),
            ("what anchor, hinge and wheels bear (strength)", site.strength.anchor),
        )
        if part is None
    ]
    if missing:
        yield Finding(
            "not_judged",
            "amend" if site.nameplate is None else "note",
            f"Not judged, since the site file does not tell it: {'; '.join(missing)}.",
            "What is not known can't be found wanting.",
            "Add these tables to the site file.",
        )
