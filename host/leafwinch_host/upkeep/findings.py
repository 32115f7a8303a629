"""What upkeep has to say, worst first, in plain words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from leafwinch_host.upkeep.due import Due
from leafwinch_host.upkeep.series import CYCLES, Outlook
from leafwinch_host.upkeep.statistics import Step, Trend

NOW = "now"
SOON = "soon"
WATCH = "watch"
RANK = {NOW: 0, SOON: 1, WATCH: 2}

SOON_DAYS = 90.0
WATCH_USED = 0.93  # share of a limit that healthy readings may take without a word
LIFE_SOON = 0.9
DUE_SOON_DAYS = 30
PLAN_DAYS = 3650.0  # a margin that lasts longer is no finding


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to do or look at. level: NOW, SOON or WATCH; code: of its kind and series."""

    level: str
    code: str
    what: str
    why: str


def findings(
    outlooks: Sequence[Outlook],
    due: Sequence[Due],
    counters: Mapping[str, int],
    before: Mapping[str, int],
    cycles_per_day: float | None,
    today: date,
) -> list[Finding]:
    """Return what is to be looked at, worst first.

    Args:
        outlooks: of all series.
        due: of all inspections.
        counters: of the board now, empty where not known.
        before: those of the last reading, empty where there is none.
        cycles_per_day: how much the drive is used, None where not known.
        today: the day to reckon from.
    """
    found: list[Finding] = []
    inspected = {one.interval.key: one.last for one in due}
    for outlook in outlooks:
        last = inspected.get(outlook.series.inspection)
        found += _of_series(outlook, cycles_per_day, today, last)
    found += _of_counters(counters, before)
    found += _never([one for one in due if one.last is None])
    for one in due:
        found += _of_due(one)
    # Sorting is stable: within a level what was measured comes before what is only due.
    return sorted(found, key=lambda finding: RANK[finding.level])


def _of_series(
    outlook: Outlook, cycles_per_day: float | None, today: date, inspected: date | None
) -> list[Finding]:
    series = outlook.series
    found = []
    if outlook.reserve is not None and outlook.reserve <= 0.0:
        found.append(
            Finding(
                NOW,
                f"reserve:{series.key}",
                f"The {series.words} has no reserve left: look at {series.suspects}.",
                f"{_value(outlook, outlook.now)} now, {series.limit_words} at "
                f"{_value(outlook, series.limit)}. Do not raise the limit; mend the cause.",
            )
        )
    elif outlook.used is not None and outlook.used > WATCH_USED and not outlook.left:
        found.append(
            Finding(
                WATCH,
                f"near:{series.key}",
                f"The {series.words} lies near its limit, steadily.",
                f"{_value(outlook, outlook.now)}, {outlook.used:.0%} of the {series.limit_words}.",
            )
        )
    for step in outlook.steps:
        day = _day_of(outlook, step, cycles_per_day, today)
        looked = inspected is not None and day is not None and inspected >= day
        found.append(_of_step(outlook, step, inspected if looked else None))
    if outlook.trend is not None and outlook.trend.clear:
        found.append(_of_trend(outlook, outlook.trend, cycles_per_day))
    return found


def _day_of(outlook: Outlook, step: Step, cycles_per_day: float | None, today: date) -> date | None:
    """Return about the day of a step, None where a journal alone can't date it."""
    series = outlook.series
    if series.began is not None:
        return series.began + timedelta(days=float(series.x[step.index]))
    if not cycles_per_day:
        return None
    return today - timedelta(days=float(series.x[-1] - series.x[step.index]) / cycles_per_day)


def _of_step(outlook: Outlook, step: Step, inspected: date | None) -> Finding:
    series = outlook.series
    ago = series.x[-1] - series.x[step.index]
    up = step.size > 0
    share = abs(step.size) / abs(outlook.level)
    words = f"{'rose' if up else 'fell'} at once by {_value(outlook, abs(step.size))} ({share:.0%})"
    look = series.suspects if up else "what was changed then, the sensor, a load that is gone"
    what = f"The {series.words} {words} {ago:.0f} {series.axis} before the newest reading"
    code = f"step:{series.key}"
    if inspected is not None:
        why = f"The inspection '{series.inspection}' was done on {inspected}, after that."
        return Finding(WATCH, code, f"{what}.", why)
    return Finding(
        NOW if step is outlook.steps[-1] else WATCH,
        code,
        f"{what}: look at {look}.",
        "A sudden change is a part that seized, slipped or was changed, not wear. Isolate and prop "
        "before you look.",
    )


def _of_trend(outlook: Outlook, trend: Trend, cycles_per_day: float | None) -> Finding:
    series = outlook.series
    rises = trend.slope > 0.0
    span = float(series.x[-1] - series.x[outlook.since])
    drift = abs(trend.slope) * span
    words = (
        f"The {series.words} {'rises' if rises else 'falls'} slowly, by "
        f"{_value(outlook, drift)} in {span:.0f} {series.axis}"
    )
    if not rises:
        why = "Less is not always better: a rope that slips or a sensor that drifts looks so too."
        return Finding(WATCH, f"trend:{series.key}", f"{words}.", why)
    if outlook.left is None or outlook.soonest is None:
        return Finding(WATCH, f"trend:{series.key}", f"{words}: look at {series.suspects}.", "")
    days = outlook.soonest if series.axis != CYCLES else None
    if series.axis == CYCLES and cycles_per_day:
        days = outlook.soonest / cycles_per_day
    level = SOON if days is None or days < PLAN_DAYS else WATCH
    if days is not None and days < SOON_DAYS:
        level = NOW
    return Finding(
        level,
        f"trend:{series.key}",
        f"{words}: look at {series.suspects}.",
        f"{_value(outlook, outlook.now)} now; at this rate the {series.limit_words} at "
        f"{_value(outlook, series.limit)} trips healthy travels in about "
        f"{_left(outlook.left, series.axis, cycles_per_day)}, soonest in "
        f"{_left(outlook.soonest, series.axis, cycles_per_day)}.",
    )


def _left(amount: float, axis: str, cycles_per_day: float | None) -> str:
    days = amount if axis != CYCLES else None
    cycles = amount if axis == CYCLES else None
    if cycles_per_day:
        days = amount / cycles_per_day if days is None else days
        cycles = amount * cycles_per_day if cycles is None else cycles
    said = [
        f"{cycles:.0f} cycles" if cycles is not None else "",
        f"{days:.0f} days" if days else "",
    ]
    return " or ".join(words for words in said if words) or "no time"


_COUNTED = (
    ("faults", NOW, "{n} more faults", "'leafwinch explain' and the journal say which, and why."),
    (
        "watchdog_boots",
        NOW,
        "the watchdog restarted the board {n} times more",
        "A program that stands still: read the journal; replace the board if it comes back.",
    ),
    (
        "flash_trouble",
        SOON,
        "the flash met damage {n} times more",
        "It wears out: have another board ready, with its program and settings loaded.",
    ),
    (
        "late_passes",
        WATCH,
        "{n} passes of the loop more came late",
        "A few harm nothing. Do they grow? Look at suppressors, 0 V and the board.",
    ),
    ("lost_events", WATCH, "{n} events more were lost", "The journal is not whole."),
)


def _of_counters(counters: Mapping[str, int], before: Mapping[str, int]) -> list[Finding]:
    found = []
    since = "since the last reading" if before else "since the board was new"
    for name, level, words, why in _COUNTED:
        more = counters.get(name, 0) - before.get(name, 0)
        if more > 0:
            what = words.format(n=more)
            said = f"{what[0].upper()}{what[1:]} {since}."
            # Without a reading before, old ones count too, and nobody knows how old.
            found.append(Finding(level if before else WATCH, f"counter:{name}", said, why))
    return found


def _never(due: Sequence[Due]) -> list[Finding]:
    """Name all inspections without a record at once: on a first day that is every one."""
    if not due:
        return []
    names = ", ".join(one.interval.key for one in due)
    what = f"No record says that these were ever inspected: {names}."
    why = (
        "Do them, or note those done: --record FILE --done NAME --who NAME --on DAY; those of a "
        "commissioning: --commissioned FOLDER."
    )
    return [Finding(NOW, "due:never", what, why)]


def _of_due(due: Due) -> list[Finding]:
    interval = due.interval
    found = []
    if due.life_share >= LIFE_SOON:
        level = NOW if due.life_share >= 1.0 else SOON
        what = f"Replace {interval.title}: {due.life_share:.0%} of its rated operations are used."
        found.append(Finding(level, f"life:{interval.key}", what, interval.source))
    if due.last is None:
        return found
    if due.days_left < 0:
        what = f"Inspect {interval.title}: overdue for {-due.days_left} days ({due.because})."
        found.append(Finding(NOW, f"due:{interval.key}", what, interval.how))
    elif due.days_left <= DUE_SOON_DAYS:
        level = NOW if due.days_left == 0 else SOON
        what = f"Inspect {interval.title} by {due.on} ({due.because})."
        found.append(Finding(level, f"due:{interval.key}", what, interval.how))
    return found


def _value(outlook: Outlook, value: float) -> str:
    return f"{value:.2f} {outlook.series.unit}"
