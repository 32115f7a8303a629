"""What is inspected how often: one table, of parts and of the proof tests.

Where a standard leaves the interval to a competent person the numbers are marked as what they are.
Local codes, the makers of the parts and whoever is responsible for the site come first.
"""

from dataclasses import dataclass, replace

from leafwinch_sim.proof_tests import PROOF_TESTS
from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.rope_rules import DISCARD_LENGTHS, discard_wires
from leafwinch_wiring.reliability.parts_data import TYPICAL

PRACTICE = "common practice, no source"
WET = 0.5  # of the time where water is below: rust, corrosion, ice (common practice, no source)
DISCARD = "Discard by ISO 4309"
ENDURANCE = TYPICAL["contactor"].b10d


@dataclass(frozen=True, slots=True)
class Interval:
    """One inspection.

    Attributes:
        key: its name on the command line. title: for people.
        days: at most so many days apart; wet: halved where water is below.
        operations: at most so many operations apart, 0 where only time counts.
        counter: of the board, which counts them.
        life: operations after which the part is replaced, 0 where none is known.
        how: what is done and what must be seen.
        source: of the interval.
    """

    key: str
    title: str
    days: int
    wet: bool
    operations: int
    counter: str
    life: int
    how: str
    source: str


PARTS: tuple[Interval, ...] = (
    Interval(
        "rope",
        "rope, hook and anchor",
        90,
        True,
        1500,
        "raises",
        0,
        "Deck propped, rope slack: count broken wires, look for rust, kinks, flat places and worn "
        f"ends; hook latch and anchor pin whole. {DISCARD}. Gloves; never in line with a "
        "taut rope.",
        f"ISO 4309 has a competent person set it (from memory); the number: {PRACTICE}",
    ),
    Interval(
        "hinges",
        "hinges, wheels, sheaves and kicker",
        180,
        True,
        3000,
        "raises",
        0,
        "Isolated, propped: pins straight and greased, wheels free, bolts of the kicker tight, "
        "sheaves turn by hand.",
        PRACTICE,
    ),
    *(
        Interval(
            f"contactor_{name}",
            f"{name} contactor {part}",
            365,
            False,
            20_000,
            f"{name}_operations",
            int(ENDURANCE),
            "By a licensed electrician, isolated: contacts not burnt or stuck, armature free, "
            "mirror contact follows, suppressor whole. Inching wears many times as fast as full "
            "travels.",
            f"life: B10D of {TYPICAL['contactor'].source}; interval: {PRACTICE}",
        )
        for name, part in (("line", "QA0"), ("raise", "QA1"), ("lower", "QA2"))
    ),
    Interval(
        "brake",
        "brake MB1",
        180,
        True,
        5000,
        "starts",
        0,
        "Isolated, propped: lining dry and thicker than its least thickness, air gap by its sheet. "
        "Then nobody near: stop half way, the deck stays at its mark for ten minutes.",
        PRACTICE,
    ),
    Interval(
        "limits",
        "working and final limits BG1 to BG4, slack switch BG5",
        90,
        True,
        3000,
        "raises",
        int(TYPICAL["position_switch"].b10d),
        "Isolated: levers free, cams and brackets tight and on their marks, no water in them.",
        f"life: B10D of {TYPICAL['position_switch'].source}; interval: {PRACTICE}",
    ),
    Interval(
        "stop",
        "emergency stop SF0 and control SF1",
        30,
        False,
        0,
        "",
        0,
        "Press the stop in a short raise with nobody near: it stops at once and stays off. Let the "
        "control go: it springs back.",
        PRACTICE,
    ),
    Interval(
        "residual",
        "test button of the residual-current device",
        180,
        False,
        0,
        "",
        0,
        "Press its test button: it opens. Where none is fitted (a battery supply) look at the "
        "breaker and its terminals instead.",
        "as makers print on such devices, from memory",
    ),
)
"""Inspections of parts."""

_PROOF_DAYS = {
    "operating points": 180,
    "measurement with the supply off": 365,
    "insulation test": 365,
    "interlock by hand": 365,
    "hold on the gear": 90,
    "measured cycle": 90,
    "function walk": 30,
}
YEARLY = (
    "at least yearly for category 3, performance level d: ISO 14119 and ISO/TR 24119, from memory"
)


def proof_intervals() -> tuple[Interval, ...]:
    """Return the proof tests of `leafwinch_sim.proof_tests`, which find what daily use never shows.

    Raises:
        KeyError: a proof test has no interval here.
    """
    return tuple(
        Interval(
            test.name.replace(" ", "_"),
            f"proof test: {test.name}",
            _PROOF_DAYS[test.name],
            test.name == "insulation test",
            0,
            "",
            0,
            test.how,
            f"{YEARLY}; the number: {PRACTICE}" if _PROOF_DAYS[test.name] < 365 else YEARLY,
        )
        for test in PROOF_TESTS
    )


def intervals_for(site: Site) -> tuple[Interval, ...]:
    """Return every inspection of a site; the slack switch is named even where none is fitted."""
    parts = (
        replace(part, how=_rope_words(part.how, site)) if part.key == "rope" else part
        for part in PARTS
    )
    return (*parts, *proof_intervals())


def _rope_words(how: str, site: Site) -> str:
    """Return what is done about the rope, with the broken wires at which this one is discarded."""
    found = discard_wires(site.rope.construction)
    if found is None:
        return how
    few, many = (
        f"{wires} over {1000.0 * lengths * site.rope.diameter:.0f} mm"
        for wires, lengths in zip(found, DISCARD_LENGTHS, strict=True)
    )
    return how.replace(
        DISCARD, f"{DISCARD}: at {few} or {many} of broken wires that show, or a broken strand"
    )


def days_of(interval: Interval, site: Site) -> int:
    """Return the days between two inspections at a site, fewer where water is below."""
    wet = interval.wet and site.over == "water"
    return round(interval.days * WET) if wet else interval.days
