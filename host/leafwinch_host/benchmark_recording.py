"""How many lines a second the recorder reads, checks and keeps, through a pseudo-terminal.

A process beside it writes as fast as the terminal takes them; every line must arrive. A board
sends 100 a second, so this is how far the recorder is from ever being the one who loses some.
"""

import binascii
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from leafwinch_host.board.serial_lines import CRC_START, SEQUENCE_MASK
from leafwinch_host.recording.recorded import read_recording
from leafwinch_host.recording.recorder import Recorder
from leafwinch_host.recording.storage import RealDisk, Storage
from leafwinch_host.recording.stream import Tally
from leafwinch_host.virtual_ports import PseudoTerminal
from leafwinch_wiring.errors import BadInput

LINES = 300_000
LEAST = 60_000  # lines a second
SILENT_S = 10.0  # nothing more is coming
TEXT = "T {:04X} {:08X} 073F6 03 2 00 0000 010 +005100 24000 00 00"
WRITER = """
import os, sys
end, path = int(sys.argv[1]), sys.argv[2]
data = memoryview(open(path, "rb").read())
os.set_blocking(end, True)
while data:
    data = data[os.write(end, data[:65536]):]
"""


def line(number: int) -> bytes:
    """Return a trace line of a moving deck."""
    text = TEXT.format(number & SEQUENCE_MASK, number * 10).encode("ascii")
    return text + b"%04X\r\n" % binascii.crc_hqx(text, CRC_START)


def measure(lines: int = LINES) -> list[dict[str, Any]]:
    """Record so many lines and read them back; return rows as the other benchmarks do.

    Raises:
        BadInput: lines were lost, or there are no pseudo-terminals here.
    """
    with TemporaryDirectory() as folder:
        target = Path(folder, "x.log")
        tally, seconds = record(lines, Path(folder), target)
        if (tally.samples, tally.missing, tally.bad) != (lines, 0, 0):
            raise BadInput(
                f"Of {lines} lines {tally.samples} arrived, {tally.missing} missing, "
                f"{tally.bad} bad: this machine is too slow or broken."
            )
        begun = time.perf_counter()
        recorded = read_recording(target)
        read_s = time.perf_counter() - begun
    if len(recorded) != lines or recorded.gaps:
        raise BadInput(f"Of {lines} lines recorded {len(recorded)} could be read back.")
    return [
        _row("lines recorded and checked", lines / seconds, "lines / s"),
        _row("recorded lines read back", lines / read_s, "lines / s"),
    ]


def record(lines: int, folder: Path, target: Path) -> tuple[Tally, float]:
    """Record what a process writes; return the tally, and seconds from first to last line."""
    source = folder / "source"
    source.write_bytes(b"".join(line(number) for number in range(lines)))
    terminal = PseudoTerminal()
    try:
        with Storage(RealDisk(target)) as storage, Recorder(terminal.path, storage) as recorder:
            with _writing(terminal, source):
                while not recorder.step():
                    pass
                begun = last = time.perf_counter()
                while recorder.tally.samples < lines and time.perf_counter() - last < SILENT_S:
                    if recorder.step():
                        last = time.perf_counter()
            return recorder.tally, last - begun
    finally:
        terminal.close()


@contextmanager
def _writing(terminal: PseudoTerminal, source: Path) -> Iterator[None]:
    process = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(terminal.end), str(source)], pass_fds=(terminal.end,)
    )
    try:
        yield
    finally:
        process.kill()
        process.wait()
        os.set_blocking(terminal.end, False)


def _row(what: str, value: float, unit: str) -> dict[str, Any]:
    return {
        "part": "recorder",
        "what": what,
        "site": "",
        "build": "plain",
        "value": value,
        "unit": unit,
    }


def main() -> int:
    """Measure and print the rows as JSON; return 0, or 1 below LEAST lines a second."""
    rows = measure()
    json.dump(rows, sys.stdout)
    print()
    return 0 if rows[0]["value"] >= LEAST else 1


if __name__ == "__main__":
    sys.exit(main())
