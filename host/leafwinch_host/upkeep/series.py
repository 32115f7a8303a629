"""The series that upkeep watches, each with the limit that it may come near, and their outlook."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from leafwinch_host.upkeep.statistics import (
    LEAST,
    Numbers,
    Step,
    Trend,
    mad_sigma,
    noise_sigma,
    steps,
    trend,
)
from leafwinch_host.upkeep.travels import DOWN, UP, JournalTravel, LogTravel

CYCLES = "cycles"
DAYS = "days"
NEWEST = 10  # readings whose median is what holds now
PASS_S = 0.005  # of the board's loop
SPREAD = 3.0  # standard deviations that healthy readings lie above their median


@dataclass(frozen=True, slots=True)
class Series:
    """One quantity over cycles or days.

    Attributes:
        key: such as "raise_a"; words: for people; unit: of y.
        axis: CYCLES or DAYS, what x counts.
        resolution: smallest difference of y that its readings show.
        limit: of y, where the drive trips; limit_words: what it is. 0 where there is none.
        suspects: what may be behind a rise, the likeliest first.
        inspection: key of the inspection that looks at them.
        began: day of x = 0 where x counts days, else None.
    """

    key: str
    words: str
    unit: str
    axis: str
    x: Numbers
    y: Numbers
    resolution: float
    limit: float
    limit_words: str
    suspects: str
    inspection: str
    began: date | None


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a series says.

    Attributes:
        level, sigma: median and standard deviation (by the MAD) of the whole series.
        now: median of the newest readings; noise: standard deviation from one to the next.
        steps: sudden changes; since: index from which trend and now are taken, the last step.
        trend: since then, None where too few readings are there.
        reserve: limit less now and SPREAD times the noise, None without a limit.
        used: share of the limit that now takes, likewise.
        left: x until the reserve is used at the present trend, None where there is no clear rise.
        soonest: the same with the upper bound of the slope, or that of the newer half.
    """

    series: Series
    level: float
    sigma: float
    now: float
    noise: float
    steps: tuple[Step, ...]
    since: int
    trend: Trend | None
    reserve: float | None
    used: float | None
    left: float | None
    soonest: float | None


def outlook(series: Series) -> Outlook | None:
    """Judge a series; None where it has fewer than LEAST readings."""
    y = series.y
    if y.size < LEAST:
        return None
    found = steps(y, series.resolution)
    since = found[-1].index if found else 0
    tail = y[since:]
    noise = max(noise_sigma(y), series.resolution)
    now = float(np.median(tail[-NEWEST:]))
    line = trend(series.x[since:], tail)
    reserve = series.limit - now - SPREAD * noise if series.limit else None
    left = soonest = None
    if line is not None and line.clear and line.slope > 0.0 and reserve is not None:
        left = max(0.0, reserve) / line.slope
        half = since + tail.size // 2
        recent = trend(series.x[half:], y[half:])
        steepest = max(line.high, recent.slope if recent is not None and recent.clear else 0.0)
        soonest = max(0.0, reserve) / steepest
    return Outlook(
        series=series,
        level=float(np.median(y)),
        sigma=mad_sigma(y),
        now=now,
        noise=noise,
        steps=found,
        since=since,
        trend=line,
        reserve=reserve,
        used=now / series.limit if series.limit else None,
        left=left,
        soonest=soonest,
    )


def all_series(
    journal: Sequence[JournalTravel], logs: Sequence[LogTravel], settings: Mapping[str, int]
) -> list[Series]:
    """Return every series that journal and logs have readings for.

    Args:
        journal: full travels, oldest first.
        logs: likewise.
        settings: all of them, by name.
    """
    made = [_journal_series(journal, way, settings) for way in (UP, DOWN)]
    for way in (UP, DOWN):
        made += _log_series([travel for travel in logs if travel.way == way], way, settings)
    return [series for series in made if series.y.size]


def _journal_series(
    journal: Sequence[JournalTravel], way: int, settings: Mapping[str, int]
) -> Series:
    travels = [travel for travel in journal if travel.way == way]
    name = "raise" if way == UP else "lower"
    # Of the energised time the budget leaves out a short part of the start.
    budget_s = (settings[f"budget_{name}_ms"] + settings["start_allow_ms"]) / 1000.0
    return Series(
        key=f"{name}_s",
        words=f"time of a full {name}",
        unit="s",
        axis=CYCLES,
        x=np.arange(len(travels), dtype=np.float64),
        y=np.array([travel.seconds for travel in travels]),
        resolution=PASS_S,
        limit=budget_s,
        limit_words="travel budget",
        suspects="low supply, a dragging brake, stiff hinges or wheels, rope that slips",
        inspection="hinges",
        began=None,
    )


def _log_series(
    travels: Sequence[LogTravel], way: int, settings: Mapping[str, int]
) -> list[Series]:
    up = way == UP
    name, doing = ("raise", "raising") if up else ("lower", "lowering")
    days = _days([travel.at for travel in travels])
    trip_a = settings["trip_ma"] / 1000.0
    leave_s = settings["leave_bottom_ms" if up else "leave_top_ms"] / 1000.0
    inrush_s = settings["inrush_ms"] / 1000.0
    spacing_s = float(np.median([travel.spacing_s for travel in travels])) if travels else 0.0
    rows = (
        (
            "a",
            f"running current {doing}",
            "A",
            [travel.peak_a for travel in travels],
            trip_a,
            "current trip",
            "hinges, wheels or sheaves that rub, swollen boards, a load, a dragging brake",
            "hinges",
        ),
        (
            "start",
            f"length of the starting current {doing}",
            "s",
            [travel.start_s for travel in travels],
            inrush_s,
            "end of the inrush time, after which the running trip holds",
            "a brake that lifts late, low supply, a weak capacitor, stiff hinges",
            "brake",
        ),
        (
            "leave",
            f"time to leave the {'bottom' if up else 'top'} end",
            "s",
            [travel.leave_s for travel in travels],
            leave_s,
            "longest time to leave the end",
            "rope slack or newly wound, a brake that lifts late, a deck that sticks",
            "rope",
        ),
    )
    return [
        Series(
            key=f"{name}_{key}",
            words=words,
            unit=unit,
            axis=DAYS,
            x=days,
            y=np.array(y),
            resolution=spacing_s if unit == "s" else 0.0,
            limit=limit,
            limit_words=limit_words,
            suspects=suspects,
            inspection=inspection,
            began=travels[0].at.date() if travels else None,
        )
        for key, words, unit, y, limit, limit_words, suspects, inspection in rows
    ]


def _days(moments: Sequence[datetime]) -> Numbers:
    if not moments:
        return np.array([], dtype=np.float64)
    first = moments[0]
    return np.array([(at - first).total_seconds() / 86_400.0 for at in moments])
