"""Writes the commented site file out of a builder's answers, without its settings."""

from leafwinch_host.new_site import checks
from leafwinch_host.new_site.answers import PARTS, Answers
from leafwinch_host.new_site.motor_guess import first_radius_m
from leafwinch_host.new_site.questions import told
from leafwinch_host.new_site.rows import quoted, remark, row, short, table, with_unit
from leafwinch_host.new_site.winch_questions import BOTTOM_SLACK_M
from leafwinch_host.new_site.winch_text import winch_tables
from leafwinch_sim.sizing.rope_rules import DEAD_WRAPS

FINAL_BEFORE_BUFFER_DEG = 2.0
END_BEFORE_FINAL_DEG = 3.0
FINAL_BELOW_FLAT_TURN = 0.4
DAMPING_BY_KG = 7.0  # N*s/m for each kg of deck, as the demo site workshop-pit has it
STIFFNESS_BY_KG = 0.53  # N/mm, the same
RATED_BY_KG = 52.0  # N, the same
_WHOLE = "moving leaves crush hands and feet, and a folded deck falls when a rope fails."
_BENEATH = {
    "pit": "An open pit is a drop. Nobody on the deck or in the pit while it moves; a barrier at "
    "the open edge;",
    "stair": "An open stair is a drop. Nobody on the deck or on the stair while it moves; a "
    "barrier at the open edge;",
    "water": "Beneath is water, and people drown. Nobody on the deck or in a boat under it while "
    "it moves; a barrier at the open edge and a ladder in the water; wet decks are slippery and "
    "ice makes them heavy;",
}


def site_text(answers: Answers) -> str:
    """Return a whole site file but for its settings.

    Args:
        answers: to every question that applies, each as its check keeps it.

    Raises:
        ValueError: gear ratio and line speed fit no motor, in one clause.
    """
    return "\n".join(
        [
            *_head(answers),
            *_deck(answers),
            *_buffer(answers),
            *winch_tables(answers),
            *_loads(),
            *_limits(answers),
            "",
        ]
    )


def _head(answers: Answers) -> list[str]:
    mains = answers.one("winch") == "mains"
    return [
        *remark("A site file of leafwinch: one floor in two leaves and the winch that folds it."),
        "#",
        *remark(
            f"CAUTION: {_WHOLE}",
            _BENEATH[answers.one("over")],
            "a prop under the folded leaves before anyone reaches beneath.",
            "Mains voltage kills: mains work belongs to a licensed electrician."
            if mains
            else "A battery's short circuit burns and sets fires: fuse it at the battery.",
            "Local codes come first. This file certifies nothing.",
        ),
        "#",
        *remark(
            "What is marked ASSUMED was not measured. Until it is, what leafwinch works out of "
            "this file is a guess too. The drawing beside this file shows where to measure.",
        ),
        "",
        *row("name", quoted(answers.one("name")), "small letters, digits and hyphens"),
        *row("summary", quoted(answers.one("summary")), "for the head of reports"),
        *row("over", quoted(answers.one("over")), "pit, stair or water"),
        *row(
            "wiring",
            quoted("reference" if mains else "reference-12v"),
            "the shipped wiring for such a winch",
        ),
        *row("board", quoted("pico"), "ASSUMED: pico or esp32, the board you have"),
    ]


def _deck(answers: Answers) -> list[str]:
    pin_mm = 0.5 * answers.number("pin_diameter", "mm")
    rows = [
        row("width", quoted(answers.one("width")), told("width", answers)),
        row("end_mass", quoted(answers.one("end_mass")), told("end_mass", answers)),
        row(
            "hinge_pin_radius",
            with_unit(pin_mm, "mm"),
            f"half of: {told('pin_diameter', answers)}",
        ),
        row(
            "hinge_friction",
            "0.16",
            "ASSUMED: greased steel on bronze; dry or rusty hinges have more",
        ),
        row(
            "wheel_resistance",
            "0.02",
            "ASSUMED: small hard wheels on concrete; pull the deck's end with a spring balance",
        ),
        row("kicker_depth", quoted(answers.one("kicker_depth")), told("kicker_depth", answers)),
    ]
    lines = table("deck", rows)
    lines += _leaf(answers, "leaf_a", "leaf_length", "Hinged at the wall.")
    lines += _leaf(answers, "leaf_b", "leaf_b_length", "Runs on the wheels.")
    return lines


def _leaf(answers: Answers, leaf: str, length: str, where: str) -> list[str]:
    half_m = 0.5 * answers.number(length, "m")
    own = leaf == "leaf_b" and "leaf_b_mass" in answers
    parts = answers.one("leaf_mass") == PARTS and not own
    rows = [row("length", quoted(answers.one(length)), told(length, answers))]
    if not parts:
        key = "leaf_b_mass" if own else "leaf_mass"
        rows.append(row("mass", quoted(answers.one(key)), _weighed(key, answers)))
    rows.append(
        row(
            "centre",
            with_unit(half_m, "m"),
            "ASSUMED: an even leaf balances at its middle; balance it on a tube to see",
        )
    )
    lines = table(f"deck.{leaf}", rows, where)
    return lines + (_built(answers, leaf) if parts else [])


def _weighed(key: str, answers: Answers) -> str:
    if key == "leaf_b_mass":
        return told(key, answers)
    same = "mass of one leaf, weighed (drawing: P); both leaves are taken as equal"
    return same if "leaf_b_mass" not in answers else "mass of leaf A (drawing: P)"


def _built(answers: Answers, leaf: str) -> list[str]:
    frame = []
    for words in answers.many("frame"):
        tube, _, length = words.rpartition(": ")
        frame.append(f"    {{ tube = {quoted(tube)}, length = {quoted(length)} }},")
    boards = []
    for words in answers.many("boards"):
        timber, thickness, area = words.split(", ")
        kind = "density" if timber[:1].isdecimal() else "species"
        boards.append(
            f"    {{ {kind} = {quoted(timber)}, thickness = {quoted(thickness)}, "
            f"area = {quoted(area)} }},"
        )
    mass = checks.leaf_parts_kg(answers)
    rows = [["frame = [", *frame, "]"], ["boards = [", *boards, "]"]]
    rows.append(row("fittings", quoted(answers.one("fittings")), told("fittings", answers)))
    return table(
        f"deck.{leaf}.built",
        rows,
        f"What the leaf is made of: {mass:.3g} kg together. Tube by EN 10219-2, dry timber by "
        "handbook densities; wet boards weigh more. Weigh it when it is built, and write mass "
        "instead.",
    )


def _deck_kg(answers: Answers) -> float:
    leaf = (
        checks.leaf_parts_kg(answers)
        if answers.one("leaf_mass") == PARTS
        else answers.number("leaf_mass", "kg")
    )
    other = answers.number("leaf_b_mass", "kg") if "leaf_b_mass" in answers else leaf
    return leaf + other + answers.number("end_mass", "kg")


def _buffer(answers: Answers) -> list[str]:
    kg = _deck_kg(answers)
    scaled = "ASSUMED in proportion to the deck's mass"
    rows = [
        row("place", quoted(answers.one("buffer_angle")), told("buffer_angle", answers)),
        row(
            "stiffness",
            with_unit(STIFFNESS_BY_KG * kg, "N/mm"),
            f"{scaled}; the buffer's sheet, or press it on scales",
        ),
        row("damping", with_unit(DAMPING_BY_KG * kg, "N*s/m"), scaled),
        row("rated_force", with_unit(RATED_BY_KG * kg, "N"), f"{scaled}; the buffer's sheet"),
        row("wall", quoted(answers.one("wall_angle")), told("wall_angle", answers)),
    ]
    return table("buffer", rows, "Rubber at the wall, met by the free end.")


def _loads() -> list[str]:
    return table(
        "loads",
        [
            row("people", quoted("80 kg"), "ASSUMED: one person who forgot to step off"),
            row(
                "gust_pressure",
                quoted("140 Pa"),
                "ASSUMED: wind of 15 m/s on the upright leaf; less indoors, more at a coast",
            ),
        ],
        "Not the deck's own; what goes wrong is played with them.",
    )


def slack_allowed_m(answers: Answers) -> float:
    """Return the slack at the bottom in m that leaves two wraps on the drum, 0.25 at most."""
    spare = answers.number("turns_at_flat", "turn") - DEAD_WRAPS
    return min(BOTTOM_SLACK_M, spare * _circumference_m(answers))


def _circumference_m(answers: Answers) -> float:
    radius = first_radius_m(
        0.5 * answers.number("drum_diameter", "m"), answers.number("rope_diameter", "m")
    )
    return 6.2831853 * radius


def _limits(answers: Answers) -> list[str]:
    mains = answers.one("winch") == "mains"
    final = answers.number("buffer_angle", "deg") - FINAL_BEFORE_BUFFER_DEG
    end = final - END_BEFORE_FINAL_DEG
    lines = table(
        "allowed",
        [
            row(
                "bottom_slack",
                with_unit(slack_allowed_m(answers) * 1000.0, "mm"),
                "ASSUMED: leaves two wraps on the drum",
            )
        ],
    )
    lines += [
        "",
        *remark(
            "ASSUMED: all places of the limit switches are proposals. Working limits sit on the "
            "wall hinge, finals on brackets of their own. Set them with the deck propped."
        ),
    ]
    lines += _limit("top_end", "BG1", "leaf_angle", "above", end, 1.0 if mains else 2.0)
    lines += _limit("bottom_end", "BG2", "leaf_angle", "below", 0.25 if mains else 0.4, 1.0)
    lines += _limit("top_final", "BG3", "leaf_angle", "above", final, 1.0)
    lines += [
        "",
        *remark(
            "A flat deck can't show rope that is still paid out, so this one "
            + ("counts drum turns." if mains else "feels slack; there is no other slack switch.")
        ),
    ]
    if mains:
        at = answers.number("turns_at_flat", "turn") - FINAL_BELOW_FLAT_TURN
        lines += _limit("bottom_final", "BG4", "drum_turns", "below", at, 0.2)[1:]
        lines += _limit("slack_rope", "BG5", "rope_slack", "above", 25.0, 10.0)
    else:
        slack_mm = min(
            FINAL_BELOW_FLAT_TURN * _circumference_m(answers), 0.5 * slack_allowed_m(answers)
        )
        slack_mm *= 1000.0
        lines += _limit("bottom_final", "BG4", "rope_slack", "above", slack_mm, 0.5 * slack_mm)[1:]
    return lines


_SENSED = {"leaf_angle": "deg", "drum_turns": "turn", "rope_slack": "mm"}


def _limit(
    key: str, part: str, senses: str, operates: str, at: float, differential: float
) -> list[str]:
    unit = _SENSED[senses]
    return [
        "",
        f"[limits.{key}]",
        f"part = {quoted(part)}",
        f"senses = {quoted(senses)}",
        f"operates = {quoted(operates)}",
        f"at = {quoted(f'{short(at)} {unit}')}",
        f"reset_differential = {quoted(f'{short(differential)} {unit}')}",
    ]
