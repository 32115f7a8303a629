"""The upkeep record of one site: inspections done and counters read, each with its date."""

import json
from datetime import date
from pathlib import Path
from typing import Annotated, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from leafwinch_host.files import write_text
from leafwinch_host.upkeep.intervals import PARTS, proof_intervals
from leafwinch_wiring.errors import BadInput

FORMAT = 1
Count = Annotated[int, Field(ge=0, le=1 << 30)]
Words = Annotated[str, Field(min_length=1, max_length=200)]


class _Entry(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Reading(_Entry):
    """Counters as they were read on a day."""

    on: date
    counters: dict[str, Count]


class Done(_Entry):
    """An inspection: what, on which day, by whom, and the counters of that time if known."""

    what: Words
    on: date
    who: Words
    counters: dict[str, Count] = {}


class Record(_Entry):
    """Everything that was noted of a site, each list in order of its dates."""

    format: int = FORMAT
    site: Words
    readings: tuple[Reading, ...] = ()
    done: tuple[Done, ...] = ()

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.format != FORMAT:
            raise ValueError(f"format is {self.format}, known is {FORMAT}")
        for entry in self.done:
            if entry.what not in keys():
                raise ValueError(f"'{entry.what}' is no inspection; known are {', '.join(keys())}")
        return self

    def with_reading(self, on: date, counters: dict[str, int]) -> "Record":
        """Return the record with counters of a day; a second reading of a day replaces the first.

        Args:
            on: the day.
            counters: by name, as the board tells them.
        """
        kept = [reading for reading in self.readings if reading.on != on]
        readings = sorted([*kept, Reading(on=on, counters=counters)], key=lambda r: r.on)
        return self.model_copy(update={"readings": tuple(readings)})

    def with_done(
        self, what: str, on: date, who: str, counters: dict[str, int], today: date
    ) -> "Record":
        """Return the record with an inspection more.

        Args:
            what: key of an inspection.
            on: the day on which it was done.
            who: did it.
            counters: of that day, empty where not known.
            today: no inspection lies after it.

        Raises:
            BadInput: there is no such inspection, it lies ahead, or nobody did it.
        """
        if what not in keys():
            raise BadInput(f"--done {what}: allowed are {', '.join(keys())}.")
        if on > today:
            raise BadInput(f"--on {on}: lies after today, {today}; allowed is a day that is past.")
        if not who.strip():
            raise BadInput("--who: say who did the inspection; found an empty name.")
        entry = Done(what=what, on=on, who=who.strip(), counters=counters)
        done = sorted([*self.done, entry], key=lambda d: d.on)
        return self.model_copy(update={"done": tuple(done)})

    def last_done(self, what: str) -> Done | None:
        """Return the newest inspection of that kind."""
        return next((entry for entry in reversed(self.done) if entry.what == what), None)


def keys() -> tuple[str, ...]:
    """Return the keys of all inspections."""
    return tuple(interval.key for interval in (*PARTS, *proof_intervals()))


def read_record(path: Path, site: str) -> Record:
    """Return the record in a file, a new one where there is none yet.

    Raises:
        BadInput: the file can't be read, is no record, or belongs to another site.
    """
    if not path.exists():
        return Record(site=site)
    try:
        record = Record.model_validate_json(path.read_bytes())
    except OSError as error:
        raise BadInput(f"{path}: can't be read ({error.strerror}).") from None
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "the whole file"
        raise BadInput(f"{path}: is no upkeep record: {place}: {first['msg']}.") from None
    if record.site != site:
        raise BadInput(f"{path}: this record is of site {record.site}, asked for was {site}.")
    return record


def write_record(path: Path, record: Record) -> None:
    """Write a record at once, so that a cut leaves the old one.

    Raises:
        BadInput: it can't be written.
    """
    text = json.dumps(record.model_dump(mode="json"), indent=2, ensure_ascii=False)
    write_text(path, text + "\n")
