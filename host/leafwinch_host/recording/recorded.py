"""Reads a recording back, whole or cut at any byte, into columns."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from leafwinch_host.recording.decode import (
    FIELDS,
    LINE,
    STAMP,
    TEXT_AT,
    Flags,
    Whole,
    columns_of,
    times_of,
)
from leafwinch_host.recording.stream import (
    BACK_MS,
    COUNTABLE_MS,
    SPARE_LINES,
    TIME_MASK,
    good_body,
)
from leafwinch_wiring.errors import BadInput

BLOCK = 4 << 20
CUT = b" !cut"
CLOCKS_APART_MS = 5000  # more than the clocks of board and PC may differ over a gap, and 5 %
STEP_MS = 10  # between two samples in motion; what a restart takes at least on the common axis
SHOWN_MAX = 40  # characters of a line shown in a message

_STAMPED = re.compile(rb"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}\+00:00) (.*)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Gap:
    """A place where samples are not there.

    Attributes:
        row: the first sample after it.
        why: "missing", "restarted", "port lost" or "disk full".
        seconds: how long, by the board's clock, or by this machine's after a restart.
        missing: trace lines that are not there, or -1 where that can't be told.
    """

    row: int
    why: str
    seconds: float
    missing: int


@dataclass(frozen=True, slots=True)
class Remark:
    """A note of the recorder: ms since 1970 in UTC, words, and how many samples came before."""

    utc_ms: int
    words: str
    row: int


@dataclass
class Counts:
    """Lines of a file: samples, other good ones, bad ones kept, notes, and cut ones."""

    samples: int = 0
    others: int = 0
    bad: int = 0
    notes: int = 0
    cut: int = 0


@dataclass
class Recorded:
    """One recording as columns of equal length, one row a sample.

    Attributes:
        path: file.
        columns: by name as in decode.FIELDS; `clock` is the board's time as it was sent.
        utc_ms: when each line came, ms since 1970.
        clock_ms: the board's time with its wrap undone; begins anew with every stretch.
        at_ms: one axis over all stretches, 0 at the first sample, never falling.
        stretch: number of the stretch; a restart of the board begins one.
        gaps, notes, counts: see there.
    """

    path: Path
    columns: dict[str, NDArray[Any]]
    utc_ms: Whole
    clock_ms: Whole
    at_ms: Whole
    stretch: NDArray[np.int32]
    gaps: list[Gap]
    notes: list[Remark]
    counts: Counts

    def __len__(self) -> int:
        return len(self.utc_ms)

    def __getitem__(self, name: str) -> NDArray[Any]:
        return self.columns[name]

    @property
    def seconds(self) -> float:
        """Length of the recording."""
        return float(self.at_ms[-1] - self.at_ms[0]) / 1000


def utc_words(utc_ms: int) -> str:
    """Return ms since 1970 as a time in UTC for people."""
    return datetime.fromtimestamp(utc_ms / 1000, UTC).strftime("%Y-%m-%d %H:%M:%S UTC")


def read_recording(path: Path) -> Recorded:
    """Read a recording; a last line without its end is left out and counted.

    Raises:
        BadInput: it can't be read, it holds no sample, or a line is no line of a recording.
    """
    reading = _Reading(path)
    try:
        with path.open("rb") as file:
            for first, block in _blocks(file, reading.counts):
                reading.take(first, block)
    except OSError as error:
        raise BadInput(f"{path}: can't be read ({error.strerror}).") from None
    if not reading.counts.samples:
        raise BadInput(f"{path}: there is no trace line in it, so nothing can be told.")
    return reading.result()


def _blocks(file: Any, counts: Counts) -> Iterator[tuple[int, bytes]]:
    """Yield blocks of whole lines with the number of their first line, from 1."""
    rest = b""
    line = 1
    while data := file.read(BLOCK):
        whole, end, rest = (rest + data).rpartition(b"\n")
        if end:
            block = (whole + end).replace(b"\r\n", b"\n")
            yield line, block
            line += block.count(b"\n")
    if rest:
        counts.cut += 1


@dataclass
class _Reading:
    """What was read so far."""

    path: Path
    counts: Counts = field(default_factory=Counts)
    notes: list[Remark] = field(default_factory=list)
    pieces: list[dict[str, NDArray[Any]]] = field(default_factory=list)
    times: list[Whole] = field(default_factory=list)

    def take(self, first: int, block: bytes) -> None:
        data = np.frombuffer(block, dtype=np.uint8)
        ends = np.flatnonzero(data == ord("\n"))
        starts = np.concatenate(([0], ends[:-1] + 1))
        fits = np.flatnonzero(ends - starts == LINE)
        fits = fits[data[starts[fits] + TEXT_AT] == ord("T")]
        rows = data[starts[fits, None] + np.arange(LINE)]
        utc_ms, good = times_of(rows[:, :STAMP])
        columns, sound = columns_of(rows[:, TEXT_AT:])
        good &= sound & (rows[:, STAMP] == ord(" "))
        if not good.all():
            place = int(fits[int(np.argmin(good))])
            self._refuse(first + place, block[starts[place] : ends[place]])
        others = np.ones(len(ends), dtype=np.bool_)
        others[fits] = False
        before = self.counts.samples
        for place in np.flatnonzero(others).tolist():
            line = block[starts[place] : ends[place]]
            self._other(first + place, line, before + int(np.searchsorted(fits, place)))
        self.counts.samples += len(fits)
        self.pieces.append(columns)
        self.times.append(utc_ms)

    def _other(self, number: int, line: bytes, row: int) -> None:
        if line.endswith(CUT):
            self.counts.cut += 1
            return
        is_note = line.startswith(b"# ")
        found = _STAMPED.fullmatch(line[2:] if is_note else line)
        if found is None:
            self._refuse(number, line)
            return
        stamp, text = found[1], found[2]
        utc_ms, good = times_of(np.frombuffer(stamp, dtype=np.uint8)[None, :])
        if not good[0]:
            self._refuse(number, line)
        if is_note:
            self.counts.notes += 1
            self.notes.append(Remark(int(utc_ms[0]), text.decode("ascii", "replace"), row))
        elif text.startswith(b"!"):
            self.counts.bad += 1
        elif good_body(text):
            self.counts.others += 1
        else:
            self._refuse(number, line)

    def _refuse(self, number: int, line: bytes) -> None:
        shown = line[:SHOWN_MAX].decode("ascii", "replace")
        shown = "".join(c if c.isprintable() else "?" for c in shown)
        raise BadInput(
            f"{self.path}, line {number}: found '{shown}', which is no line of a recording, or "
            "was changed after it was recorded."
        )

    def result(self) -> Recorded:
        names = [name for name, *_ in FIELDS]
        columns = {
            name: np.concatenate([piece.pop(name) for piece in self.pieces]) for name in names
        }
        utc_ms = np.concatenate(self.times)
        missing, ms, restarted = steps(columns["sequence"], columns["clock"], utc_ms)
        at_ms = np.concatenate(([0], np.cumsum(ms)))
        stretch = np.concatenate(([0], np.cumsum(restarted))).astype(np.int32)
        starts = np.concatenate(([0], np.flatnonzero(restarted) + 1))
        begun = starts[stretch]
        clock_ms = columns["clock"][begun].astype(np.int64) + at_ms - at_ms[begun]
        gaps = [
            Gap(
                row + 1,
                _why(self.notes, row + 1, bool(restarted[row])),
                float(ms[row]) / 1000,
                -1 if restarted[row] or ms[row] > COUNTABLE_MS else int(missing[row]),
            )
            for row in np.flatnonzero((missing > 0) | restarted).tolist()
        ]
        return Recorded(
            self.path,
            columns,
            utc_ms,
            clock_ms,
            at_ms.astype(np.int64),
            stretch,
            gaps,
            self.notes,
            self.counts,
        )


def steps(sequence: NDArray[Any], clock: NDArray[Any], utc_ms: Whole) -> tuple[Whole, Whole, Flags]:
    """Return lines missing, ms passed and whether the board was restarted, between samples.

    It was restarted where its clock went back, where its sequence went on by more lines than
    the clock allows for, and where over a gap its clock and this machine's disagree.
    """
    number, told = sequence.astype(np.int64), clock.astype(np.int64)
    missing: Whole = (number[1:] - number[:-1] - 1) & 0xFFFF
    ms: Whole = (told[1:] - told[:-1]) & TIME_MASK
    passed: Whole = utc_ms[1:] - utc_ms[:-1]
    apart = np.abs(passed - ms) > CLOCKS_APART_MS + ms // 20
    restarted = (
        (ms >= BACK_MS)
        | ((ms <= COUNTABLE_MS) & (missing > ms // 10 + SPARE_LINES))
        | ((missing > 0) & apart)
    )
    return missing, np.where(restarted, np.maximum(passed, STEP_MS), ms), restarted


def _why(notes: list[Remark], row: int, restarted: bool) -> str:
    if restarted:
        return "restarted"
    for note in notes:
        if note.row == row and note.words.startswith(("port lost", "disk full")):
            return note.words[:9]
    return "missing"
