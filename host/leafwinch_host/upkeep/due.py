"""When each inspection comes due, by days and by operations."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from scipy.stats import theilslopes

from leafwinch_host.upkeep.intervals import Interval, days_of, intervals_for
from leafwinch_host.upkeep.record import Reading, Record
from leafwinch_sim.site_schema import Site

NEVER = "never recorded"
LEAST_HOURS = 168  # on, before they tell how much a day is used
LONGEST_DAYS = 3650.0  # what lies further ahead is no date to plan with


@dataclass(frozen=True, slots=True)
class Due:
    """One inspection and when it is due.

    Attributes:
        interval: what.
        last: when it was done, None where that is not recorded. who: did it.
        on: the day by which it is due, today where it was never recorded.
        days_left: below 0 where it is overdue.
        used: operations since then, -1 where they are not known; because: why that day.
        life_share: share of the part's life that the counter has reached, 0 where not known.
    """

    interval: Interval
    last: date | None
    who: str
    on: date
    days_left: int
    used: int
    because: str
    life_share: float


def per_day(readings: Sequence[Reading], counter: str) -> float | None:
    """Return how fast a counter grows in a day, by Theil-Sen over the readings; None if unknown.

    Args:
        readings: of one board; those of another one before it, whose counts fall, are left out.
        counter: its name.
    """
    known = [reading for reading in readings if counter in reading.counters]
    for index in range(len(known) - 1, 0, -1):
        if known[index].counters[counter] < known[index - 1].counters[counter]:
            known = known[index:]
            break
    if len(known) < 2 or known[-1].on == known[0].on:
        return None
    x = np.array([(reading.on - known[0].on).days for reading in known], dtype=np.float64)
    y = np.array([reading.counters[counter] for reading in known], dtype=np.float64)
    return max(0.0, float(theilslopes(y, x)[0]))


def cycles_per_day(record: Record, counters: Mapping[str, int]) -> float | None:
    """Return how many full cycles a day sees; None where nothing tells.

    By the record's readings, else by the hours that the board was on: where it is switched off
    between uses that is too many, so a margin seems to last shorter than it does.

    Args:
        record: of the site.
        counters: of the board now, empty where not known.
    """
    rate = per_day(record.readings, "raises")
    if rate is None and counters.get("uptime_h", 0) >= LEAST_HOURS:
        rate = counters.get("raises", 0) / (counters["uptime_h"] / 24.0)
    return rate or None


def due_list(site: Site, record: Record, counters: Mapping[str, int], today: date) -> list[Due]:
    """Return every inspection, the most urgent first.

    Args:
        site: whose intervals hold.
        record: what was done and read before.
        counters: of the board now, empty where not known.
        today: the day to reckon from.
    """
    found = [_due(interval, site, record, counters, today) for interval in intervals_for(site)]
    # Sorting is stable: what is due on the same day stays in the order of the table.
    return sorted(found, key=lambda due: due.days_left)


def _due(
    interval: Interval, site: Site, record: Record, counters: Mapping[str, int], today: date
) -> Due:
    count = counters.get(interval.counter, -1)
    life = count / interval.life if interval.life and count >= 0 else 0.0
    done = record.last_done(interval.key)
    if done is None:
        return Due(interval, None, "", today, 0, -1, NEVER, life)
    days = days_of(interval, site)
    on = done.on + timedelta(days=days)
    because = f"{days} days after the last one"
    used = -1
    if count >= 0 and interval.counter in done.counters:
        used = count - done.counters[interval.counter]
        if used < 0:
            # Another board: what it counted before tells nothing of this part.
            used = count
    if interval.operations and used >= 0:
        rate = per_day(record.readings, interval.counter)
        left = interval.operations - used
        ahead = None
        if left <= 0:
            ahead = 0.0
        elif rate:
            ahead = left / rate
        if ahead is not None and ahead < LONGEST_DAYS:
            by_use = today + timedelta(days=int(ahead))
            if by_use < on:
                on = by_use
                because = f"{interval.operations} operations, {max(0, left)} left"
    return Due(interval, done.on, done.who, on, (on - today).days, used, because, life)
