"""Sentences of the report that do not come from a run: cautions, assumptions, what is untested."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """A hazard in one or two words, and what to do about it."""

    hazard: str
    advice: str


CAUTIONS = (
    Caution(
        "Crushing",
        "Moving leaves close on hands, feet and heads: at the hinges, at the wheels, at the wall "
        "and between the leaves. Operate only with the whole deck in sight.",
    ),
    Caution(
        "People or goods on the deck",
        "Clear the deck before every travel. A load on it overloads rope and winch and slides or "
        "falls as the leaves rise.",
    ),
    Caution(
        "A second person in the opening",
        "Whoever holds the control can't see below. Look, call, and lock the isolator off while "
        "anyone is down there.",
    ),
    Caution(
        "Open edge",
        "A raised deck leaves a drop. Put a barrier up before raising and keep it up until the "
        "deck lies flat again.",
    ),
    Caution(
        "Reaching under",
        "Prop the folded leaves before reaching beneath or behind them. Brake, gear and rope are "
        "not a prop.",
    ),
    Caution(
        "Rope failure",
        "A parted rope or a slipped hook lets the deck fall and the rope whip. Stand out of line "
        "with the rope, inspect it at the stated intervals, discard it in time.",
    ),
    Caution(
        "Wind",
        "Wind on folded leaves pushes or pulls them. Fold and lower in calm weather only, and "
        "fasten the raised deck.",
    ),
    Caution(
        "Mains",
        "Mains wiring, earthing, protective devices and the isolator belong to a licensed "
        "electrician. Isolate, lock off and prove dead before opening anything.",
    ),
)
WATER_CAUTION = Caution(
    "Drowning",
    "Below is water. Nobody alone at the slip, no boat or person beneath a moving deck, life "
    "jackets and a way out of the water at hand; wet and icy decks are slippery.",
)

LEGAL = (
    "Local codes and rules of work come first, and a licensed electrician decides on the "
    "electrical part. This report certifies nothing: it is a simulation of a design. "
    "Nothing here was ever measured on a physical board, contactor, winch or deck."
)

ASSUMPTIONS = (
    "One defect at a time, present from its moment on; two at once are reported only where a "
    "latent defect is named.",
    "The control springs back to the middle when released, and only one person operates it.",
    "Contactors have mirror contacts (IEC 60947-4-1 annex F), raise and lower contactors are "
    "mechanically interlocked, and limits and emergency stop have direct opening action "
    "(IEC 60947-5-1 annex K).",
    "The 24 V control supply is PELV with 0 V earthed and a fuse in P24, so that an earth fault "
    "in the coil paths opens the fuse.",
    "The line contactor's charge pump passes only a toggling pin and holds 30 to 45 ms.",
    "The board's program and memory are intact or stop altogether; a board that runs on with "
    "wrong arithmetic is not simulated.",
    "Masses, friction, motor and supply are the numbers of the site file; what the real ones are "
    "has to be measured at commissioning.",
)
NOT_TESTED = (
    "Electromagnetic disturbance, lightning and static electricity.",
    "Vibration, frost, heat, ageing of plastics and of capacitors beyond the defects listed.",
    "Strength of leaves, hinges, anchors and walls.",
    "Timing of a physical board; the firmware ran on a PC.",
    "Misuse on purpose, except a control tied down, which is named where it matters.",
)
