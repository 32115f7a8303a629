"""Everything that upkeep says of one site on one day, ready to show."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from leafwinch_host.explaining.expected import all_settings
from leafwinch_host.upkeep.due import Due, cycles_per_day, due_list
from leafwinch_host.upkeep.findings import NOW, Finding, findings
from leafwinch_host.upkeep.record import Record
from leafwinch_host.upkeep.series import Outlook, Series, all_series, outlook
from leafwinch_host.upkeep.statistics import LEAST
from leafwinch_host.upkeep.travels import LogTravel, journal_travels
from leafwinch_sim.site_schema import Site

FINE = "Nothing is due and nothing drifts."
LOOK = "Something is to be looked at before the next use."
LATER = "Nothing keeps you from using it; what comes is listed."


@dataclass(frozen=True, slots=True)
class Upkeep:
    """What was found.

    Attributes:
        site: its name. today: the day that it holds for.
        findings: worst first. due: every inspection, the most urgent first.
        outlooks: of the series with enough readings; short: series without, with how many.
        cycles_per_day: see `due.cycles_per_day`.
        faults: events of the journal that were faults, newest first, in words.
    """

    site: str
    today: date
    findings: tuple[Finding, ...]
    due: tuple[Due, ...]
    outlooks: tuple[Outlook, ...]
    short: tuple[tuple[Series, int], ...]
    cycles_per_day: float | None
    faults: tuple[str, ...]

    @property
    def urgent(self) -> bool:
        """Whether something is to be done before the next use."""
        return any(finding.level == NOW for finding in self.findings)

    @property
    def sentence(self) -> str:
        """The whole in one sentence."""
        return LOOK if self.urgent else LATER if self.findings else FINE


def judge(
    site: Site,
    settings: Mapping[str, int],
    journal: Sequence[Mapping[str, Any]],
    counters: Mapping[str, int],
    logs: Sequence[LogTravel],
    record: Record,
    today: date,
    base: Mapping[str, int] | None = None,
) -> Upkeep:
    """Return what upkeep says.

    Args:
        site: whose intervals hold.
        settings: of the board, or the site's own; limits of time and current.
        journal: its events.
        counters: of the board now, empty where not known.
        logs: full travels out of logs, oldest first.
        record: with this day's reading in it or not.
        today: the day to reckon from.
        base: counters to compare with where the record has no earlier ones, such as those at the
            end of the commissioning; None: zeros.
    """
    series = all_series(journal_travels(journal), logs, all_settings(settings))
    judged = [(one, outlook(one)) for one in series]
    outlooks = tuple(found for _, found in judged if found is not None)
    rate = cycles_per_day(record, counters)
    earlier = [reading for reading in record.readings if reading.on < today]
    before = earlier[-1].counters if earlier else dict(base or {})
    due = due_list(site, record, counters, today)
    events = sorted(journal, key=lambda event: int(event["sequence"]), reverse=True)
    return Upkeep(
        site=site.name,
        today=today,
        findings=tuple(findings(outlooks, due, counters, before, rate, today)),
        due=tuple(due),
        outlooks=outlooks,
        short=tuple((one, int(one.y.size)) for one, found in judged if found is None),
        cycles_per_day=rate,
        faults=tuple(str(event["words"]) for event in events if event["kind"] == "fault"),
    )


def as_data(upkeep: Upkeep) -> dict[str, Any]:
    """Return the same as plain data, for JSON; times in s, currents in A, days and cycles."""
    return {
        "site": upkeep.site,
        "on": upkeep.today.isoformat(),
        "urgent": upkeep.urgent,
        "findings": [asdict(finding) for finding in upkeep.findings],
        "series": [_series(found) for found in upkeep.outlooks],
        "too_few": {one.key: {"readings": n, "least": LEAST} for one, n in upkeep.short},
        "due": [_due(due) for due in upkeep.due],
        "cycles_per_day": upkeep.cycles_per_day,
        "faults": list(upkeep.faults),
    }


def _series(found: Outlook) -> dict[str, Any]:
    line = found.trend
    return {
        "key": found.series.key,
        "words": found.series.words,
        "unit": found.series.unit,
        "axis": found.series.axis,
        "readings": int(found.series.y.size),
        "median": found.level,
        "mad_sigma": found.sigma,
        "now": found.now,
        "limit": found.series.limit,
        "limit_words": found.series.limit_words,
        "reserve": found.reserve,
        "used": found.used,
        "slope": None if line is None else [line.low, line.slope, line.high],
        "drifts": line is not None and line.clear,
        "steps": [
            {"at": float(found.series.x[step.index]), "size": step.size} for step in found.steps
        ],
        "left": found.left,
        "soonest": found.soonest,
    }


def _due(due: Due) -> dict[str, Any]:
    return {
        "key": due.interval.key,
        "title": due.interval.title,
        "last": due.last.isoformat() if due.last else None,
        "who": due.who,
        "due": due.on.isoformat(),
        "days_left": due.days_left,
        "because": due.because,
        "operations_since": due.used if due.used >= 0 else None,
        "life_share": due.life_share,
        "how": due.interval.how,
        "source": due.interval.source,
    }
