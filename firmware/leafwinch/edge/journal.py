"""The journal: events of 32 bytes in a ring of small files, newest over oldest.

An event is little-endian: sequence (4 bytes), kind (1), a (1), boot number (2), seconds since that
boot (4), b (4, signed), then c (4, signed) and 10 zero bytes, or for kinds from TEXT_KINDS on 14
ASCII characters filled up with zero bytes, and the CRC-16/IBM-3740 of all that (2).

A file takes 32 events. One more file than 512 events need lies in the ring, so that 512 are there
even while the oldest file is being written over. A file whose tail is torn is closed: the next
event goes to the next file.
"""

import struct
from array import array

from leafwinch.edge.counters import LOST_EVENTS, count
from leafwinch.edge.crc import crc16
from leafwinch.numbers import NUMBER_MAX, TYPE_CHECKING, const

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from leafwinch.edge.counters import Counts
    from leafwinch.edge.slots import Files

    Event = tuple[int, int, int, int, int, int, int | str]

    _pack_into: Callable[..., None]
    _unpack_from: Callable[..., tuple[int, ...]]

# pyright: reportUnknownMemberType=false, reportUnknownVariableType=false
_pack_into = struct.pack_into
_unpack_from = struct.unpack_from

EVENT = const(32)  # bytes
SEGMENT = const(32)  # events in a file
SEGMENTS = const(17)
QUEUE = const(24)  # events that wait in memory
ENTRIES = const(4)  # numbers of a waiting event
UINT16_MAX = const(0xFFFF)

# Kinds of events, and what a, b and c mean.
BOOT = const(1)  # a: reset cause; b: version, major * 10000 + minor * 100 + patch; c: boot flags
FAULT = const(2)  # a: fault; b: 1 or -1 where it ended raising or lowering
LATER_FAULT = const(3)  # a: first other fault seen while one is latched
WARNING = const(4)  # a: warning, once between two starts
TRAVEL = const(5)  # a: what ended it; b: 1 raising, -1 lowering; c: energised ms
RESET = const(6)  # a: fault that was taken back
CHANGED = const(7)  # new settings were written; a: how many were changed
LEARNED = const(8)  # a learned envelope was written; a: travels up, b: travels down
LOADING = const(9)  # loading mode was asked for
TEXT_KINDS = const(32)
FELL_BACK = const(32)  # the previous program runs again; text: why
PROGRAM_ERROR = const(33)  # text: name of the exception; b: line
PROGRAM_PLACE = const(34)  # text: the module that line is in
FLASH = const(35)  # text: the file; b: 1 a copy was damaged, 2 a write failed


def pack_event(buffer: bytearray, offset: int, event: "Event") -> None:
    """Write an event (sequence, kind, a, boot, uptime s, b, c or text) into the buffer."""
    sequence, kind, a, boot, uptime_s, b, c = event
    if isinstance(c, str):
        _pack_into(
            "<IBBHIi14s", buffer, offset, sequence, kind, a, boot, uptime_s, b, c.encode()[:14]
        )
    else:
        _pack_into("<IBBHIii10s", buffer, offset, sequence, kind, a, boot, uptime_s, b, c, b"")
    check = crc16(buffer, offset, offset + EVENT - 2)
    _pack_into("<H", buffer, offset + EVENT - 2, check)


def event_at(buffer: bytearray, offset: int) -> "Event | None":
    """Return the event there, or None where it is damaged."""
    check = crc16(buffer, offset, offset + EVENT - 2)
    if buffer[offset + EVENT - 2] | buffer[offset + EVENT - 1] << 8 != check:
        return None
    sequence, kind, a, boot, uptime_s, b = _unpack_from("<IBBHIi", buffer, offset)
    if sequence > NUMBER_MAX:
        return None
    if kind < TEXT_KINDS:
        c = _unpack_from("<i", buffer, offset + 16)[0]
        return sequence, kind, a, boot, uptime_s, b, c
    text = bytes(buffer[offset + 16 : offset + 30])
    end = text.find(b"\0")
    return sequence, kind, a, boot, uptime_s, b, text[: end if end >= 0 else 14].decode()


def segment_name(segment: int) -> str:
    """Return the name of a file of the ring, segment: 0 to SEGMENTS - 1."""
    return "journal.{:02d}".format(segment)


class Journal:
    """Takes events in a pass, without allocation, and writes them at rest."""

    def __init__(self, files: "Files", counters: "Counts") -> None:
        self.files = files
        self.counters = counters
        self.boot = 0  # number of this boot, 0 to 65535
        self.last_boot = -1  # that of the newest event in flash
        self.uptime_s = 0  # since this boot, kept by the keeper
        self.sequence = 0  # of the next event
        self.segment = SEGMENTS - 1  # the file written to
        self.used = SEGMENT  # events in it; SEGMENT: full, or closed because its tail is torn
        self.damaged = 0  # events found damaged, beside torn tails
        self.opened = False
        self.waiting = 0
        self.queue = array("i", [0] * (QUEUE * ENTRIES))
        self.texts: "list[str | None]" = [None] * QUEUE

    def open(self) -> None:
        """Find the newest event and the end of the ring."""
        buffer = bytearray(SEGMENT * EVENT + 1)
        newest = -1
        for segment in range(SEGMENTS):
            size = self.files.part(segment_name(segment), 0, buffer)
            events = size // EVENT
            torn = size % EVENT != 0
            damaged = 0
            for index in range(events):
                event = event_at(buffer, index * EVENT)
                if event is None:
                    damaged += 1
                    torn = torn or index == events - 1
                elif event[0] > newest:
                    newest = event[0]
                    self.last_boot = event[3]
                    self.segment = segment
                    self.used = SEGMENT
            if self.segment == segment and newest >= 0:
                self.used = SEGMENT if torn else events
            self.damaged += damaged
        self.sequence = (newest + 1) & NUMBER_MAX
        self.opened = True

    def note(self, kind: int, a: int = 0, b: int = 0, c: int = 0) -> None:
        """Take an event; with the queue full it is lost, and counted."""
        waiting = self.waiting
        if waiting >= QUEUE:
            count(self.counters, LOST_EVENTS)
            return
        at = waiting * ENTRIES
        queue = self.queue
        queue[at] = kind | (a & 0xFF) << 8
        queue[at + 1] = self.uptime_s
        queue[at + 2] = b
        queue[at + 3] = c
        self.texts[waiting] = None
        self.waiting = waiting + 1

    def note_text(self, kind: int, text: str, b: int = 0) -> None:
        """Take an event with a text, of which 14 ASCII characters are kept."""
        waiting = self.waiting
        self.note(kind, 0, b)
        if self.waiting > waiting:
            self.texts[waiting] = text

    def write(self) -> None:
        """Write as many waiting events as the file takes; raises OSError. Allocates."""
        if not self.waiting:
            return
        segment = self.segment
        used = self.used
        anew = used >= SEGMENT
        if anew:
            segment = (segment + 1) % SEGMENTS
            used = 0
        events = self.waiting if self.waiting < SEGMENT - used else SEGMENT - used
        data = bytearray(events * EVENT)
        queue = self.queue
        for index in range(events):
            at = index * ENTRIES
            what = queue[at]
            text = self.texts[index]
            event = (
                (self.sequence + index) & NUMBER_MAX, what & 0xFF, what >> 8, self.boot,
                queue[at + 1], queue[at + 2], queue[at + 3] if text is None else text,
            )  # fmt: skip
            pack_event(data, index * EVENT, event)
        # Should the write fail, nobody knows what the file holds: the next one is begun then.
        self.used = SEGMENT
        if anew:
            self.files.write(segment_name(segment), data)
        else:
            self.files.append(segment_name(segment), data)
        self.segment = segment
        self.used = used + events
        self.sequence = (self.sequence + events) & NUMBER_MAX
        self.waiting -= events
        for index in range(self.waiting):
            self.texts[index] = self.texts[index + events]
            for entry in range(ENTRIES):
                queue[index * ENTRIES + entry] = queue[(index + events) * ENTRIES + entry]

    def newest(self, most: int) -> "Iterator[Event]":
        """Yield up to so many events in flash, the newest first; damaged ones are left out."""
        buffer = bytearray(EVENT)
        below = self.sequence
        segment = self.segment
        for _ in range(SEGMENTS):
            name = segment_name(segment)
            events = self.files.size(name) // EVENT
            for index in range(events - 1, -1, -1):
                if most <= 0:
                    return
                if self.files.part(name, index * EVENT, buffer) < EVENT:
                    continue
                event = event_at(buffer, 0)
                if event is None:
                    continue
                if event[0] >= below:
                    return  # the ring has come round
                below = event[0]
                most -= 1
                yield event
            segment = (segment - 1) % SEGMENTS
