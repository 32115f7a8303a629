"""Judges each answer at once; a refusal is one clause with what was found and is allowed."""

import math
import re
from collections.abc import Callable, Sequence

from pydantic import ValidationError

from leafwinch_host.new_site.answers import NONE, PARTS, UNKNOWN, Answers, quantity, speed
from leafwinch_host.new_site.motor_guess import Plate, first_radius_m, poles_for
from leafwinch_sim.drum import Drum
from leafwinch_sim.site import sentence_of
from leafwinch_sim.site_ratings import Boards, Tubes, check_construction
from leafwinch_sim.sizing import supply_rules
from leafwinch_sim.sizing.supply_rules import parse_breaker

Check = Callable[[str, Answers], str]
"""Takes tidy words and the answers before, returns the words to keep, or raises ValueError."""

LEAF_KG = (0.2, 2000.0)
CABLE_OHM = 9.0


def measure(unit: str, low: float, high: float, shown: str = "") -> Check:
    """Return a check for a quantity within a range of `unit`; `shown` names the unit."""

    def check(words: str, answers: Answers) -> str:
        _within(words, quantity(words, unit), low, high, shown or unit)
        return words

    return check


def rate(low: float, high: float) -> Check:
    """Return a check for a line speed within a range in m/min."""

    def check(words: str, answers: Answers) -> str:
        _within(words, 60.0 * speed(words), low, high, "m/min")
        return words

    return check


def number(low: float, high: float, whole: bool = False) -> Check:
    """Return a check for a plain number within a range."""

    def check(words: str, answers: Answers) -> str:
        if re.fullmatch(r"[0-9]{1,9}" if whole else r"[0-9]{1,9}(\.[0-9]{1,9})?", words) is None:
            kind = "a whole number" if whole else "a number without a unit"
            raise ValueError(f"found {words!r}, but allowed is {kind}")
        _within(words, float(words), low, high, "")
        return words

    return check


def choice(allowed: Sequence[str]) -> Check:
    """Return a check for one word out of a list."""

    def check(words: str, answers: Answers) -> str:
        if words.lower() not in allowed:
            raise ValueError(f"found {words!r}, but allowed are {', '.join(allowed)}")
        return words.lower()

    return check


def or_unknown(check: Check) -> Check:
    """Return the check that also lets 'unknown' pass."""

    def both(words: str, answers: Answers) -> str:
        return UNKNOWN if words.lower() == UNKNOWN else check(words, answers)

    return both


def both(first: Check, second: Callable[[str, Answers], None]) -> Check:
    """Return a check that also judges the words beside the answers before."""

    def check(words: str, answers: Answers) -> str:
        kept = first(words, answers)
        second(kept, answers)
        return kept

    return check


def _within(words: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        space = " " if unit else ""
        raise ValueError(
            f"found {words!r}, but allowed is {low:g}{space}{unit} to {high:g}{space}{unit}"
        )


def name(words: str, answers: Answers) -> str:
    """Check the site's name, by the rule of the site file."""
    if re.fullmatch(r"[a-z0-9][a-z0-9-]{0,39}", words) is None:
        raise ValueError(
            f"found {words!r}, but allowed are 1 to 40 small letters, digits and hyphens"
        )
    return words


def summary(words: str, answers: Answers) -> str:
    """Check the line that says what it is: anything that can be printed."""
    if not words:
        raise ValueError("found nothing, but allowed is one line of words")
    return words


def leaf_mass(words: str, answers: Answers) -> str:
    """Check a weighed mass, or the word that has it reckoned from parts."""
    if words.lower() == PARTS:
        return PARTS
    if answers.many("frame") or answers.many("boards"):
        raise ValueError(
            f"found {words!r} beside tubes or boards, but allowed is one of both: the mass, or "
            f"what the leaf is made of"
        )
    return measure("kg", *LEAF_KG)(words, answers)


def tubes(words: str, answers: Answers) -> str:
    """Check one size of tube with its length, such as "40x40x3 mm: 8 m"."""
    if words.lower() == NONE:
        return NONE
    tube, colon, length = words.rpartition(":")
    if not colon:
        raise ValueError(f"found {words!r}, but allowed is a tube and its length such as {_TUBE}")
    _model_of_tubes(tube.strip(), length.strip())
    return f"{tube.strip()}: {length.strip()}"


_TUBE = "'40x40x3 mm: 8 m'"
_BOARDS = "'larch, 27 mm, 1.2 m**2' or '560 kg/m**3, 18 mm, 1.2 m**2'"


def tubes_of(words: str) -> Tubes:
    """Return the tubes of words that were checked."""
    tube, _, length = words.rpartition(": ")
    return _model_of_tubes(tube, length)


def _model_of_tubes(tube: str, length: str) -> Tubes:
    quantity(length, "m")
    try:
        return Tubes.model_validate({"tube": tube, "length": length})
    except ValidationError as error:
        raise ValueError(sentence_of(error).rstrip(".")) from None


def boards(words: str, answers: Answers) -> str:
    """Check boards, such as "larch, 27 mm, 1.2 m**2"."""
    if words.lower() == NONE:
        return NONE
    boards_of(words)
    return ", ".join(_board_parts(words))


def boards_of(words: str) -> Boards:
    """Return the boards of some words.

    Raises:
        ValueError: in one clause.
    """
    timber, thickness, area = _board_parts(words)
    quantity(thickness, "m")
    quantity(area, "m**2")
    heavy = timber[:1].isdecimal()
    if heavy:
        quantity(timber, "kg/m**3")
    try:
        return Boards.model_validate(
            {"density" if heavy else "species": timber, "thickness": thickness, "area": area}
        )
    except ValidationError as error:
        raise ValueError(sentence_of(error).rstrip(".")) from None


def _board_parts(words: str) -> tuple[str, str, str]:
    parts = [part.strip() for part in words.split(",")]
    if len(parts) != 3:
        raise ValueError(
            f"found {words!r}, but allowed are timber, thickness and area such as {_BOARDS}"
        )
    timber = parts[0]
    if not timber[:1].isdecimal():
        timber = timber.lower().replace(" ", "-")
    return timber, parts[1], parts[2]


def leaf_parts_kg(answers: Answers) -> float:
    """Return the mass in kg of one leaf of the tubes, boards and fittings told."""
    mass = sum(tubes_of(words).mass_kg for words in answers.many("frame"))
    mass += sum(boards_of(words).mass_kg for words in answers.many("boards"))
    return mass + (answers.number("fittings", "kg") if "fittings" in answers else 0.0)


def built_mass(words: str, answers: Answers) -> None:
    """Judge the whole leaf once its fittings are told."""
    mass = leaf_parts_kg(answers.having("fittings", (words,)))
    low, high = LEAF_KG
    if not low <= mass <= high:
        raise ValueError(
            f"found a leaf of {mass:g} kg with tubes, boards and fittings together, but allowed "
            f"is {low:g} kg to {high:g} kg"
        )


def kicker(words: str, answers: Answers) -> None:
    """Judge the kicker beside leaf A."""
    depth, leaf = quantity(words, "m"), answers.number("leaf_length", "m")
    if depth >= 0.9 * leaf:
        raise ValueError(f"found {words!r}, but allowed is less than 0.9 of leaf A, {leaf:g} m")


def wall(words: str, answers: Answers) -> None:
    """Judge the wall's angle beside the leaves, which may not fold as far."""
    a, b = answers.number("leaf_length", "m"), answers.number("leaf_b_length", "m")
    reach = math.degrees(math.asin(min(1.0, b / a)))
    if quantity(words, "deg") >= reach:
        raise ValueError(
            f"found {words!r}, but these leaves fold to less than {reach:.1f} degrees; allowed "
            "is less than that"
        )


def buffer(words: str, answers: Answers) -> None:
    """Judge the buffer's angle, which must come before the wall's."""
    if quantity(words, "deg") >= answers.number("wall_angle", "deg"):
        raise ValueError(
            f"found {words!r}, but allowed is less than the wall's angle, "
            f"{answers.one('wall_angle')}"
        )


def current(words: str, answers: Answers) -> None:
    """Judge the current: no winch gives off more power than it takes in."""
    out_w = answers.number("line_pull", "N") * answers.speed("line_speed")
    in_w = answers.number("voltage", "V") * quantity(words, "A")
    if out_w > in_w:
        raise ValueError(
            f"found {words!r}, which makes {in_w:.0f} W at most, but line pull and line speed "
            f"take {out_w:.0f} W; allowed is {out_w / answers.number('voltage', 'V'):.2g} A or "
            "more, or one of the other figures is wrong"
        )


def plate_of(answers: Answers) -> Plate:
    """Return what the answers say of the winch, in SI units."""
    known_ratio = answers.known("gear_ratio")
    return Plate(
        voltage_v=answers.number("voltage", "V"),
        frequency_hz=answers.number("frequency", "Hz") if "frequency" in answers else 0.0,
        pull_n=answers.number("line_pull", "N"),
        speed_m_per_s=answers.speed("line_speed"),
        current_a=answers.number("current", "A"),
        radius_m=first_radius_m(
            0.5 * answers.number("drum_diameter", "m"), answers.number("rope_diameter", "m")
        ),
        ratio=float(answers.one("gear_ratio")) if known_ratio else None,
    )


def ratio(words: str, answers: Answers) -> None:
    """Judge the gear ratio beside the line speed of a mains winch."""
    if words != UNKNOWN and answers.one("winch") == "mains":
        poles_for(plate_of(answers.having("gear_ratio", (words,))))


def drum_width(words: str, answers: Answers) -> None:
    """Judge the drum's width beside the rope's diameter."""
    rope = answers.number("rope_diameter", "m")
    if not 2.0 * rope <= quantity(words, "m") <= 200.0 * rope:
        raise ValueError(f"found {words!r}, but allowed is 2 to 200 ropes of {rope * 1000:g} mm")


def flange(words: str, answers: Answers) -> None:
    """Judge the flange, which must stand beyond the first layer of rope."""
    if words == UNKNOWN:
        return
    least = answers.number("drum_diameter", "m") + 2.0 * answers.number("rope_diameter", "m")
    if quantity(words, "m") <= least:
        raise ValueError(
            f"found {words!r}, but allowed is more than drum and one layer of rope, "
            f"{least * 1000:g} mm"
        )


def turns(words: str, answers: Answers) -> None:
    """Judge the turns at flat: two must stay, and all rope needs at most so many layers."""
    rope = answers.number("rope_diameter", "m")
    radius = 0.5 * answers.number("drum_diameter", "m")
    a_layer = answers.number("drum_width", "m") / rope
    travel = answers.number("leaf_length", "m") + answers.number("leaf_b_length", "m")
    drum = Drum(radius, rope, a_layer)
    wound = drum.wound_m(quantity(words, "turn")) + 2.0 * travel
    if wound > drum.layer_lengths[-1]:
        raise ValueError(
            f"found {words!r}, with which the drum must take {wound:.3g} m of rope; allowed are "
            f"{Drum.LAYERS} layers, {drum.layer_lengths[-1]:.3g} m"
        )


def cable_ohm(answers: Answers) -> float:
    """Return the resistance in ohms of the cable told, there and back, IEC 60364-5-52 annex G."""
    return supply_rules.cable_ohm(
        answers.number("cable_length", "m"), answers.number("cable_area", "mm**2")
    )


def cable(words: str, answers: Answers) -> None:
    """Judge the cable, which must not take more than the motor."""
    ohms = cable_ohm(answers.having("cable_area", (words,)))
    if ohms > CABLE_OHM:
        raise ValueError(
            f"found {words!r}, with which the cable has {ohms:.3g} ohm; allowed are {CABLE_OHM:g}"
        )


def construction(words: str, answers: Answers) -> str:
    """Check the name of a rope's construction, capital letters or not."""
    rope = re.sub(r"(?<=\d)M", "M", words.upper().replace("X", "x"))
    check_construction(rope)
    return rope


def breaker(words: str, answers: Answers) -> str:
    """Check a small circuit-breaker, such as B16."""
    parse_breaker(words.upper())
    return words.upper()
