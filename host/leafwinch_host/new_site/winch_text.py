"""The tables of the site file that tell of the winch, its rope and its supply."""

import math

from leafwinch_host.new_site import checks
from leafwinch_host.new_site.answers import Answers
from leafwinch_host.new_site.motor_guess import Drive, Plate, guess, reference, reference_plate
from leafwinch_host.new_site.questions import told
from leafwinch_host.new_site.rows import quoted, remark, row, short, table, with_unit
from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.rope_rules import (
    DEAD_WRAPS,
    ROPE_FACTORS,
    SHEAVE_FACTORS,
    breaking_force_n,
)

GRADE = 1770.0  # N/mm2, the commonest rope grade; common practice
END_STRENGTH = 0.8  # wire rope clips, common practice
MAINS_OHM = 0.3  # of the mains up to the breaker, common practice
BATTERY_OHM_PER_V = 0.015 / 12.0  # of a battery of middling age, common practice
PLATE_SHORT = 0.85  # the guessed motor is called weak below this part of the plate's pull

_MOTOR_UNITS = {
    "main": "ohm",
    "main_leakage": "ohm",
    "aux": "ohm",
    "aux_leakage": "ohm",
    "rotor": "ohm",
    "rotor_leakage": "ohm",
    "magnetising": "ohm",
    "capacitor": "uF",
    "resistance": "ohm",
    "inductance": "mH",
    "constant": "V*s/rad",
    "inertia": "kg*m**2",
    "drag": "N*m",
}
_PER_UNIT = {"uF": 1e6, "mH": 1e3}
_MOTOR_WORDS = {
    "main": "main winding; an electrician measures it cold, capacitor off",
    "aux": "auxiliary winding, the same",
    "capacitor": "its value is printed on it",
    "resistance": "armature with brushes",
    "constant": "voltage over speed without load",
}


def winch_tables(answers: Answers) -> list[str]:
    """Return the lines of rope, drum, gear, brake, motor, supply, plate and sheaves."""
    kind = answers.one("winch")
    plate = checks.plate_of(answers)
    drive = guess(kind, plate)
    known = reference(kind)
    lines = [*_rope(answers, known), *_drum(answers, known, drive), *_gear(known, drive, answers)]
    lines += _brake(known, drive)
    lines += _motor(kind, plate, drive)
    lines += _supply(answers)
    lines += _nameplate(answers)
    lines += _sheaves(answers)
    return lines + _strength()


def _rope(answers: Answers, known: Site) -> list[str]:
    area = (answers.number("rope_diameter", "m") / known.rope.diameter) ** 2
    rows = [row("diameter", quoted(answers.one("rope_diameter")), told("rope_diameter", answers))]
    weakest = min(ROPE_FACTORS, key=lambda name: ROPE_FACTORS[name])
    if answers.known("rope_construction"):
        construction, how = answers.one("rope_construction"), "K d^2 R, EN 12385-4"
        rows.append(row("construction", quoted(construction), "from the rope's certificate"))
    else:
        construction, how = weakest, "ASSUMED: K d^2 R of the weakest construction listed"
    breaking = breaking_force_n(construction, answers.number("rope_diameter", "m"), GRADE)
    rows += [
        row("grade", with_unit(GRADE, "N/mm**2"), "ASSUMED: on the rope's certificate"),
        row("end_strength", short(END_STRENGTH), "ASSUMED: what the end fittings leave, as clips"),
        row("breaking_force", with_unit(breaking, "N"), f"{how}; the certificate counts"),
        row("stiffness", with_unit(known.rope.stiffness * area, "N"), "ASSUMED by the area"),
        row("damping", with_unit(known.rope.damping * area, "N*s/m"), "ASSUMED by the area"),
        row("lead", quoted(answers.one("lead")), told("lead", answers)),
        row(
            "sheave_factor",
            short(SHEAVE_FACTORS["rolling"]),
            f"ASSUMED: rolling bearings; {short(SHEAVE_FACTORS['plain'])} plain",
        ),
        row("lead_sheaves", answers.one("lead_sheaves"), told("lead_sheaves", answers)),
    ]
    return table("rope", rows, "Two parts between wall and free end.")


def _drum(answers: Answers, known: Site, drive: Drive) -> list[str]:
    radius_mm = 0.5 * answers.number("drum_diameter", "mm")
    rope_mm = answers.number("rope_diameter", "mm")
    a_layer = math.floor(2.0 * answers.number("drum_width", "mm") / rope_mm + 1e-9) / 2.0
    width_of_known = known.drum.turns_per_layer * known.rope.diameter * 1000.0
    solid = (radius_mm / (known.drum.core_radius * 1000.0)) ** 4
    solid *= answers.number("drum_width", "mm") / width_of_known
    rows = [
        row(
            "core_radius", with_unit(radius_mm, "mm"), f"half of: {told('drum_diameter', answers)}"
        ),
        row("turns_per_layer", short(a_layer), f"{told('drum_width', answers)}, by the rope"),
        row("turns_at_flat", quoted(answers.one("turns_at_flat")), told("turns_at_flat", answers)),
        row("dead_wraps", with_unit(DEAD_WRAPS, "turn"), "turns that never leave the drum"),
        row("inertia", with_unit(known.drum.inertia * solid, "kg*m**2"), "ASSUMED: a solid drum"),
        row(
            "drag",
            with_unit(known.drum.drag * drive.drum_torque, "N*m"),
            "ASSUMED in proportion to the drum's torque",
        ),
    ]
    if answers.known("flange_diameter"):
        flange_mm = 0.5 * answers.number("flange_diameter", "mm")
        rows.append(
            row(
                "flange_radius",
                with_unit(flange_mm, "mm"),
                f"half of: {told('flange_diameter', answers)}",
            )
        )
    return table("drum", rows)


def _gear(known: Site, drive: Drive, answers: Answers) -> list[str]:
    speed = answers.one("line_speed")
    how = (
        "motor turns for one drum turn, as told"
        if answers.known("gear_ratio")
        else f"ASSUMED of {speed} on the first layer with a common motor; count turns to know it"
    )
    gear = known.gear
    rows = [
        row("ratio", short(drive.ratio), how),
        row(
            "efficiency", short(gear.efficiency), "ASSUMED as the demo winch; worm gears have less"
        ),
        row(
            "back_efficiency",
            short(gear.back_efficiency),
            "ASSUMED: 0 or less holds the load without the brake",
        ),
        row(
            "holds_one_direction",
            "true" if gear.holds_one_direction else "false",
            "ASSUMED: whether a load brake holds one winding direction only",
        ),
    ]
    return table(
        "gear",
        rows,
        "Whether the gear holds by itself decides on a falling deck. Try it with the deck's load "
        "propped a hand's width above the bearers, nobody near.",
    )


def _brake(known: Site, drive: Drive) -> list[str]:
    brake = known.brake
    scaled = "ASSUMED in proportion to the motor's torque"
    return table(
        "brake",
        [
            row("torque", with_unit(brake.torque * drive.torque, "N*m"), scaled),
            row(
                "release_delay", with_unit(brake.release_delay, "ms"), "ASSUMED; the brake's sheet"
            ),
            row(
                "set_delay",
                with_unit(brake.set_delay, "ms"),
                "ASSUMED: cut on the direct-current side; several times as long if not",
            ),
            row(
                "wrong_way_torque", with_unit(brake.wrong_way_torque * drive.torque, "N*m"), scaled
            ),
        ],
    )


def _motor(kind: str, plate: Plate, drive: Drive) -> list[str]:
    rows = [row("kind", quoted(drive.motor.kind), f"a {kind} winch")]
    for key, value in drive.motor.model_dump(exclude={"kind"}).items():
        unit = _MOTOR_UNITS.get(key)
        if unit is None:
            rows.append(row(key, short(value), "ASSUMED"))
            continue
        more = f": {_MOTOR_WORDS[key]}" if key in _MOTOR_WORDS else ""
        rows.append(row(key, with_unit(value * _PER_UNIT.get(unit, 1.0), unit), f"ASSUMED{more}"))
    known = reference_plate(kind)
    pull = known.pull_n * drive.torque * drive.ratio / (known.ratio or 1.0)
    pull *= known.radius_m / plate.radius_m
    weak = pull < PLATE_SHORT * plate.pull_n
    return table(
        "motor",
        rows,
        "ASSUMED: a motor like that of the demo site, scaled by similarity to the plate's voltage, "
        f"current and line speed. At {plate.current_a:.3g} A it pulls about {short(pull)} N, the "
        f"plate says {short(plate.pull_n)} N.",
        "The plate promises more than this guess gives: check current and line speed."
        if weak
        else "",
        "Measure current and time of a travel, and scale the motor until they agree.",
    )


def _supply(answers: Answers) -> list[str]:
    mains = answers.one("winch") == "mains"
    cable = answers.known("cable_length")
    volts = answers.number("voltage", "V")
    if cable:
        source = MAINS_OHM if mains else BATTERY_OHM_PER_V * volts
        ohms = source + checks.cable_ohm(answers)
        how = f"ASSUMED {short(source)} ohm of {'mains' if mains else 'battery'}, and the cable"
    else:
        known = reference(answers.one("winch")).supply
        ohms = known.source_resistance * (1.0 if mains else volts / known.voltage)
        how = "ASSUMED, with a cable not yet known; an electrician measures it"
    rows = [
        row("voltage", quoted(answers.one("voltage")), told("voltage", answers)),
        row(
            "frequency",
            quoted(answers.one("frequency") if mains else "0 Hz"),
            told("frequency", answers) if mains else "direct current",
        ),
        row("source_resistance", with_unit(ohms, "ohm"), how),
    ]
    lines = table("supply", rows)
    if not cable:
        return [*lines, *remark("No table supply.cable: its length and area are not known yet.")]
    rows = [
        row("length", quoted(answers.one("cable_length")), told("cable_length", answers)),
        row("area", quoted(answers.one("cable_area")), told("cable_area", answers)),
        row("method", quoted("B2"), "ASSUMED: in a conduit on a wall; IEC 60364-5-52 lists others"),
        row("ambient", quoted("30 degC"), "ASSUMED: the warmest place the cable runs through"),
    ]
    if answers.known("breaker"):
        rows.append(row("breaker", quoted(answers.one("breaker")), told("breaker", answers)))
    return lines + table(
        "supply.cable", rows, "A licensed electrician chooses cable and breaker by local rules."
    )


def _nameplate(answers: Answers) -> list[str]:
    rows = [
        row("line_pull", quoted(answers.one("line_pull")), told("line_pull", answers)),
        row("current", quoted(answers.one("current")), told("current", answers)),
    ]
    if answers.known("duty"):
        rows.append(row("duty", quoted(answers.one("duty")), told("duty", answers)))
    return table(
        "nameplate",
        rows,
        ""
        if answers.known("duty")
        else "duty, starts_per_hour, group, power at the shaft and code_letter: add what the plate "
        "says.",
    )


def _sheaves(answers: Answers) -> list[str]:
    if not answers.known("sheave_diameter"):
        return ["", *remark("No table sheaves: the diameter in their groove is not known yet.")]
    return table(
        "sheaves",
        [
            row("tread", quoted(answers.one("sheave_diameter")), told("sheave_diameter", answers)),
            row(
                "lead_between",
                quoted("90 deg"),
                "ASSUMED: between the two parts of the rope at the sheave before the drum",
            ),
            row("drum_distance", quoted(answers.one("lead")), "from that sheave to the drum"),
        ],
    )


def _strength() -> list[str]:
    return [
        "",
        *remark(
            "No table strength: what anchor, hinge, wheels and free end bear is not known. Have "
            "it stated by their makers or reckoned by an engineer, then add a table strength "
            "with these keys in newtons."
        ),
    ]
