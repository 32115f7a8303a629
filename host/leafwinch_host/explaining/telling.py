"""An explanation as text for the terminal and as data."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from leafwinch.fault_texts import FAULT_NAMES, FAULT_TEXTS, FAULTS
from leafwinch_host.explaining.before import Before, story
from leafwinch_host.explaining.causes import EXPLANATIONS
from leafwinch_host.explaining.explanation import LEVEL_WORDS
from leafwinch_host.explaining.proof_table import Leads, leads
from leafwinch_host.report.words import CAUTIONS, WATER_CAUTION, Caution
from leafwinch_host.texts import fault_name
from leafwinch_wiring.errors import BadInput

NO_LEADS = (
    "no single defect of the proof's one cycle leads here: think of wear, weather, loads, use and "
    "what was changed last"
)
CERTIFIES = (
    "This is advice out of a simulation, never measured on a physical board. It certifies "
    "nothing; local codes and a licensed electrician come first."
)
TOUCHING = ("Crushing", "Reaching under", "Open edge", "Rope failure", "Mains")
"""The cautions that matter to somebody who looks for a fault."""


@dataclass(frozen=True, slots=True)
class Told:
    """What is said of one fault; `before` is None where no trace is there.

    Attributes:
        number, name: of the fault, the name in words.
        values: numbers that the measures quote, by their key.
        proof: what the proof of this wiring saw, or None.
        water: whether there is water below.
    """

    number: int
    name: str
    values: Mapping[str, str]
    proof: Leads | None
    before: Before | None
    water: bool

    @property
    def serious(self) -> bool:
        """Whether it survives power loss."""
        return bool(FAULTS[self.number - 1][1])


def fault_number(text: str) -> int:
    """Return the number of a fault given by number or name, such as 26, current_trip.

    Raises:
        BadInput: there is no such fault.
    """
    name = text.strip().lower().replace(" ", "_").replace("-", "_")
    if name in FAULT_NAMES:
        return FAULT_NAMES.index(name) + 1
    if name.isdecimal() and 1 <= int(name) <= len(FAULT_NAMES):
        return int(name)
    near = [known for known in FAULT_NAMES if name and name in known]
    hint = f"; near it: {', '.join(near)}" if near else ""
    raise BadInput(
        f"There is no fault '{text}'; allowed are 1 to {len(FAULT_NAMES)} or a name such as "
        f"{FAULT_NAMES[25]}{hint}."
    )


def told(
    number: int,
    values: Mapping[str, str],
    wiring: str,
    before: Before | None = None,
    water: bool = False,
) -> Told:
    """Return what is said of a fault; `wiring` is the netlist whose proof is quoted."""
    name = FAULT_NAMES[number - 1]
    return Told(number, fault_name(number), values, leads(name, wiring), before, water)


def sections(said: Told) -> list[tuple[str, list[str]]]:
    """Return the text as headings, each with its sentences, in the order in which to read it."""
    explanation = EXPLANATIONS[FAULT_NAMES[said.number - 1]]
    measures = [
        f"{m.where.format_map(said.values)}: {m.expect.format_map(said.values)}"
        for m in explanation.measures
    ]
    rows = [
        (f"How grave: {explanation.level}", [LEVEL_WORDS[explanation.level], _kept(said)]),
        ("When not to go on", list(explanation.stop)),
        ("Likely causes, the likeliest first", list(explanation.causes)),
        ("What to measure, and what is sound", measures),
        ("What the proof saw", _proof_words(said.proof)),
        ("How to take it back", [explanation.clear]),
        ("Cautions", [f"{c.hazard}: {c.advice}" for c in cautions(said.water)] + [CERTIFIES]),
    ]
    if said.before is not None:
        rows.insert(2, ("The seconds before it", story(said.before)))
    return rows


def title(said: Told) -> str:
    """Return number, name, lamp code and meaning in one line."""
    _, _, group, item = FAULTS[said.number - 1]
    meaning = FAULT_TEXTS[said.number - 1][0]
    return f"Fault {said.number} {said.name}, red lamp {group} long, {item} short. {meaning}"


def cautions(water: bool) -> list[Caution]:
    """Return the cautions for whoever looks for a fault; over water drowning comes first."""
    chosen = [caution for caution in CAUTIONS if caution.hazard in TOUCHING]
    return [WATER_CAUTION, *chosen] if water else chosen


def as_data(said: Told) -> dict[str, Any]:
    """Return the same as plain data."""
    explanation = EXPLANATIONS[FAULT_NAMES[said.number - 1]]
    return {
        "fault": said.number,
        "name": FAULT_NAMES[said.number - 1],
        "meaning": FAULT_TEXTS[said.number - 1][0],
        "serious": said.serious,
        "level": explanation.level,
        "sections": [{"heading": head, "sentences": lines} for head, lines in sections(said)],
    }


def _kept(said: Told) -> str:
    if said.serious:
        return "It is kept over a power loss: switching off and on does not clear it."
    return "It is not kept over a power loss; switching off and on is still no remedy."


def _proof_words(proof: Leads | None) -> list[str]:
    if proof is None:
        return ["this wiring has no proof in the shipped table"]
    if not proof.rows:
        return [NO_LEADS]
    count = f"{proof.defects} single defects lead" if proof.defects > 1 else "1 single defect leads"
    head = f"{count} here with wiring {proof.wiring}; the most frequent, of {proof.moments} moments"
    return [head, *(f"{row.defect} ({row.moments}): {row.cause}" for row in proof.rows)]
