"""What a recording tells, as events in words."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from leafwinch.fault_texts import FAULT_TEXTS
from leafwinch.state_texts import HELD_REASONS, REFUSALS, WARNINGS
from leafwinch.states import FAULT, HELD, IDLE, LOWERING, RAISING, STATE_NAMES
from leafwinch_host.recording.cycles import (
    fault_words,
    faults_of,
    travels_of,
)
from leafwinch_host.recording.recorded import Gap, Recorded
from leafwinch_host.stretches import runs_of

SAID = {
    "missing": "samples missing",
    "restarted": "the board was restarted",
    "port lost": "the cable was pulled",
    "disk full": "the disk was full",
}


@dataclass(frozen=True, slots=True)
class Happening:
    """One event: ms on the recording's axis, the row it belongs to, its words."""

    at_ms: int
    row: int
    words: str


def happenings(recorded: Recorded) -> list[Happening]:
    """Return all events in order of time."""
    found: list[Happening] = []

    def tell(row: int, words: str) -> None:
        found.append(Happening(int(recorded.at_ms[row]), row, words))

    for gap in recorded.gaps:
        tell(gap.row, gap_words(gap))
    for fault in faults_of(recorded):
        text = FAULT_TEXTS[fault.number - 1][0] if fault.number <= len(FAULT_TEXTS) else ""
        was = " is latched already" if fault.before else ""
        tell(fault.row, f"{fault_words(fault.number)}{was}: {text}")
    for travel in travels_of(recorded):
        tell(travel.first, f"{STATE_NAMES[travel.way]} begins")
        tell(min(travel.end, len(recorded) - 1), f"stopped; {travel.words}")
    _states(recorded, tell)
    _numbers(recorded, "refused", REFUSALS, "refused", tell)
    _numbers(recorded, "warning", WARNINGS, "warning", tell)
    return sorted(found, key=lambda event: event.at_ms)


def gap_words(gap: Gap) -> str:
    """Return a gap in words."""
    how_many = f", {gap.missing} trace lines" if gap.missing >= 0 else ""
    return f"{SAID[gap.why]}: nothing is known of {gap.seconds:.2f} s{how_many}"


def _states(recorded: Recorded, tell: Callable[[int, str], None]) -> None:
    state = recorded["state"].astype(np.int64)
    before = -1
    for first, _, _ in runs_of(state):
        now = int(state[first])
        if now == IDLE:
            tell(first, "idle: ready")
        elif now == HELD and before not in (RAISING, LOWERING):
            tell(first, f"held: {held_words(int(recorded['held'][first]))}")
        elif before == FAULT:
            tell(first, "the fault is cleared")
        before = now


def held_words(reasons: int) -> str:
    """Return the first reason that keeps the drive held."""
    for bit, (_, words) in enumerate(HELD_REASONS):
        if reasons >> bit & 1:
            return words
    return "locked out"


def _numbers(
    recorded: Recorded,
    column: str,
    rows: tuple[tuple[str, str], ...],
    word: str,
    tell: Callable[[int, str], None],
) -> None:
    values = recorded[column]
    for first, _, _ in runs_of(values):
        value = int(values[first])
        if value:
            words = rows[value][1] if value < len(rows) else f"{word} {value}, unknown here"
            tell(first, f"{word}: {words}")
