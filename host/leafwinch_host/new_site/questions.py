"""The one table of questions: what is asked, how it is judged, what is suggested, where to measure.

The order is that of the dialogue. A question that does not apply is left out.
"""

import math

from leafwinch_host.new_site import checks
from leafwinch_host.new_site.answers import PARTS, Answers
from leafwinch_host.new_site.checks import both, choice, measure
from leafwinch_host.new_site.question import Question, fixed
from leafwinch_host.new_site.winch_questions import SUPPLY, WINCH

KICKER_SHARE = 0.17  # of leaf A, as the demo sites have it
BUFFER_BEFORE_WALL_DEG = 4.0


def _parts(answers: Answers) -> bool:
    return answers.one("leaf_mass") == PARTS


def _other_leaf(answers: Answers) -> bool:
    a, b = answers.number("leaf_length", "m"), answers.number("leaf_b_length", "m")
    return a != b or "leaf_b_mass" in answers


def leaf_a_kg(answers: Answers) -> float:
    """Return the mass of leaf A in kg, weighed or reckoned."""
    if _parts(answers):
        return checks.leaf_parts_kg(answers)
    return answers.number("leaf_mass", "kg")


def _leaf_b_mass(answers: Answers) -> str:
    by_length = answers.number("leaf_b_length", "m") / answers.number("leaf_length", "m")
    return f"{leaf_a_kg(answers) * by_length:.4g} kg"


def _kicker(answers: Answers) -> str:
    depth_mm = KICKER_SHARE * answers.number("leaf_length", "m") * 1000.0
    return f"{max(10.0, round(depth_mm, -1)):.0f} mm"


def _wall(answers: Answers) -> str:
    a, b = answers.number("leaf_length", "m"), answers.number("leaf_b_length", "m")
    reach = math.degrees(math.asin(min(1.0, b / a)))
    return f"{min(88.0, math.floor(reach) - 2.0):.0f} deg"


def _buffer(answers: Answers) -> str:
    return f"{answers.number('wall_angle', 'deg') - BUFFER_BEFORE_WALL_DEG:.4g} deg"


DECK = (
    Question(
        "name",
        "name",
        "Name of the site",
        "my-pit",
        "A short name for reports: small letters, digits and hyphens.",
        checks.name,
        # The command suggests the name of the file.
    ),
    Question(
        "over",
        "over",
        "What the floor covers: pit, stair or water",
        "pit",
        "It decides on the cautions: an open pit or stair is a drop, and over water people drown.",
        choice(("pit", "stair", "water")),
    ),
    Question(
        "leaf_length",
        "deck.leaf_a.length",
        "Length of leaf A, at the wall",
        "1.25 m",
        "From the middle of the wall hinge's pin to the middle of the mid hinge's pin, deck flat.",
        measure("m", 0.2, 6.0),
        letter="A",
        drawing="side",
    ),
    Question(
        "leaf_b_length",
        "deck.leaf_b.length",
        "Length of leaf B, on the wheels",
        "1.25 m",
        "From the middle of the mid hinge's pin to the middle of the wheels' axle. Where it is "
        "shorter than leaf A, the deck can't fold up to the wall.",
        measure("m", 0.2, 6.0),
        suggest=lambda answers: answers.one("leaf_length"),
        letter="B",
        drawing="side",
    ),
    Question(
        "width",
        "deck.width",
        "Width of the floor",
        "1.0 m",
        "Across, at a right angle to the picture. Wind pushes on length times width.",
        measure("m", 0.2, 10.0),
        letter="C",
    ),
    Question(
        "leaf_mass",
        "deck.leaf_a.mass",
        f"Mass of one leaf if you weighed it, or '{PARTS}' to reckon it from tubes and boards",
        "55 kg",
        "Weigh it: one end on a bearer and the other on bathroom scales, twice the reading for "
        "an even leaf. Prop it first: a leaf that slips crushes hands and feet.",
        checks.leaf_mass,
        suggest=None,
        letter="P",
        drawing="side",
    ),
    Question(
        "frame",
        "deck.leaf_a.built.frame",
        "Steel tube of one leaf: height x width x wall, then the length of all such tube",
        "40x40x3 mm: 8 m",
        "All tube of one size in one leaf, added up; one answer for each size. 'none' for no "
        "steel tube.",
        checks.tubes,
        asked=_parts,
        many=True,
    ),
    Question(
        "boards",
        "deck.leaf_a.built.boards",
        "Boards of one leaf: timber or density, thickness, area",
        "larch, 27 mm, 1.2 m**2",
        "Area without the gaps. Sheets and other timber: a density such as '560 kg/m**3, 18 mm, "
        "1.2 m**2'. Wet boards weigh more. 'none' for no boards.",
        checks.boards,
        asked=_parts,
        many=True,
    ),
    Question(
        "fittings",
        "deck.leaf_a.built.fittings",
        "Hinges, bolts, paint and the like on one leaf",
        "3 kg",
        "All that is neither tube nor board, without wheels and their axle.",
        both(measure("kg", 0.0, 1000.0), checks.built_mass),
        suggest=fixed("3 kg"),
        asked=_parts,
    ),
    Question(
        "leaf_b_mass",
        "deck.leaf_b.mass",
        "Mass of leaf B",
        "50 kg",
        "Suggested in proportion to its length; weigh it where the leaves differ otherwise.",
        measure("kg", *checks.LEAF_KG),
        suggest=_leaf_b_mass,
        asked=_other_leaf,
        letter="P",
        drawing="side",
    ),
    Question(
        "end_mass",
        "deck.end_mass",
        "Wheels, axle and moving sheave at the free end, together",
        "4 kg",
        "Weigh them before they are fitted.",
        measure("kg", 0.0, 500.0),
        suggest=fixed("4 kg"),
        letter="Q",
        drawing="side",
    ),
    Question(
        "pin_diameter",
        "deck.hinge_pin_radius",
        "Diameter of the hinge pins",
        "12 mm",
        "The thickest of the two hinges; a thicker pin rubs with a longer arm.",
        measure("mm", 2.0, 200.0),
        suggest=fixed("12 mm"),
        letter="N",
        drawing="side",
    ),
    Question(
        "kicker_depth",
        "deck.kicker_depth",
        "Depth of the kicker's roller below the mid hinge",
        "210 mm",
        "With the deck flat the rope has no lever; the roller presses it down and makes one. From "
        "the middle of the mid hinge's pin straight down to where the rope's middle runs. A "
        "deeper roller needs less pull. '0 mm' without a kicker.",
        both(measure("mm", 0.0, 2000.0), checks.kicker),
        suggest=_kicker,
        letter="D",
        drawing="flat",
    ),
    Question(
        "wall_angle",
        "buffer.wall",
        "Angle of leaf A above level when the folded deck would touch the wall",
        "88 deg",
        "Hold an angle gauge on leaf A. Without buffer, so prop the deck and do it by hand.",
        both(measure("deg", 25.0, 89.5), checks.wall),
        suggest=_wall,
        letter="E",
        drawing="side",
    ),
    Question(
        "buffer_angle",
        "buffer.place",
        "Angle of leaf A above level when the free end meets the buffer",
        "84 deg",
        "A rubber buffer at the wall, some degrees before it. The limits are set below it.",
        both(measure("deg", 20.0, 89.4), checks.buffer),
        suggest=_buffer,
        letter="F",
        drawing="side",
    ),
)

QUESTIONS = (*DECK, *WINCH, *SUPPLY)
BY_KEY = {question.key: question for question in QUESTIONS}


def told(key: str, answers: Answers) -> str:
    """Return the comment of an answer: what it is, where the drawing shows it, or ASSUMED."""
    question = BY_KEY[key]
    taken = question.suggest is not None and question.suggest(answers) == answers.one(key)
    letter = f" (drawing: {question.letter})" if question.letter else ""
    words = question.words.split(":")[0].split(", or '")[0]
    return ("ASSUMED as suggested, to be measured: " if taken else "") + words + letter
