"""Judges a recording by the bench's own monitors of the requirements.

Each sample stands for the time until the next one. What no sample shows (angle, rope, brake,
buffer, a program that stands still) is set to what breaks nothing, and the requirements that
rest on it alone are named as not judged.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from leafwinch.requirement_limits import REQUIREMENTS
from leafwinch.settings import Settings
from leafwinch.settings_schema import settings_from
from leafwinch.signals import (
    BOTTOM_END,
    LINE_RELEASED,
    LOWER_OFF,
    LOWER_RELEASED,
    RAISE_OFF,
    RAISE_RELEASED,
    TOP_END,
)
from leafwinch.states import LOWERING, RAISING
from leafwinch_host.recording.recorded import Recorded
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.observation import Observation
from leafwinch_sim.requirements import Monitors
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.netlist import Netlist

APART_MS = 200  # after a longer silence nothing before it counts any more
FAR = 1e9  # turns left on the drum, which nobody sees
RELEASED = LINE_RELEASED | RAISE_RELEASED | LOWER_RELEASED
_NOT_ASKED = RAISE_OFF | LOWER_OFF

# What a sample can tell of each requirement; the others are not judged.
JUDGED = {
    "R1": "the motor's feed after the release, by the mirror contacts; not the overrun",
    "R3": "both mirror contacts and the pause, to 10 ms",
    "R4": "the control's contacts before each start",
    "R5": "that a latched fault stays until a press; not whether its cause is right",
    "R7": "the energised time, by the mirror contacts",
    "R8": "the current as the board measures it, to 10 ms",
}
NOT_JUDGED = {
    "R2": "no sample shows buffer, rope or drum",
    "R6": "a recording does not say what is defect: prove and proof tests do",
    "R9": "a program that stands still sends nothing",
    "R10": "a recording does not say what was wanted",
    "R11": "no sample shows the deck's angle",
}


@dataclass(frozen=True, slots=True)
class Verdict:
    """One requirement: whether it was judged, and when it first broke, with words.

    at_ms is on the recording's axis and -1 where nothing broke; row is the sample.
    """

    name: str
    text: str
    judged: bool
    words: str
    at_ms: int = -1
    row: int = -1

    @property
    def broken(self) -> bool:
        """Tell whether it broke."""
        return self.at_ms >= 0


@dataclass(frozen=True, slots=True)
class Judgement:
    """All verdicts; how many seconds were judged; into how many parts gaps cut the recording."""

    verdicts: tuple[Verdict, ...]
    judged_s: float
    parts: int

    @property
    def broken(self) -> list[Verdict]:
        """The requirements that broke, the first one first."""
        return sorted((v for v in self.verdicts if v.broken), key=lambda v: v.at_ms)


def judge(recorded: Recorded, site: Site, net: Netlist) -> Judgement:
    """Judge a recording; site and netlist give levels, budgets and what is wired.

    After a gap or a restart it begins anew with the first sample at rest, the control in the
    middle, since what went before decides what is allowed.
    """
    found: dict[str, tuple[int, int, str]] = {}
    judged_ms = 0
    parts = 0
    settings = settings_from(site.settings)
    for first, end in parts_of(recorded):
        begun = begin_of(recorded, first, end, settings)
        if begun >= end:
            continue
        parts += 1
        monitors = Monitors(site, net)
        told = 0
        for row, o in observations(recorded, begun, end, settings):
            monitors.step(o)
            if len(monitors.broken) > told:
                told = len(monitors.broken)
                for name, broken in monitors.broken.items():
                    if name not in found:
                        found[name] = (broken.t_ms, row, broken.text)
        judged_ms += int(recorded.at_ms[end - 1] - recorded.at_ms[begun])
    return Judgement(
        tuple(_verdict(name, text, found) for name, text, _ in REQUIREMENTS),
        judged_ms / 1000,
        parts,
    )


def _verdict(name: str, text: str, found: dict[str, tuple[int, int, str]]) -> Verdict:
    if name in found:
        at_ms, row, words = found[name]
        return Verdict(name, text, True, words, at_ms, row)
    if name in JUDGED:
        return Verdict(name, text, True, JUDGED[name])
    return Verdict(name, text, False, NOT_JUDGED[name])


def parts_of(recorded: Recorded) -> list[tuple[int, int]]:
    """Return (first, end) of the rows between silences and restarts."""
    cuts = [
        gap.row
        for gap in recorded.gaps
        if gap.why == "restarted" or gap.seconds * 1000 > APART_MS or gap.missing < 0
    ]
    edges = [0, *cuts, len(recorded)]
    return list(pairwise(edges))


def begin_of(recorded: Recorded, first: int, end: int, settings: Settings) -> int:
    """Return the first row at rest with the control in the middle, or `end`."""
    for row in range(first, end):
        contacts = int(recorded["contacts"][row])
        at_rest = contacts & RELEASED == RELEASED and contacts & _NOT_ASKED == _NOT_ASKED
        supplied = int(recorded["supply_mv"][row]) >= settings.supply_low_mv
        if at_rest and supplied and int(recorded["state"][row]) not in (RAISING, LOWERING):
            return row
    return end


def observations(
    recorded: Recorded, first: int, end: int, settings: Settings
) -> Iterator[tuple[int, Observation]]:
    """Yield (row, facts) every 5 ms; the facts are one object that is filled anew."""
    o = Observation()
    o.board_on = True
    o.drum_turns = FAR
    names = ("contacts", "state", "fault", "held", "warning", "outputs", "current_ma", "supply_mv")
    columns = [recorded[name][first:end].tolist() for name in names]
    at_ms = recorded.at_ms[first:end].tolist()
    ends_ms = [*at_ms[1:], at_ms[-1] + STEP_MS]
    rows = zip(at_ms, ends_ms, *columns, strict=True)
    for row, (t_ms, until_ms, contacts, *rest) in enumerate(rows, start=first):
        o.state, o.fault, o.held_reasons, o.warning, o.outputs, o.current_ma, o.supply_mv = rest
        # A dying supply takes all contacts at once, a few ms before its own reading shows it.
        if o.supply_mv >= settings.supply_low_mv and contacts:
            _take_contacts(o, contacts)
        elif o.state not in (RAISING, LOWERING):
            # Without the control supply every contact reads open, and no contactor is held.
            _take_contacts(o, o.contacts | RELEASED)
        small = -settings.rest_ma <= o.current_ma <= settings.rest_ma
        # What the sensor shows without current is its own.
        o.current_a = 0.0 if small and not o.powered_way else o.current_ma / 1000.0
        for o.t_ms in range(t_ms, until_ms, STEP_MS):
            yield row, o


def _take_contacts(o: Observation, contacts: int) -> None:
    o.contacts = contacts
    raises, lowers = not contacts & RAISE_OFF, not contacts & LOWER_OFF
    if raises != lowers:
        o.asked = 1 if raises else -1
    elif not raises:
        o.asked = 0  # with both open a wire is, and the hand may be where it was
    o.line_pulled = not contacts & LINE_RELEASED
    o.raise_pulled = not contacts & RAISE_RELEASED
    o.lower_pulled = not contacts & LOWER_RELEASED
    o.both_pulled_any = o.raise_pulled and o.lower_pulled
    way = 0
    if o.line_pulled and (o.raise_pulled or o.lower_pulled):
        way = 2 if o.both_pulled_any else 1 if o.raise_pulled else -1
    o.powered_way = o.powered_any = way
    o.top_actuated = not contacts & TOP_END
    o.bottom_actuated = not contacts & BOTTOM_END
