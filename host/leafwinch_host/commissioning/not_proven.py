"""What a commissioning does not prove, for its record: always, and where a step was left out."""

from dataclasses import dataclass

from leafwinch_host.commissioning.record import Record


@dataclass(frozen=True, slots=True)
class Gap:
    """One thing that is not proven.

    Attributes:
        what: in words.
        steps: steps that prove it where all of them passed; none: nothing here does.
        instead: what may be done about it.
    """

    what: str
    steps: tuple[str, ...]
    instead: str


GAPS = (
    Gap(
        "That the wiring is as drawn",
        ("continuity",),
        "Measure the sheet that 'leafwinch wire' writes, and have it read by '--check'.",
    ),
    Gap(
        "Protective earth and insulation of the power circuit",
        ("earth",),
        "A licensed electrician measures both before anybody uses the drive.",
    ),
    Gap(
        "The interlock between the direction contactors: it is never asked for while both work",
        ("interlock",),
        "Isolated and locked off, push one in by hand and try the other; see 'prove'.",
    ),
    Gap(
        "That the motor's supply is strong enough: a motor on the mains takes less current on a "
        "weak one, and keeps its time, until it does not start",
        ("supply",),
        "Measure its voltage at rest and, with a memory for the lowest value, at a start.",
    ),
    Gap(
        "Friction of hinges, wheels and sheaves: three times as much changes the current by less "
        "than sound installations differ",
        ("pull",),
        "Compare the rope's pull raising and lowering on a scale, or the first year's 'upkeep'.",
    ),
    Gap(
        "That a program which stands still is restarted with everything off",
        ("hung",),
        "It was proven on the bench and in the program's own tests only.",
    ),
    Gap(
        "Where each limit operates beyond the working limits",
        ("points", "finals_moving"),
        "Move each limit's actuator by hand along its scale, isolated and locked off.",
    ),
    Gap(
        "That the trip at its own level stops a blocked deck: it was tried at a lower level, and "
        "its own level only compared with a worked out current at standstill",
        (),
        "Nothing is to be blocked on purpose. The trip protects the machine, never people.",
    ),
    Gap(
        "Strength of rope, ends, anchors, hinges, frame and wall: nothing but the deck itself was "
        "lifted",
        (),
        "See 'size', and have it looked at by somebody who can reckon it.",
    ),
    Gap(
        "That gear or load brake hold alone if the brake fails, and the brake's reserve",
        (),
        "The proof test 'hold on the gear' of 'leafwinch prove', deck nearly down, nobody near it.",
    ),
    Gap(
        "Loose clamps, contacts that open now and then, wear, rust, cold, wet, a weak supply on "
        "another day",
        (),
        "Inspections, and 'leafwinch upkeep' with the journal.",
    ),
    Gap(
        "Defects that daily use never shows, such as one welded pole of two",
        (),
        "'leafwinch prove' lists each with the proof test that finds it.",
    ),
    Gap(
        "Radio, heat and brown-out of the board, and two defects at once", (), "Not tested at all."
    ),
)


def not_proven(record: Record) -> tuple[tuple[str, str], ...]:
    """Return what a record does not prove and what may be done about it, in words.

    A step that does not concern the installation leaves nothing open.
    """
    return tuple(
        (gap.what, gap.instead)
        for gap in GAPS
        if not gap.steps or not all(map(record.passed, gap.steps))
    )
