"""The record of a commissioning: saved after every step, so that it can be left and resumed."""

import json
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from leafwinch_host.commissioning.results import FAIL, PASS, SKIPPED, VERDICTS, Measured, Outcome
from leafwinch_host.files import write_json
from leafwinch_wiring.errors import BadInput

NAME = "record.json"
TRACE = "trace.log"
FORMAT = "leafwinch commissioning 1"
MAX_BYTES = 16 << 20


@dataclass
class StepRecord:
    """What came of one step.

    Attributes:
        id, title, limits: of the step.
        verdict, why: PASS, FAIL or SKIPPED, with the reason.
        measured: values of the last time it was done.
        times: how often it was done; before: verdicts of the earlier times.
        who, utc: who did it and when it ended.
        needed: True where it was left out because another step had not passed.
        again: True where somebody asked for it to be done again.
    """

    id: str
    title: str
    limits: str
    verdict: str
    why: str = ""
    measured: tuple[Measured, ...] = ()
    times: int = 0
    before: list[str] = field(default_factory=list)
    who: str = ""
    utc: str = ""
    needed: bool = False
    again: bool = False

    @property
    def open(self) -> bool:
        """Whether it is still to be done."""
        return self.needed or self.again or self.verdict == FAIL


@dataclass
class Record:
    """The whole record.

    Attributes:
        about: what was commissioned: site, netlist, hashes, settings; set once.
        steps: what came of each step so far, by id.
        values: numbers that later steps use.
        done: True once the last step was reached.
    """

    about: dict[str, Any]
    steps: dict[str, StepRecord] = field(default_factory=dict)
    values: dict[str, float] = field(default_factory=dict)
    done: bool = False

    def passed(self, step: str) -> bool:
        """Tell whether a step has passed, or does not concern this installation."""
        found = self.steps.get(step)
        return found is not None and (
            found.verdict == PASS or (found.verdict == SKIPPED and found.times < 0)
        )

    def failed(self, step: str) -> bool:
        """Tell whether a step stands as failed."""
        found = self.steps.get(step)
        return found is not None and found.verdict == FAIL

    def keep(self, row: StepRecord, outcome: Outcome | None = None) -> None:
        """Take over what came of a step; the earlier verdicts of the same step stay known."""
        old = self.steps.get(row.id)
        if old is not None and not old.needed:
            row.before = [*old.before, old.verdict]
            row.times += max(0, old.times)
        if outcome is not None:
            row.verdict, row.why, row.measured = outcome.verdict, outcome.why, outcome.measured
            for value in outcome.measured:
                if isinstance(value.value, float | int):
                    self.values[value.name] = float(value.value)
        row.utc = datetime.now(UTC).isoformat(timespec="seconds")
        self.steps[row.id] = row

    def count(self, verdict: str) -> int:
        """Return how many steps have a verdict."""
        return sum(row.verdict == verdict for row in self.steps.values())

    @property
    def verdict(self) -> str:
        """PASS where every step passed, FAIL where one failed, else SKIPPED: not complete."""
        if self.count(FAIL):
            return FAIL
        open_ones = [r for r in self.steps.values() if r.verdict == SKIPPED and r.times >= 0]
        return PASS if self.done and not open_ones else SKIPPED

    def save(self, folder: Path) -> None:
        """Write it into a folder, at once or not at all."""
        content = {
            "format": FORMAT,
            "about": self.about,
            "verdict": self.verdict,
            "done": self.done,
            "values": self.values,
            "steps": [asdict(row) for row in self.steps.values()],
        }
        write_json(folder / NAME, content)


def load_record(folder: Path) -> Record | None:
    """Return the record in a folder, or None where there is none.

    Raises:
        BadInput: it can't be read, or is not what this program writes.
    """
    path = folder / NAME
    try:
        if path.stat().st_size > MAX_BYTES:
            raise BadInput(f"{path}: this is too large for a record.")
        data = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except OSError as error:
        raise BadInput(f"{path}: can't be read ({error.strerror}).") from None
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise BadInput(f"{path}: this is no JSON text.") from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise BadInput(f"{path}: this is no record of a commissioning by this version.")
    try:
        return _record(data)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise BadInput(
            f"{path}: something in it is not as this program writes it ({error})."
        ) from None


def _record(data: dict[str, Any]) -> Record:
    record = Record(
        about=dict(data["about"]),
        values={str(name): float(value) for name, value in data["values"].items()},
        done=bool(data["done"]),
    )
    for row in data["steps"]:
        step = StepRecord(**{**row, "measured": tuple(Measured(**m) for m in row["measured"])})
        if step.verdict not in VERDICTS:
            raise ValueError(f"verdict {step.verdict!r}")
        record.steps[step.id] = step
    return record
