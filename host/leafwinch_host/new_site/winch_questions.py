"""The questions about the winch, its rope and its supply."""

import math

from leafwinch_host.new_site import checks
from leafwinch_host.new_site.answers import UNKNOWN, Answers
from leafwinch_host.new_site.checks import both, choice, measure, number, or_unknown
from leafwinch_host.new_site.motor_guess import first_radius_m, likely_current_a
from leafwinch_host.new_site.question import Question, fixed
from leafwinch_sim.sizing.rope_rules import DEAD_WRAPS

BOTTOM_SLACK_M = 0.25  # what the demo sites allow
_OVER = {"pit": "a pit", "stair": "a stair", "water": "water"}


def _mains(answers: Answers) -> bool:
    return answers.one("winch") == "mains"


def _current(answers: Answers) -> str:
    amps = likely_current_a(
        answers.one("winch"),
        answers.number("voltage", "V"),
        answers.number("line_pull", "N"),
        answers.speed("line_speed"),
    )
    return f"{min(500.0, max(0.1, amps)):.2g} A"


def _turns(answers: Answers) -> str:
    radius = first_radius_m(
        0.5 * answers.number("drum_diameter", "m"), answers.number("rope_diameter", "m")
    )
    return f"{math.ceil(DEAD_WRAPS + BOTTOM_SLACK_M / (2.0 * math.pi * radius))} turn"


def _summary(answers: Answers) -> str:
    length = answers.number("leaf_length", "m") + answers.number("leaf_b_length", "m")
    volts = answers.number("voltage", "V")
    return f"{length:.3g} m floor over {_OVER[answers.one('over')]}, {volts:g} V winch"


WINCH = (
    Question(
        "winch",
        "motor.kind",
        "Kind of winch: mains (capacitor) or battery (permanent magnets)",
        "mains",
        "mains: one phase with a run capacitor. battery: 12 or 24 V direct current.",
        choice(("mains", "battery")),
    ),
    Question(
        "voltage",
        "supply.voltage",
        "Voltage on the winch's plate",
        "230 V",
        "Read the plate; never measure mains yourself, a licensed electrician does.",
        measure("V", 5.0, 480.0),
        suggest=lambda answers: "230 V" if _mains(answers) else "12 V",
        drawing="plate",
    ),
    Question(
        "frequency",
        "supply.frequency",
        "Frequency of the mains",
        "50 Hz",
        "50 Hz or 60 Hz, on the plate.",
        measure("Hz", 45.0, 65.0),
        suggest=fixed("50 Hz"),
        asked=_mains,
        drawing="plate",
    ),
    Question(
        "line_pull",
        "nameplate.line_pull",
        "Line pull on the winch's plate, on the first layer of rope",
        "3 kN",
        "The pull of one rope. Where the plate says kilograms, write '300 kgf'. Where it gives a "
        "figure with a pulley block, that is two ropes: take the one without.",
        measure("N", 20.0, 100_000.0),
        drawing="plate",
    ),
    Question(
        "line_speed",
        "gear.ratio",
        "Line speed on the plate, first layer: mains at full pull, battery without load",
        "7 m/min",
        "The speed of one rope at the drum. No figure: mark the rope and time one metre.",
        checks.rate(0.2, 60.0),
        drawing="plate",
    ),
    Question(
        "current",
        "nameplate.current",
        "Current on the plate, at the full line pull",
        "3.1 A",
        "Suggested for a winch as good as the demo's; the plate's figure is better. The motor is "
        "guessed from it, so an electrician measures it before the settings count.",
        both(measure("A", 0.1, 500.0), checks.current),
        suggest=_current,
        drawing="plate",
    ),
    Question(
        "duty",
        "nameplate.duty",
        f"Duty on the plate (S3 ... %), or '{UNKNOWN}'",
        "25 %",
        "S3 25 % means: of ten minutes the motor may run two and a half.",
        or_unknown(measure("%", 2.0, 100.0)),
        suggest=fixed(UNKNOWN),
        drawing="plate",
    ),
    Question(
        "rope_diameter",
        "rope.diameter",
        "Diameter of the rope",
        "4 mm",
        "With a calliper over two opposite strands, not between them.",
        measure("mm", 1.0, 30.0),
        letter="L",
        drawing="drum",
    ),
    Question(
        "rope_construction",
        "rope.construction",
        f"Construction of the rope, or '{UNKNOWN}'",
        "6x19 IWRC",
        "On the rope's certificate: strands x wires and core (FC fibre, IWRC or WSC steel). "
        f"'{UNKNOWN}' takes the weakest that is listed.",
        or_unknown(checks.construction),
        suggest=fixed(UNKNOWN),
    ),
    Question(
        "drum_diameter",
        "drum.core_radius",
        "Diameter of the bare drum",
        "46 mm",
        "Under the rope. On a full drum: the diameter over the rope less two ropes a layer.",
        measure("mm", 5.0, 1000.0),
        letter="H",
        drawing="drum",
    ),
    Question(
        "drum_width",
        "drum.turns_per_layer",
        "Width of the drum between its flanges",
        "58 mm",
        "Inside, along the drum.",
        both(measure("mm", 4.0, 2000.0), checks.drum_width),
        letter="J",
        drawing="drum",
    ),
    Question(
        "flange_diameter",
        "drum.flange_radius",
        f"Diameter of the drum's flanges, or '{UNKNOWN}'",
        "110 mm",
        "Rope that climbs over a flange falls off; the flange must stand beyond the last layer.",
        both(or_unknown(measure("mm", 10.0, 3000.0)), checks.flange),
        suggest=fixed(UNKNOWN),
        letter="K",
        drawing="drum",
    ),
    Question(
        "gear_ratio",
        "gear.ratio",
        f"Ratio of the gear, motor turns for one drum turn, or '{UNKNOWN}'",
        "30",
        f"'{UNKNOWN}' reckons it from line speed and drum with a common motor.",
        both(or_unknown(number(2.0, 4000.0)), checks.ratio),
        suggest=fixed(UNKNOWN),
    ),
    Question(
        "turns_at_flat",
        "drum.turns_at_flat",
        "Turns of rope on the drum when the deck lies flat and the rope is just taut",
        "4 turn",
        "Two must always stay. Suggested: two, and as many as the slack allowed pays out.",
        both(measure("turn", DEAD_WRAPS + 0.6, 500.0), checks.turns),
        suggest=_turns,
        letter="H",
        drawing="drum",
    ),
    Question(
        "lead",
        "rope.lead",
        "Rope from the drum to the sheave at the wall hinge",
        "1.5 m",
        "Along the rope. A short lead makes the rope climb sideways on the drum.",
        measure("m", 0.1, 100.0),
        suggest=fixed("1.5 m"),
        letter="G",
        drawing="side",
    ),
    Question(
        "lead_sheaves",
        "rope.lead_sheaves",
        "Fixed sheaves between drum and deck",
        "1",
        "Every sheave takes some per cent of the pull.",
        number(0, 10, whole=True),
        suggest=fixed("1"),
        letter="G",
        drawing="side",
    ),
    Question(
        "sheave_diameter",
        "sheaves.tread",
        f"Diameter of the smallest sheave at the bottom of its groove, or '{UNKNOWN}'",
        "60 mm",
        "A small sheave breaks the wires of the rope by bending.",
        or_unknown(measure("mm", 6.0, 1000.0)),
        suggest=fixed(UNKNOWN),
        letter="M",
        drawing="side",
    ),
)


def _cable(answers: Answers) -> bool:
    return answers.known("cable_length")


SUPPLY = (
    Question(
        "cable_length",
        "supply.cable.length",
        f"Length of the supply cable, one way, or '{UNKNOWN}'",
        "15 m",
        "From breaker or battery to the winch. A long thin cable lets a motor stall and heat.",
        or_unknown(measure("m", 0.1, 500.0)),
        suggest=fixed(UNKNOWN),
    ),
    Question(
        "cable_area",
        "supply.cable.area",
        "Copper of one of its conductors",
        "1.5 mm**2",
        "Printed on the cable.",
        both(measure("mm**2", 0.5, 150.0), checks.cable),
        asked=_cable,
    ),
    Question(
        "breaker",
        "supply.cable.breaker",
        f"Circuit-breaker before it, or '{UNKNOWN}'",
        "B16",
        "Type and rating, printed on its front. A licensed electrician chooses it.",
        or_unknown(checks.breaker),
        suggest=fixed(UNKNOWN),
        asked=lambda answers: _cable(answers) and _mains(answers),
    ),
    Question(
        "summary",
        "summary",
        "One line that says what it is",
        "2.5 m workshop floor over an inspection pit, 230 V hoist",
        "For the head of reports.",
        checks.summary,
        suggest=_summary,
    ),
)
