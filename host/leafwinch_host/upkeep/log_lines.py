"""Reads what `leafwinch log` kept: each trace line with the moment at which it came."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from leafwinch_host.board.serial_lines import Line, Sample, sample_of
from leafwinch_wiring.errors import BadInput

NOTES = ("#", "!")  # what a recorder itself says; a line that came damaged


@dataclass(frozen=True, slots=True)
class Kept:
    """One trace line of a log: when it came, in UTC, and its columns."""

    at: datetime
    sample: Sample


def kept_samples(path: Path) -> Iterator[Kept]:
    """Yield the trace lines of a log; greetings, answers, notes and damaged lines are passed over.

    An unfinished last line, as a cut recording leaves, is passed over too.

    Raises:
        BadInput: the file can't be read, or a whole line in it is not one of a log.
    """
    try:
        with path.open(encoding="ascii", errors="replace") as file:
            for number, line in enumerate(file, start=1):
                if not line.endswith("\n"):
                    return
                kept = _kept(path, number, line)
                if kept is not None:
                    yield kept
    except OSError as error:
        raise BadInput(f"{path}: can't be read ({error.strerror}).") from None


def _kept(path: Path, number: int, line: str) -> Kept | None:
    stamp, _, text = line.rstrip("\r\n").partition(" ")
    if not stamp or stamp[0] in NOTES or not text or text[0] in NOTES:
        return None
    try:
        at = datetime.fromisoformat(stamp)
    except ValueError:
        raise BadInput(
            f"{path}, line {number}: found '{line.strip()[:40]}', allowed are lines that "
            "'leafwinch log' keeps, a time in front of each."
        ) from None
    if text[0] != "T":
        return None
    sample = sample_of(Line("T", text))
    return None if sample is None or at.tzinfo is None else Kept(at, sample)
