"""Reads the board's lines: cuts them out of what comes, checks their CRC, tells their columns.

The form of a line is described in firmware/README.md, section Serial line.
"""

import binascii
from collections.abc import Callable
from dataclasses import dataclass, field

LINE_BYTES = 64
TEXT_CHARACTERS = 58
CRC_START = 0xFFFF
END = b"\r\n"
KINDS = "TGAZE"
SEQUENCE_MASK = 0xFFFF
JUNK_MAX = 4096  # bytes without an end of line that are kept


@dataclass(frozen=True, slots=True)
class Line:
    """A good line: its kind, and its text without the spaces at the end."""

    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Sample:
    """One trace line.

    Attributes:
        sequence: modulo 2^16. t_ms: the board's time, modulo 2^30.
        contacts, outputs: masks as of leafwinch.signals.
        state, fault, held_reasons, refused, ended, warning: numbers out of the firmware's tables.
        current_ma, supply_mv: as measured.
        late, dropped: late passes and dropped lines, modulo 256.
    """

    sequence: int
    t_ms: int
    contacts: int
    outputs: int
    state: int
    fault: int
    held_reasons: int
    refused: int
    ended: int
    warning: int
    current_ma: int
    supply_mv: int
    late: int
    dropped: int


@dataclass
class Counted:
    """What a reader came across."""

    lines: int = 0
    bad: int = 0  # ends of line without a good line before them
    missing: int = 0  # trace lines that the sequence says are not there
    kinds: dict[str, int] = field(default_factory=dict)


class LineReader:
    """Takes bytes as they come, in pieces of any length, and returns the good lines in them.

    After garbage it finds its place again at the next end of line. It keeps JUNK_MAX bytes
    at most, whatever comes.
    """

    def __init__(self) -> None:
        self.counted = Counted()
        self._rest = b""
        self._sequence = -1

    def feed(self, data: bytes) -> list[Line]:
        """Take a piece; return the lines that it completes."""
        parts = (self._rest + data).split(END)
        self._rest = parts.pop()[-JUNK_MAX:]
        lines = []
        for part in parts:
            line = checked(part)
            if line is None:
                self.counted.bad += 1
                continue
            self._count(line)
            lines.append(line)
        return lines

    def _count(self, line: Line) -> None:
        counted = self.counted
        counted.lines += 1
        counted.kinds[line.kind] = counted.kinds.get(line.kind, 0) + 1
        if line.kind != "T":
            return
        sequence = int(line.text[2:6], 16)
        if self._sequence >= 0:
            counted.missing += (sequence - self._sequence - 1) & SEQUENCE_MASK
        self._sequence = sequence


def checked(part: bytes) -> Line | None:
    """Return the line at the end of what came before an end of line, or None."""
    part = part[2 - LINE_BYTES :]
    if len(part) != LINE_BYTES - 2:
        return None
    text, code = part[:TEXT_CHARACTERS], part[TEXT_CHARACTERS:]
    if code != b"%04X" % binascii.crc_hqx(text, CRC_START):
        return None
    try:
        words = text.decode("ascii")
    except UnicodeDecodeError:
        return None
    if words[0] not in KINDS or words[1] != " ":
        return None
    if words[0] == "T" and sample_of(Line("T", words)) is None:
        return None
    return Line(words[0], words.rstrip())


def sample_of(line: Line) -> Sample | None:
    """Return the columns of a trace line, or None where they are no numbers."""
    text = line.text
    try:
        three = [int(digit, 16) for digit in text[35:38]]
        return Sample(
            sequence=int(text[2:6], 16),
            t_ms=int(text[7:15], 16),
            contacts=int(text[16:21], 16),
            outputs=int(text[22:24], 16),
            state=int(text[25:26], 16),
            fault=int(text[27:29]),
            held_reasons=int(text[30:34], 16),
            refused=three[0],
            ended=three[1],
            warning=three[2],
            current_ma=int(text[39:46]),
            supply_mv=int(text[47:52]),
            late=int(text[53:55], 16),
            dropped=int(text[56:58], 16),
        )
    except (ValueError, IndexError):
        return None


Listener = Callable[[Line], None]
