"""Steps before power: people, barrier, props, measured wiring, isolation."""

import hashlib
from pathlib import Path

from leafwinch_host.commissioning.asking import AskNumber, AskWords, Check
from leafwinch_host.commissioning.results import FAIL, PASS, Measured, Outcome
from leafwinch_host.commissioning.table import Context, Part, Step
from leafwinch_host.commissioning.watching_stops import SupplySeen
from leafwinch_wiring.errors import BadInput

BARRIER_MM = 1100.0  # top of a guard rail, ISO 14122-3 (from memory)
PROP_FACTOR = 1.5  # common practice, no source
EARTH_OHM = 0.3  # common practice, no source; IEC 60204-1 18.2 asks for what the wire's data say
INSULATION_MOHM = 1.0  # IEC 60204-1 18.3 (from memory)
DEAD_V = 1.0  # common practice, no source
SUPPLY_BAND_MV = (20_400, 28_800)  # 24 V -15 % / +20 %, IEC 61131-2 (from memory)
MAX_SHEET_BYTES = 1 << 20


def _prop(context: Context) -> AskNumber:
    deck = context.site.deck
    mass = deck.leaf_a.mass + deck.leaf_b.mass + deck.end_mass
    return AskNumber(
        "load that the props bear",
        "Load that the props bear together, from their marking, such as '250 kg'",
        "kg",
        low=round(PROP_FACTOR * mass),
        source=f"{PROP_FACTOR:g} times the deck; common practice, no source",
    )


def judged_sheet(context: Context, answer: str) -> Outcome:
    """Judge a filled continuity sheet.

    Raises:
        BadInput: it can't be read or is not for this wiring.
    """
    from leafwinch_wiring.sheet_check import diagnose
    from leafwinch_wiring.sheet_file import read_filled

    path = Path(answer)
    try:
        data = path.read_bytes()[: MAX_SHEET_BYTES + 1]
        text = data.decode("utf-8")
    except OSError as error:
        raise BadInput(f"{answer}: can't be read ({error.strerror}).") from None
    except UnicodeDecodeError:
        raise BadInput(f"{answer}: this is no UTF-8 text.") from None
    if len(data) > MAX_SHEET_BYTES:
        raise BadInput(f"{answer}: this is too large for a filled sheet.")
    found = diagnose(context.net, read_filled(text, path.name, context.net))
    wrong, missing = len(found.wrong), len(found.not_measured)
    rows = (
        Measured("filled sheet", path.name),
        Measured("SHA-256 of the sheet", hashlib.sha256(data).hexdigest()),
        Measured("wrong readings", wrong, "", "none", not wrong),
        Measured("rows without a reading", missing, "", "none", not missing),
    )
    if wrong:
        likely = f"; likeliest: {found.likely[0].miswire.words}" if found.likely else ""
        return Outcome(FAIL, f"{wrong} readings of the sheet are wrong{likely}", rows)
    if missing:
        return Outcome(FAIL, f"{missing} rows of the sheet have no reading", rows)
    return Outcome(PASS, "", rows)


def _sheet(context: Context) -> Check:
    return Check(
        "the sheet is compared with the netlist",
        lambda answer: judged_sheet(context, answer),
        "Name of the filled sheet's file",
    )


def _people(_context: Context) -> AskWords:
    return AskWords("at the isolator", "Name of the person who stands at the isolator")


BEFORE = (
    Step(
        "people",
        "Two persons, and everybody else away",
        (
            Part(
                "operator",
                "Only whoever sees the whole deck and the opening holds the control.",
                lambda _context: AskWords("at the control", "Name of the person at the control"),
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
                    "Height of its top rail above the floor, such as '1100 mm'",
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
        "continuity",
        "Continuity sheet measured",
        (
            Part(
                "sheet",
                "With the isolator locked off and proven dead, measure every row of the sheet "
                "that 'leafwinch wire' writes for this site.",
                _sheet,
            ),
        ),
        "Mains kills: isolate, lock off and prove dead. A licensed electrician does this work.",
        "every reading as the netlist says",
    ),
    Step(
        "earth",
        "Protective earth and insulation",
        (
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
                "Take the control electronics off. Measure insulation of the power circuit to "
                "earth with 500 V direct; type the lowest.",
                lambda _context: AskNumber(
                    "insulation, lowest",
                    "Lowest resistance, such as '50 megaohm'",
                    "ohm",
                    low=INSULATION_MOHM * 1e6,
                    source="IEC 60204-1 18.3, from memory",
                ),
            ),
        ),
        "A broken earth makes every metal part a trap. A licensed electrician does this work.",
        "earth 0.3 ohm at most, insulation 1 megaohm at least",
        wanted=lambda context: "" if context.is_mains else "no mains in this drive",
    ),
    Step(
        "isolation",
        "Isolator, locked off and proven dead",
        (
            Part(
                "off_on",
                "The board is fed by the USB cable. Switch the isolator off, wait until it is "
                "seen, and on again. Nobody touches the control.",
                lambda _context: SupplySeen(SUPPLY_BAND_MV),
            ),
            Part(
                "dead",
                "Switch it off, lock it, and measure between all terminals behind it.",
                lambda _context: AskNumber(
                    "highest voltage behind the locked isolator",
                    "Highest voltage, such as '0 V'",
                    "V",
                    low=0.0,
                    high=DEAD_V,
                    source="common practice, no source",
                ),
            ),
        ),
        "What is not locked off is switched on by somebody else.",
        "control supply and all inputs dead when off; 20.4 V to 28.8 V when on",
        needs=("people",),
    ),
)
