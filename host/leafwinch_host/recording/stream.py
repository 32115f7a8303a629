"""Cuts a board's bytes into lines and keeps them all: good ones as they came, bad ones marked.

The form of a line is described in firmware/README.md, section Serial line. Unlike the reader that
serves questions, this one forgets nothing, since a recording is there to be looked at later.
"""

import binascii
import re
from dataclasses import dataclass

from leafwinch_host.board.serial_lines import (
    CRC_START,
    END,
    JUNK_MAX,
    KINDS,
    LINE_BYTES,
    SEQUENCE_MASK,
    TEXT_CHARACTERS,
)

BODY_BYTES = LINE_BYTES - len(END)
TIME_MASK = (1 << 30) - 1
BACK_MS = 1 << 29  # a step of the board's clock beyond this is one back: it was restarted
COUNTABLE_MS = 600_000  # a longer silence could hide more lines than the sequence can count
SPARE_LINES = 20  # more lines than the clock allows for and this: the board was restarted
MARK = b"!"

_TRACE = re.compile(
    rb"T [0-9A-F]{4} [0-3][0-9A-F]{7} [0-9A-F]{5} [0-9A-F]{2} [0-4] [0-9]{2} [0-9A-F]{4} "
    rb"[0-9A-F]{3} [+-][0-9]{6} [0-9]{5} [0-9A-F]{2} [0-9A-F]{2}"
)
_KINDS = frozenset(KINDS.encode("ascii"))
_PRINTABLE = re.compile(rb"[ -~]*")
_ESCAPED = re.compile(r"\\(\\|x[0-9a-f]{2})")
_TRACE_KIND = ord("T")


@dataclass(slots=True)
class Tally:
    """What came: lines that are good, of these trace lines, bad ones, and trace lines missing.

    restarts: how often the board's clock or sequence began anew.
    """

    lines: int = 0
    samples: int = 0
    bad: int = 0
    missing: int = 0
    restarts: int = 0


def good_body(body: bytes) -> bool:
    """Tell whether 62 bytes are a line of the board: check sum, kind, and columns of a trace."""
    if len(body) != BODY_BYTES or body[1] != 0x20 or body[0] not in _KINDS:
        return False
    text = body[:TEXT_CHARACTERS]
    if body[TEXT_CHARACTERS:] != b"%04X" % binascii.crc_hqx(text, CRC_START):
        return False
    return good_text(text)


def good_text(text: bytes) -> bool:
    """Tell whether the 58 characters of a line are what their kind allows."""
    if text[0] == _TRACE_KIND:
        return _TRACE.fullmatch(text) is not None
    return _PRINTABLE.fullmatch(text) is not None


def escaped(data: bytes) -> bytes:
    r"""Return bytes as printable ASCII: others become \xNN, a backslash is doubled."""
    text = data.decode("latin-1").replace("\\", "\\\\")
    return "".join(c if " " <= c <= "~" else f"\\x{ord(c):02x}" for c in text).encode("ascii")


def unescaped(text: bytes) -> bytes:
    """Return the bytes that `escaped` was given."""
    words = text.decode("ascii")
    return _ESCAPED.sub(
        lambda found: "\\" if found[1] == "\\" else chr(int(found[1][1:], 16)), words
    ).encode("latin-1")


def steps_of(before: bytes, after: bytes) -> tuple[int, int]:
    """Return trace lines missing between two trace lines, and ms of the board's clock.

    Missing is -1 where it can't be told: the board was restarted in between (ms is then -1 too),
    or so much time passed that the sequence of 16 bits may have gone round.
    """
    lines = (int(after[2:6], 16) - int(before[2:6], 16) - 1) & SEQUENCE_MASK
    ms = (int(after[7:15], 16) - int(before[7:15], 16)) & TIME_MASK
    if ms >= BACK_MS:
        return -1, -1
    if ms > COUNTABLE_MS:
        return -1, ms
    if lines > ms // 10 + SPARE_LINES:
        return -1, -1
    return lines, ms


class Stream:
    """Takes bytes in pieces of any length; returns what is to be kept, line by line.

    Good lines come as their 62 bytes, others escaped behind a '!', and where trace lines are
    missing or the board was restarted a note '# ...' in between. It holds JUNK_MAX bytes at most.
    """

    def __init__(self) -> None:
        self.tally = Tally()
        self.last_sample = b""  # the newest trace line
        self.last_greeting = b""
        self._rest = b""

    def feed(self, data: bytes) -> list[bytes]:
        """Take a piece; return the lines that it completes and the notes between them."""
        parts = (self._rest + data).split(END)
        rest = parts.pop()
        kept: list[bytes] = []
        tally = self.tally
        last = self.last_sample
        for part in parts:
            if not good_body(part):
                if not self._odd(part, kept):
                    continue
                part = part[-BODY_BYTES:]
                last = self.last_sample
            tally.lines += 1
            if part[0] == _TRACE_KIND:
                tally.samples += 1
                if last and (int(part[2:6], 16) - int(last[2:6], 16)) & SEQUENCE_MASK != 1:
                    self._jump(last, part, kept)
                self.last_sample = last = part
            elif part[0] == 0x47:
                self.last_greeting = part
            kept.append(part)
        while len(rest) > JUNK_MAX:
            self._bad(rest[:JUNK_MAX], kept)
            rest = rest[JUNK_MAX:]
        self._rest = rest
        return kept

    def broken_off(self) -> list[bytes]:
        """Return what is left of a line whose end will not come any more."""
        kept: list[bytes] = []
        if self._rest:
            self._bad(self._rest, kept)
            self._rest = b""
        return kept

    def _odd(self, part: bytes, kept: list[bytes]) -> bool:
        """Keep what is no line; tell whether a good line stands at its end."""
        good = len(part) > BODY_BYTES and good_body(part[-BODY_BYTES:])
        self._bad(part[:-BODY_BYTES] if good else part, kept)
        return good

    def _bad(self, part: bytes, kept: list[bytes]) -> None:
        self.tally.bad += 1
        kept.append(MARK + escaped(part))

    def _jump(self, last: bytes, part: bytes, kept: list[bytes]) -> None:
        missing, ms = steps_of(last, part)
        if missing > 0:
            self.tally.missing += missing
            words = f"missing {missing} trace lines, {ms / 1000:.2f} s of the board's clock"
        elif ms >= 0:
            words = f"missing trace lines, {ms / 1000:.0f} s of the board's clock"
        else:
            self.tally.restarts += 1
            words = "board restarted"
        kept.append(b"# " + words.encode("ascii"))
