"""The form of an explanation, and sentences that several faults share."""

from dataclasses import dataclass

OUT_OF_USE = "out of use"
LOOK_FIRST = "look first"
WAIT = "wait"

LEVEL_WORDS = {
    OUT_OF_USE: "Do not use the drive before the cause is found and mended. Isolate, lock off.",
    LOOK_FIRST: "Find out why before you take it back. If it comes a second time, isolate.",
    WAIT: "Nothing need be broken. Wait; if it comes back often, look for the cause.",
}
"""What each level asks for, gravest first."""

CLOSED = "closed: below 2 ohm"
OPEN = "open: above 1 kilohm with all wires on, above 1 megohm with one taken off"


@dataclass(frozen=True, slots=True)
class Measure:
    """What to measure or look at: `where` a meter or an eye goes, `expect` when it is sound.

    Words in braces are numbers of the installation, see `expected.values_of`.
    """

    where: str
    expect: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """What one fault asks of a person.

    Attributes:
        level: OUT_OF_USE, LOOK_FIRST or WAIT.
        causes: likely ones, the likeliest first (common practice, no source; the proof's own
            count of defects is shown beside it).
        measures: in the order in which they are quickest.
        stop: when not to go on.
        clear: how to take the fault back once the cause is gone.
    """

    level: str
    causes: tuple[str, ...]
    measures: tuple[Measure, ...]
    stop: tuple[str, ...]
    clear: str


RESET = (
    "Cause gone, control in its middle, deck in sight and clear: press the blue reset button for "
    "2 s to 10 s and let go. It is refused while the cause is still there."
)
RECOVER = (
    "Only after the working limit, its cam and its bracket were looked at. Nobody near. Turn and "
    "hold the recovery key SF3, press reset for 2 s to 10 s, then hold the control AWAY from the "
    "final: it moves in pulses of 0.5 s until the final closes again; then let control and key go. "
    "Where powered recovery is refused, isolate and release the deck by hand, propped."
)
COME_BACK = "It comes back after one reset: leave it off and isolate."
NO_BYPASS = "Never bridge or tie a contact to get on: it is there because somebody can be crushed."
PROP_FIRST = (
    "The deck stands up or half way: prop both leaves before anybody reaches beneath or opens "
    "the winch. Brake, gear and rope are not a prop."
)
ELECTRICIAN = "The motor circuit may be live with everything released: a licensed electrician."

ISOLATED = "isolated, locked off, proved dead"


def closed(contact: str, when: str) -> Measure:
    """Return a resistance that must read closed; `contact` such as "BG1 11-12"."""
    return Measure(f"{contact}, {when}, {ISOLATED}", CLOSED)


def opened(contact: str, when: str) -> Measure:
    """Return a resistance that must read open."""
    return Measure(f"{contact}, {when}, {ISOLATED}", OPEN)
