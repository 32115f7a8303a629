"""Steps before power: people, barrier, props, isolation, measured wiring, interlock."""

import hashlib
from pathlib import Path

from leafwinch_host.commissioning.asking import AskNumber, AskWords, Check
from leafwinch_host.commissioning.results import FAIL, PASS, Measured, Outcome
from leafwinch_host.commissioning.table import Context, Part, Step
from leafwinch_host.commissioning.watching_supply import SupplyGone
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

BARRIER_MM = 1100.0  # top of a guard rail, ISO 14122-3 (from memory)
PROP_FACTOR = 1.5  # common practice, no source
EARTH_OHM = 0.3  # common practice, no source; IEC 60204-1 18.2 asks for what the wire's data say
INSULATION_MOHM = 1.0  # IEC 60204-1 18.3 (from memory)
DEAD_V = 1.0  # common practice, no source
MAX_SHEET_BYTES = 1 << 20
WRONG_ROWS = 5  # readings that are named
OFF = "Switch the isolator off and lock it. The board lives on its USB cable."
LOCKED = "Mains kills: the isolator stays locked off and proven dead. "
ELECTRICIAN = "A licensed electrician does this work."


def _prop(context: Context) -> AskNumber:
    deck = context.site.deck
    mass = deck.leaf_a.mass + deck.leaf_b.mass + deck.end_mass
    return AskNumber(
        "load that the props bear",
        "Load that the props bear together, from their marking, such as '250 kg'",
        "kg",
        low=round(PROP_FACTOR * mass),
        source=f"{PROP_FACTOR:g} times the deck; common practice, no source",
        tell=True,
    )


def judged_sheet(context: Context, answer: str) -> Outcome:
    """Judge a filled continuity sheet.

    Raises:
        BadInput: it can't be read or is not for this wiring.
    """
    from leafwinch_wiring.point_sheet import worked_words
    from leafwinch_wiring.sheet_check import diagnose
    from leafwinch_wiring.sheet_file import read_filled

    path = Path(answer).expanduser()
    if not answer:
        raise BadInput("a file's name is needed.")
    try:
        data = path.read_bytes()[: MAX_SHEET_BYTES + 1]
        text = data.decode("utf-8")
    except OSError as error:
        raise BadInput(f"{answer}: can't be read ({error.strerror}).") from None
    except UnicodeDecodeError:
        raise BadInput(f"{answer}: this is no UTF-8 text.") from None
    if len(data) > MAX_SHEET_BYTES:
        raise BadInput(f"{answer}: this is too large for a filled sheet.")
    filled = read_filled(text, path.name, context.net)
    found = diagnose(context.net, filled)
    wrong, missing = len(found.wrong), len(found.not_measured)
    rows = (
        Measured("filled sheet", path.name),
        Measured("SHA-256 of the sheet", hashlib.sha256(data).hexdigest()),
        Measured("measurements of the sheet", len(filled.rows) + len(filled.lost)),
        Measured("wrong readings", wrong, "", "none", not wrong),
        Measured("rows without a reading", missing, "", "none", not missing),
        *(
            Measured(
                f"row {bad.row.number}, {bad.row.a} to {bad.row.b}"
                f"{', ' if bad.row.operated else ''}{worked_words(bad.row.operated, bad.row.acts)}",
                bad.measured,
                "",
                bad.expected,
                False,
            )
            for bad in found.wrong[:WRONG_ROWS]
        ),
    )
    if wrong:
        likely = f"; likeliest: {found.likely[0].miswire.words}" if found.likely else ""
        return Outcome(FAIL, f"{wrong} readings of the sheet are wrong{likely}", rows)
    if missing:
        return Outcome(FAIL, f"{missing} rows of the sheet have no reading", rows)
    return Outcome(PASS, "", rows)


def _sheet(context: Context) -> Check:
    return Check(
        "comparing the sheet with the netlist (half a minute where a reading is wrong)",
        lambda answer: judged_sheet(context, answer),
        "Name of the filled sheet's file, such as 'papers/continuity.csv'",
        again=True,
    )


def interlocked(net: Netlist) -> list[str]:
    """Return the contactors that a mechanical interlock keeps from pulling together."""
    return [ref for ref, part in net.parts.items() if part.interlocked_with]


def interlock_contacts(net: Netlist) -> list[str]:
    """Return each interlock contact of those contactors as 'terminal to terminal'."""
    return [
        " to ".join(f"{ref}:{terminal}" for terminal in contact.terminals)
        for ref in interlocked(net)
        for contact in net.parts[ref].contacts
        if contact.name == "interlock"
    ]


def _mechanical(context: Context) -> AskWords:
    return AskWords(
        "mechanical interlock",
        f"{' and '.join(interlocked(context.net))}: type 'blocked' where the other one stays out "
        "both times, else 'both in'",
        ("blocked", "both in"),
        ("blocked",),
        "both direction contactors go in together: the mechanical interlock is missing or broken",
    )


def _electrical(context: Context) -> AskWords | Check:
    contacts = interlock_contacts(context.net)
    if not contacts:
        return Check(
            "no interlock contact is in this wiring",
            lambda _answer: Outcome(PASS, "", (Measured("interlock contacts", "none fitted"),)),
        )
    return AskWords(
        "interlock contacts, each with its contactor pushed in",
        f"{'; '.join(contacts)}: type 'open' where every one opens (reads more than 3 ohm), else "
        "'closed'",
        ("open", "closed"),
        ("open",),
        "an interlock contact stays closed with its contactor in: block off the armature, or "
        "bridged",
    )


def _operator(context: Context) -> AskWords:
    return AskWords("at the control", "Name of the person at the control", default=context.who)


def _people(context: Context) -> AskWords:
    return AskWords(
        "at the isolator",
        "Name of the person who stands at the isolator",
        wrong="one person only: commissioning is never done alone",
        others=(context.said.get("at the control", ""),),
    )


def _still_off() -> Part:
    return Part("off", "The isolator is off and locked.", lambda _context: SupplyGone())


BEFORE = (
    Step(
        "people",
        "Two persons, and everybody else away",
        (
            Part(
                "operator",
                "Only whoever sees the whole deck and the opening holds the control.",
                _operator,
            ),
            Part(
                "isolator",
                "A second person stands at the isolator, in sight and in call, hand on it while "
                "anything moves. Never commission alone.",
                _people,
            ),
            Part(
                "clear",
                "Clear deck and opening of people, animals and goods. Nobody stands in line with "
                "the rope. Over water: nobody and no boat beneath, life jackets on, a way out of "
                "the water at hand.",
                lambda _context: AskWords(
                    "persons on, under or behind the deck",
                    "Go round it and count the persons on, under and behind the deck: type the "
                    "number",
                    tuple(str(n) for n in range(10)),
                    ("0",),
                    "somebody is still on, under or behind the deck",
                ),
            ),
        ),
        "Moving leaves crush, a falling deck kills, an open edge is a drop, over water people "
        "drown.",
        "two persons; nobody on, under or behind the deck",
        each_sitting=True,
    ),
    Step(
        "barrier",
        "Barrier at the open edge",
        (
            Part(
                "height",
                "Put the barrier up round the opening, for as long as the deck is raised.",
                lambda _context: AskNumber(
                    "height of the barrier",
                    "Height of its top rail above the floor, such as '1150 mm'",
                    "mm",
                    low=BARRIER_MM,
                    source="ISO 14122-3, from memory; local codes come first",
                ),
            ),
        ),
        "A raised deck leaves a drop.",
        "top rail 1100 mm or higher (ISO 14122-3, from memory)",
    ),
    Step(
        "prop",
        "Props for the raised leaves",
        (
            Part(
                "load",
                "Have props ready. Nobody reaches beneath or behind raised leaves before they "
                "stand under them and the isolator is locked off.",
                _prop,
            ),
        ),
        "Brake, gear and rope are no prop: what is not propped can fall.",
        "props bear 1.5 times the deck together (common practice, no source)",
    ),
    Step(
        "dead",
        "Isolator off, locked and proven dead",
        (
            Part("off", OFF + " Nobody touches the control.", lambda _context: SupplyGone()),
            Part(
                "dead",
                "Measure between all terminals behind the isolator, and to earth; try the meter "
                "on a live point before and after.",
                lambda _context: AskNumber(
                    "highest voltage behind the locked isolator",
                    "Highest voltage, such as '0.2 V'",
                    "V",
                    low=0.0,
                    high=DEAD_V,
                    source="common practice, no source",
                ),
            ),
        ),
        "What is not locked off is switched on by somebody else. " + ELECTRICIAN,
        "control supply and all inputs dead; 1 V at most (common practice, no source)",
    ),
    Step(
        "continuity",
        "Continuity sheet measured",
        (
            _still_off(),
            Part(
                "sheet",
                "Measure every row of the sheet, which 'leafwinch wire --site SITE -o papers' "
                "writes, and fill it in. Unplug the board's USB cable meanwhile, put it back "
                "afterwards.",
                _sheet,
            ),
        ),
        LOCKED + ELECTRICIAN,
        "every reading as the netlist says",
        needs=("dead",),
    ),
    Step(
        "earth",
        "Protective earth and insulation",
        (
            _still_off(),
            Part(
                "earth",
                "Measure from the earth bar to the motor's frame and every metal part that can "
                "be touched; type the highest.",
                lambda _context: AskNumber(
                    "protective conductor, highest",
                    "Highest resistance, such as '0.12 ohm'",
                    "ohm",
                    low=0.0,
                    high=EARTH_OHM,
                    source="common practice, no source",
                ),
            ),
            Part(
                "insulation",
                "Take board and control electronics off their terminals. Measure insulation of "
                "the power circuit to earth with 500 V direct; type the lowest. Put the "
                "electronics back.",
                lambda _context: AskNumber(
                    "insulation, lowest",
                    "Lowest resistance, such as '50 megaohm'",
                    "megaohm",
                    low=INSULATION_MOHM,
                    source="IEC 60204-1 18.3, from memory",
                ),
            ),
        ),
        LOCKED + "A broken earth makes every metal part a trap. " + ELECTRICIAN,
        "earth 0.3 ohm at most, insulation 1 megaohm at least",
        needs=("dead",),
        wanted=lambda context: "" if context.is_mains else "no mains in this drive",
    ),
    Step(
        "interlock",
        "Interlock of the direction contactors",
        (
            _still_off(),
            Part(
                "mechanical",
                "Push one direction contactor in by hand and try to push the other one in; then "
                "the other way round.",
                _mechanical,
            ),
            Part(
                "electrical",
                "Push each one in by hand and measure across its interlock contact.",
                _electrical,
            ),
        ),
        LOCKED + "Both in together would short the supply. " + ELECTRICIAN,
        "never both in; each interlock contact opens",
        needs=("dead",),
        wanted=lambda context: (
            "" if interlocked(context.net) else "no interlocked contactors in this wiring"
        ),
    ),
)
