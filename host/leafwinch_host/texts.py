"""Words for people: states, faults, requirements and their limits, from the tables they live in."""

from leafwinch.fault_texts import FAULT_TEXTS, FAULTS
from leafwinch.requirement_limits import REQUIREMENTS
from leafwinch.states import STATE_NAMES
from leafwinch_sim.site import Site

STATE_WORDS = {
    "held": "at rest and locked out, the load on the brake",
    "idle": "at rest, everything proven, ready",
    "raising": "the deck is being raised",
    "lowering": "the deck is being lowered",
    "fault": "latched, waiting for a deliberate reset",
}


def state_sentence(state: int) -> str:
    """Return the state in words (state: a number out of leafwinch.states)."""
    name = STATE_NAMES[state]
    return f"{name}: {STATE_WORDS[name]}"


def fault_name(fault: int) -> str:
    """Return the name of a fault in words, such as "stop actuated" (fault: 1 and up)."""
    name: str = FAULTS[fault - 1][0]
    return name.replace("_", " ")


def fault_sentences(fault: int) -> str:
    """Return what a fault means, what to look at and its lamp code (fault: 1 and up)."""
    meaning, look = FAULT_TEXTS[fault - 1]
    _, _, group, item = FAULTS[fault - 1]
    return f"{meaning} Look at: {look} Lamp code {group}-{item}."


def requirement_limit(name: str, site: Site) -> str:
    """Return the limit of a requirement with the numbers of the site in it."""
    if name == "R2":
        return (
            f"buffer force below {site.buffer.rated_force / 1000:g} kN, bottom slack at most "
            f"{1000 * site.allowed.bottom_slack:g} mm, {site.drum.dead_wraps:g} dead wraps kept, "
            "never wound backwards"
        )
    for known, _, limit in REQUIREMENTS:
        if known == name:
            return str(limit)
    raise KeyError(name)
