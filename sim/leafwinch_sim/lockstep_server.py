"""Serves one control core over stdin and stdout; runs inside MicroPython.

Every request is five 32-bit integers: an operation, then four numbers; some carry a
payload, whose length in bytes is the first number. Every answer is the integers named
in STATUS and a payload whose length is the last of them. The other side imports this
file under CPython for the names of the protocol, so it keeps to what both have.
"""

import sys
from array import array

TYPE_CHECKING = False  # type checkers read this name as true; nothing runs with it
if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from typing import Any

    from leafwinch.controller import Controller

NEW = 1  # payload: JSON of [setting values, kept record or null, boot flags, envelope or null]
STEP = 2  # now_ms, contacts, current_ma, supply_mv
BATCH = 3  # payload: four integers a pass, as of STEP; answers all outputs and checksums
SNAPSHOT = 4  # answers the snapshot
RESTORE = 5  # payload: a snapshot
RECORD = 6  # answers the kept record
STORED = 7  # now_ms

REQUEST_NUMBERS = 5
STATUS = (
    "outputs",
    "state",
    "fault",
    "later_fault",
    "held_reasons",
    "refused",
    "ended",
    "warning",
    "warnings",
    "record_due",
    "rest",
    "failed",
    "payload_bytes",
)
FAILED = STATUS.index("failed")
PAYLOAD_BYTES = STATUS.index("payload_bytes")
ENVELOPE = ("raise_low_ma", "raise_high_ma", "lower_low_ma", "lower_high_ma")


def checksum(values: "Iterable[int]") -> int:
    """Return a number below 2^30 that depends on every value and its place."""
    total = 0
    for value in values:
        total = (total * 31 + value) & 0x3FFFFFFF
    return total


def build(
    values: "dict[str, int]",
    kept: "Sequence[int] | None",
    boot: int,
    envelope: "Sequence[Sequence[int]] | None",
) -> "Controller":
    """Return a controller of this interpreter; raises ValueError as the core does."""
    from leafwinch.controller import Controller
    from leafwinch.settings_schema import settings_from

    settings = settings_from(values)
    if envelope is not None:
        for index in range(len(ENVELOPE)):
            setattr(settings, ENVELOPE[index], list(envelope[index]))
    return Controller(settings, None if kept is None else tuple(kept), boot)


def batch(core: "Controller", passes: "Sequence[int]", every: int) -> "array[int]":
    """Run many passes; return all outputs, then a checksum of the snapshot every few passes.

    passes: flat integers, four a pass; with negative contacts the record is noted as
    stored instead of a pass. every: passes between two checksums.
    """
    count = len(passes) // 4
    answer = array("i", [0] * (count + count // every))
    sums = count
    for index in range(count):
        at = index * 4
        if passes[at + 1] < 0:
            core.stored(passes[at])
        else:
            answer[index] = core.step(passes[at], passes[at + 1], passes[at + 2], passes[at + 3])
        if index % every == every - 1:
            answer[sums] = checksum(core.snapshot())
            sums += 1
    return answer


class Server:
    """Answers requests until the other side closes the pipe."""

    def __init__(self) -> None:
        self.core: "Controller | None" = None  # noqa: UP037 (no such class at run time)
        self.source: Any = sys.stdin.buffer
        self.sink = sys.stdout.buffer
        self.request = array("i", [0] * REQUEST_NUMBERS)
        self.status = array("i", [0] * len(STATUS))

    def read(self, length: int) -> bytes:
        """Read so many bytes; fewer at the end of the input."""
        data = b""
        while len(data) < length:
            more = self.source.read(length - len(data))
            if not more:
                break
            data += more
        return data

    def integers(self, length: int) -> "array[int]":
        """Read so many bytes as 32-bit integers."""
        return array("i", self.read(length))

    def answer(self, payload: bytes) -> None:
        """Send the status of the core, and the payload."""
        status = self.status
        core = self.core
        if core is not None:
            status[1] = core.state
            status[2] = core.fault
            status[3] = core.later_fault
            status[4] = core.held_reasons
            status[5] = core.refused
            status[6] = core.ended
            status[7] = core.warning
            status[8] = core.warnings
            status[9] = core.record_due
            status[10] = 1 if core.at_rest() else 0
        status[PAYLOAD_BYTES] = len(payload)
        self.sink.write(status)
        if payload:
            self.sink.write(payload)

    def serve(self) -> None:
        """Answer requests; a failing one is answered with its error in words."""
        request = self.request
        source = self.source
        while True:
            got = source.readinto(request)
            if got != 4 * REQUEST_NUMBERS:
                if not got:
                    return
                rest = bytes(request)[:got] + self.read(4 * REQUEST_NUMBERS - got)
                for index, value in enumerate(array("i", rest)):
                    request[index] = value
            if request[0] == STEP and self.core is not None:
                self.status[0] = self.core.step(request[1], request[2], request[3], request[4])
                self.answer(b"")
                continue
            self.status[FAILED] = 0
            try:
                self.answer(bytes(self.perform(request)))
            except Exception as error:
                self.status[FAILED] = 1
                self.answer((type(error).__name__ + ": " + str(error)).encode())

    def perform(self, request: "array[int]") -> "bytes | array[int]":
        """Perform any request but a step; return the payload of its answer."""
        operation = request[0]
        if operation == NEW:
            import json

            values, kept, boot, envelope = json.loads(self.read(request[1]).decode())
            self.core = build(values, kept, boot, envelope)
            self.status[0] = 0
        elif self.core is None:
            raise ValueError("no core was built yet")
        elif operation == BATCH:
            return batch(self.core, self.integers(request[1]), request[2])
        elif operation == SNAPSHOT:
            return array("i", self.core.snapshot())
        elif operation == RESTORE:
            self.core.restore(tuple(self.integers(request[1])))
        elif operation == RECORD:
            return array("i", self.core.record())
        elif operation == STORED:
            self.core.stored(request[1])
        else:
            raise ValueError("unknown operation " + str(operation))
        return b""


if __name__ == "__main__":
    sys.path.insert(0, sys.argv[1])
    Server().serve()
