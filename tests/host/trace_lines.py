"""Makes the lines of a board from a bench run, with the firmware's own writer of lines."""

import binascii
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from leafwinch.edge.trace import Trace
from leafwinch_host.recording.storage import stamp
from leafwinch_host.recording.stream import Stream
from leafwinch_sim.bench import Bench
from leafwinch_sim.observation import Observation
from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import load_site

BEGUN = datetime(2025, 5, 1, 8, 0, 0, tzinfo=UTC)  # invented


class Kept:
    """Stands in for the board's keeper: counters at zero, no trace of a fault."""

    def __init__(self) -> None:
        self.counters = [0] * 64
        self.fault_trace = self

    def sample(self, _first: int, _second: int) -> None:
        """Forget a sample."""


class Wire:
    """Takes every line, with the bench time at which it came."""

    def __init__(self) -> None:
        self.sent: list[tuple[int, bytes]] = []
        self.t_ms = 0

    def ready(self) -> bool:
        """There is always room."""
        return True

    def write(self, line: bytearray) -> None:
        """Keep a line."""
        self.sent.append((self.t_ms, bytes(line)))

    def receive(self) -> int:
        """Nobody types."""
        return -1


class Writer:
    """An observer of a run that lets the firmware's trace write its lines."""

    def __init__(self) -> None:
        self.wire = Wire()
        self._trace: Trace | None = None

    def __call__(self, bench: Bench, o: Observation) -> None:
        """See leafwinch_sim.run.Observer."""
        if bench.board is None or not o.board_on:
            return
        core: Any = bench.board.controller
        if self._trace is None or self._trace.controller is not core:
            kept: Any = Kept()
            self._trace = Trace(core, kept, self.wire, "leafwinch bench")
        self.wire.t_ms = o.t_ms
        self._trace.step(o.contacts, o.outputs, o.supply_mv)


def lines_of_run(
    site: str = "workshop-pit", script: str = "full-cycle", **options: Any
) -> list[tuple[int, bytes]]:
    """Play a script; return (bench time in ms, line of 64 bytes)."""
    writer = Writer()
    run_script(load_site(site), load_script(script), trace=False, observer=writer, **options)
    return writer.wire.sent


def recording_of(lines: Iterable[tuple[int, bytes]]) -> bytes:
    """Return lines as a recording has them, as if the run had begun at BEGUN."""
    stream = Stream()
    kept = []
    for t_ms, line in lines:
        front = stamp(BEGUN + timedelta(milliseconds=t_ms)) + b" "
        for body in stream.feed(line):
            if body.startswith(b"# "):
                kept.append(b"# " + front + body[2:] + b"\n")
            else:
                kept.append(front + body + b"\n")
    return b"".join(kept)


def written(path: Path, lines: Iterable[tuple[int, bytes]]) -> Path:
    """Write lines as a recording."""
    path.write_bytes(recording_of(lines))
    return path


def trace_line(sequence: int, t_ms: int, **fields: int) -> bytes:
    """Return a trace line of a deck at rest, by the page; fields change its columns."""
    f = {"contacts": 0x07FE3, "state": 1, "fault": 0, "held": 0, "reasons": 0, "ma": 0} | fields
    text = (
        f"T {sequence & 0xFFFF:04X} {t_ms & 0x3FFFFFFF:08X} {f['contacts']:05X} 00 {f['state']} "
        f"{f['fault']:02d} {f['held']:04X} {f['reasons']:03X} {f['ma']:+07d} 24000 00 00"
    ).encode("ascii")
    return text + b"%04X\r\n" % binascii.crc_hqx(text, 0xFFFF)


def changed_line(line: bytes, at: int, text: bytes) -> bytes:
    """Return a line with some characters replaced and its check sum made anew."""
    body = line[:at] + text + line[at + len(text) : 58]
    return body + b"%04X\r\n" % binascii.crc_hqx(body, 0xFFFF)
