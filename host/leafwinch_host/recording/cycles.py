"""Finds travels and faults in a recording."""

from dataclasses import dataclass

import numpy as np

from leafwinch.fault_texts import FAULTS
from leafwinch.signals import BOTTOM_END, TOP_END
from leafwinch.state_texts import ENDINGS
from leafwinch.states import ENDED_BOTTOM, ENDED_TOP, LOWERING, RAISING, STATE_NAMES
from leafwinch_host.recording.decode import Whole
from leafwinch_host.recording.recorded import Recorded
from leafwinch_host.stretches import runs_of
from leafwinch_host.texts import fault_name

INRUSH_MS = 400  # a start's current is told apart from the running current, as the bench does
RESOLVED_MS = 200  # the reason of a stop is settled by then
BOTTOM, TOP = "bottom", "top"


@dataclass(frozen=True, slots=True)
class Travel:
    """One travel.

    Attributes:
        way: state, RAISING or LOWERING.
        first, end: rows; `end` is the first sample after it.
        start_ms, end_ms: on the recording's axis; seconds: from the command to its end.
        ended: number of what ended it, 0 where the recording does not tell.
        fault: number of the fault it ended with, or 0.
        peak_a, running_peak_a, median_a: current, its size; the latter two from 0.4 s on.
        full: from one end to the other, without a gap in the samples.
        whole: its begin and its end are both recorded, without a gap.
    """

    way: int
    first: int
    end: int
    start_ms: int
    end_ms: int
    ended: int
    fault: int
    peak_a: float
    running_peak_a: float
    median_a: float
    full: bool
    whole: bool

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return (self.end_ms - self.start_ms) / 1000

    @property
    def words(self) -> str:
        """What the travel was, in words."""
        name = "full " if self.full else ""
        why = fault_words(self.fault) if self.fault else ending_words(self.ended)
        return f"{name}{STATE_NAMES[self.way]} for {self.seconds:.2f} s: {why}"


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault that was latched: its number, row and time, and whether it was there before."""

    number: int
    row: int
    at_ms: int
    before: bool


def travels_of(recorded: Recorded) -> list[Travel]:
    """Return every travel in order; one that a restart of the board cuts is two."""
    key = recorded["state"].astype(np.int64) + 8 * recorded.stretch.astype(np.int64)
    gaps = np.asarray([gap.row for gap in recorded.gaps], dtype=np.int64)
    return [
        _travel(recorded, first, end, gaps)
        for first, end, _ in runs_of(key)
        if int(recorded["state"][first]) in (RAISING, LOWERING)
    ]


def _travel(recorded: Recorded, first: int, end: int, gaps: Whole) -> Travel:
    way = int(recorded["state"][first])
    at_ms = recorded.at_ms
    begun = first > 0 and recorded.stretch[first] == recorded.stretch[first - 1]
    over = end < len(recorded) and recorded.stretch[end] == recorded.stretch[end - 1]
    start_ms = int(at_ms[first])
    end_ms = int(at_ms[end] if over else at_ms[end - 1])
    settled = end - 1
    if over:
        settled = int(np.searchsorted(at_ms, end_ms + RESOLVED_MS, side="right")) - 1
        while recorded.stretch[settled] != recorded.stretch[first]:
            settled -= 1
    ended = int(recorded["ended"][settled]) if over else 0
    current_a = np.abs(recorded["current_ma"][first:end].astype(np.float64)) / 1000
    running = current_a[at_ms[first:end] - start_ms >= INRUSH_MS]
    untouched = not np.any((gaps >= first) & (gaps <= end))
    actuated = ~recorded["contacts"][first]
    from_end, to_end = (BOTTOM_END, ENDED_TOP) if way == RAISING else (TOP_END, ENDED_BOTTOM)
    whole = bool(begun and over and untouched)
    return Travel(
        way=way,
        first=first,
        end=end,
        start_ms=start_ms,
        end_ms=end_ms,
        ended=ended,
        fault=int(recorded["fault"][settled]) if over else 0,
        peak_a=float(current_a.max()),
        running_peak_a=float(running.max()) if len(running) else 0.0,
        median_a=float(np.median(running)) if len(running) else 0.0,
        full=whole and ended == to_end and bool(actuated & from_end),
        whole=whole,
    )


def faults_of(recorded: Recorded) -> list[Fault]:
    """Return every fault that was latched, in order."""
    number = recorded["fault"].astype(np.int64)
    key = number + 256 * recorded.stretch.astype(np.int64)
    found = []
    for first, _, _ in runs_of(key):
        if number[first]:
            before = first == 0 or recorded.stretch[first] != recorded.stretch[first - 1]
            found.append(Fault(int(number[first]), first, int(recorded.at_ms[first]), before))
    return found


def fault_words(number: int) -> str:
    """Return number and name of a fault, also of one that this version does not know."""
    known = 0 < number <= len(FAULTS)
    return f"fault {number}, {fault_name(number)}" if known else f"fault {number}, unknown here"


def ending_words(ended: int) -> str:
    """Return what ended a travel, in words."""
    if not ended:
        return "the end was not recorded"
    known = ended < len(ENDINGS)
    return ENDINGS[ended][1] if known else f"ending {ended}, unknown here"
