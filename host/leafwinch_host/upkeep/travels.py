"""Travels out of a journal or a log: how long, with what current, from end to end or not."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from leafwinch.signals import BOTTOM_END, OUT_LOWER, OUT_RAISE, TOP_END
from leafwinch.state_texts import ENDINGS
from leafwinch.states import LOWERING, RAISING
from leafwinch_host.upkeep.log_lines import Kept

UP = 1
DOWN = -1
END_OF_WAY = {UP: "top_end", DOWN: "bottom_end"}
CLOCK_MASK = (1 << 30) - 1
GAP_MS = 2000  # longer silence amid a travel: nothing is known of it
PEAK_SHARE = 0.95  # quantile taken as peak: a single noisy sample is none
LEAST_SAMPLES = 20


@dataclass(frozen=True, slots=True)
class JournalTravel:
    """A full travel of the journal: its event's number, 1 up or -1 down, energised seconds."""

    sequence: int
    way: int
    seconds: float


@dataclass(frozen=True, slots=True)
class LogTravel:
    """A full travel of a log.

    Attributes:
        at: when it began, in UTC. way: 1 up, -1 down.
        seconds: from the direction contactor's command to the end's contact.
        peak_a, median_a: running current without its sign, the inrush left out.
        start_s: from the command until the current is within the running band.
        leave_s: from the command until the other end's contact closes again.
        spacing_s: between two lines of the start, which is how fine its times are.
    """

    at: datetime
    way: int
    seconds: float
    peak_a: float
    median_a: float
    start_s: float
    leave_s: float
    spacing_s: float


def journal_travels(events: Iterable[Mapping[str, Any]]) -> list[JournalTravel]:
    """Return the full travels of a journal, oldest first.

    A travel is full where it reached its end and the one before it, since the same power-up, had
    reached the other end. Times of part travels tell nothing.
    """
    found: list[JournalTravel] = []
    before: tuple[int, str, int] | None = None  # boot, ending, way
    for event in sorted(events, key=lambda event: int(event["sequence"])):
        if event["kind"] != "travel":
            continue
        way, ending = int(event["b"]), _ending(int(event["a"]))
        boot = int(event["boot"])
        from_end = before is not None and before[0] == boot and before[1] == END_OF_WAY.get(-way)
        if from_end and ending == END_OF_WAY.get(way):
            seconds = int(event["c"]) / 1000.0
            found.append(JournalTravel(int(event["sequence"]), way, seconds))
        before = (boot, ending, way)
    return found


def _ending(number: int) -> str:
    return str(ENDINGS[number][0]) if 0 <= number < len(ENDINGS) else "unknown"


def log_travels(lines: Iterable[Kept], settings: Mapping[str, int]) -> list[LogTravel]:
    """Return the full travels of a log, in its order.

    Args:
        lines: as `kept_samples` yields them.
        settings: all of them, by name; inrush_ms and run_max_ma part a start from running.
    """
    found: list[LogTravel] = []
    piece: list[Kept] = []
    for kept in lines:
        moving = kept.sample.state in (RAISING, LOWERING)
        broken_off = bool(piece) and _ms(piece[-1], kept) > GAP_MS
        turned = bool(piece) and moving and kept.sample.state != piece[-1].sample.state
        if piece and (broken_off or turned or not moving):
            travel = None if broken_off else _full(piece, kept, settings)
            if travel is not None:
                found.append(travel)
            piece = []
        if moving:
            piece.append(kept)
    return found


def _ms(first: Kept, then: Kept) -> int:
    return (then.sample.t_ms - first.sample.t_ms) & CLOCK_MASK


def _full(piece: Sequence[Kept], after: Kept, settings: Mapping[str, int]) -> LogTravel | None:
    up = piece[0].sample.state == RAISING
    driver = OUT_RAISE if up else OUT_LOWER
    left_end, met_end = (BOTTOM_END, TOP_END) if up else (TOP_END, BOTTOM_END)
    energised = [kept for kept in piece if kept.sample.outputs & driver]
    if len(energised) < LEAST_SAMPLES or energised[0].sample.contacts & left_end:
        return None  # it did not begin at its end, whose contact is open there
    if after.sample.contacts & met_end:
        return None
    first = energised[0]
    ms = np.array([_ms(first, kept) for kept in energised], dtype=np.float64)
    amperes = np.array([abs(kept.sample.current_ma) for kept in energised]) / 1000.0
    running = amperes[ms > settings["inrush_ms"]]
    if running.size < LEAST_SAMPLES:
        return None
    closed = [kept for kept in energised if kept.sample.contacts & left_end]
    over = np.flatnonzero(amperes > settings["run_max_ma"] / 1000.0)
    # Only what lies at the start: a later peak is no start.
    start = [int(i) for i in over if ms[i] <= 2.0 * settings["inrush_ms"]]
    return LogTravel(
        at=first.at,
        way=UP if up else DOWN,
        seconds=_ms(first, after) / 1000.0,
        peak_a=float(np.quantile(running, PEAK_SHARE)),
        median_a=float(np.median(running)),
        start_s=float(ms[min(start[-1] + 1, ms.size - 1)]) / 1000.0 if start else 0.0,
        leave_s=_ms(first, closed[0]) / 1000.0 if closed else 0.0,
        spacing_s=float(np.median(np.diff(ms[:LEAST_SAMPLES]))) / 1000.0,
    )
