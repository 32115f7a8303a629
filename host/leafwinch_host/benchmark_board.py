"""What a pass costs, and an estimate for a small board, from the desktop MicroPython.

The firmware as the builder makes it is timed there, once as plain compiled code and once with its
hot modules as machine code. A pass is then scaled to an RP2040 at 125 MHz: its calls by what a
call takes there, and the rest as the time for twenty conditions. Those two were taken on an
emulated processor, give or take a third; nothing was ever measured on a physical board.
"""

import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from rich.table import Table

from leafwinch_host.firmware_build import build_program
from leafwinch_host.firmware_build.build import HOT
from leafwinch_host.firmware_build.closure import firmware_folder
from leafwinch_host.screen import screen
from leafwinch_sim.lockstep import micropython_command
from leafwinch_wiring.errors import BadInput

# More kinds of passes, or more parts, are rows of benchmark_pass.py.
PLAYER = Path(__file__).with_name("benchmark_pass.py")
HEAP = "8m"
KINDS = {"plain": "bytecode", "hot": "machine code"}  # how the hot modules are compiled
PARTS = {"core": "core", "whole": "core and edge"}
WHAT = ("at rest", "raising", "with a fault")

# An emulated RP2040 at 125 MHz, in us: an empty call; twenty conditions on a local, none true.
CALL_US = 26.0
IFS_US = 80.0  # 65 to 95

# What no desktop shows of a pass, on the same emulated processor.
NOT_INCLUDED = (
    "Not in it: 5 interrupts of the sampling (35 us and their body each), 47 us for each look"
    " at the serial line, 7 us for each pin that is set."
)


@dataclass(frozen=True, slots=True)
class Desktop:
    """What the desktop's interpreter takes, in us: an empty call, twenty conditions."""

    call_us: float
    ifs_us: float


@dataclass(frozen=True, slots=True)
class PassCost:
    """One pass of a part of the program.

    Attributes:
        part: core, or core and edge.
        what: what the drive does.
        desktop_us: on this machine, by kind of compiled code.
        calls: functions written in Python that it calls, the mean.
        calls_most: in one pass of those counted.
        bytes: heap that it takes for good, by kind.
        board_ms: estimate for an RP2040 at 125 MHz, by kind.
    """

    part: str
    what: str
    desktop_us: dict[str, float]
    calls: float
    calls_most: int
    bytes: dict[str, float]
    board_ms: dict[str, float]


def estimate_ms(desktop_us: float, calls: float, desktop: Desktop) -> float:
    """Return the estimate for an RP2040 of plain compiled code, in ms.

    Calls are taken out at the desktop's price and put in at the board's; the rest is scaled by the
    ratio of twenty conditions. Fast functions on bytes are scaled alike, though they gain more.
    """
    rest_us = max(0.0, desktop_us - calls * desktop.call_us)
    return (calls * CALL_US + rest_us * IFS_US / desktop.ifs_us) / 1000.0


def measure() -> dict[str, Any]:
    """Build, time and count; return all figures, ready for JSON.

    Raises:
        BadInput: no desktop MicroPython here, or the compiler is missing.
        subprocess.CalledProcessError: a process failed; its words are on standard error.
    """
    counts = _count()
    times: dict[str, dict[str, float]] = {}
    heap: dict[str, dict[str, float]] = {name: {} for name in PARTS.values()}
    with TemporaryDirectory() as folder:
        for kind in KINDS:
            program = build_program("desktop", hot=HOT if kind == "hot" else ())
            program.write(Path(folder, kind))
            times[kind] = _played(Path(folder, kind), "time")
            for part, name in PARTS.items():
                heap[name][kind] = _played(Path(folder, kind), part)["heap"]
    desktop = Desktop(times["plain"]["empty call"], times["plain"]["20 ifs"])
    passes = [_cost(part, what, times, counts, desktop) for part in PARTS for what in WHAT]
    return {
        "passes": [_row(cost) for cost in passes],
        "heap_bytes": heap,
        "machine_code_bytes": machine_code_bytes("rp2040"),
        "desktop": {
            name: times["plain"][name] for name in ("empty call", "turn of a loop", "20 ifs")
        },
        "scale": {"call_us": CALL_US, "ifs_us": IFS_US},
    }


def machine_code_bytes(target: str) -> int:
    """Return the size of the files that hold machine code, which a board keeps in its heap."""
    files = build_program(target).files
    names = {f"{name.replace('.', '/')}.mpy" for name in HOT}
    return sum(len(data) for name, data in files.items() if name in names)


def show(found: dict[str, Any]) -> None:
    """Print what was measured."""
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="bold")
    for heading in ("Pass", "the drive is"):
        table.add_column(heading)
    for heading in ("calls (most)", "us here", "bytes", "ms on an RP2040"):
        table.add_column(heading, justify="right")
    for row in found["passes"]:
        here = " / ".join(f"{row['desktop_us'][kind]:.2f}" for kind in KINDS)
        board = " / ".join(f"{row['board_ms'][kind]:.2f}" for kind in KINDS)
        taken = max(row["bytes"].values())
        calls = f"{row['calls']:.0f} ({row['calls_most']})"
        table.add_row(row["part"], row["what"], calls, here, f"{taken:.0f}", board)
    screen().print(table)
    measures = ", ".join(f"{name} {value:.3f} us" for name, value in found["desktop"].items())
    for sentence in (
        f"Left: {KINDS['plain']}, right: hot modules as {KINDS['hot']}. Here: {measures}.",
        f"Estimated for 125 MHz: calls x {CALL_US:.0f} us, the rest x {IFS_US:.0f} us for 20 ifs,"
        " taken on an emulated processor, +/- 30 %; machine code by the ratio seen here."
        " Never measured on a board.",
        NOT_INCLUDED,
        *(_heap_words(name, kinds) for name, kinds in found["heap_bytes"].items()),
        f"The machine code for an RP2040 adds up to {found['machine_code_bytes'] / 1024:.0f} KiB.",
    ):
        screen().print(sentence)


def main() -> int:
    """Measure and print the board's part alone; return 0, or 2 where it can't be measured."""
    try:
        show(measure())
    except BadInput as absent:
        print(f"Not measured: {absent}", file=sys.stderr)
        return 2
    return 0


def _heap_words(name: str, kinds: dict[str, float]) -> str:
    plain, hot = (kinds[kind] / 1024 for kind in KINDS)
    return (
        f"Heap of {name}: {plain:.1f} KiB, with machine code outside of it {hot:.1f} KiB"
        " (64-bit objects, about twice a board's)."
    )


def _cost(
    part: str,
    what: str,
    times: dict[str, dict[str, float]],
    counts: dict[str, float],
    desktop: Desktop,
) -> PassCost:
    us = {kind: times[kind][f"{part} {what}"] for kind in KINDS}
    calls = counts[f"{part} {what}"]
    plain_ms = estimate_ms(us["plain"], calls, desktop)
    return PassCost(
        part=PARTS[part],
        what=what,
        desktop_us=us,
        calls=calls,
        calls_most=int(counts[f"{part} most {what}"]),
        bytes={kind: times[kind][f"{part} bytes {what}"] for kind in KINDS},
        board_ms={kind: plain_ms * us[kind] / us["plain"] for kind in KINDS},
    )


def _row(cost: PassCost) -> dict[str, Any]:
    return {name: getattr(cost, name) for name in PassCost.__slots__}


def _count() -> dict[str, float]:
    """Count the calls of each kind of pass, with the sources under this interpreter."""
    # The processes see only what is given to them, and no compiled build.
    return _figures([sys.executable, "-I", str(PLAYER), str(firmware_folder()), "count"])


def _played(program: Path, job: str) -> dict[str, float]:
    return _figures([*micropython_command(HEAP), str(PLAYER), str(program), job])


def _figures(command: Sequence[str]) -> dict[str, float]:
    """Run a process that prints 'name<TAB>number' lines; MicroPython's errors show as others."""
    done = subprocess.run(
        command, capture_output=True, text=True, timeout=300, check=False, env={**os.environ}
    )
    rows = [line.split("\t") for line in done.stdout.splitlines()]
    if done.returncode or not rows or any(len(row) != 2 for row in rows) or done.stderr:
        print(done.stdout[-500:], done.stderr[-1500:], file=sys.stderr)
        raise subprocess.CalledProcessError(done.returncode or 1, list(command))
    return {name: float(number) for name, number in rows}


if __name__ == "__main__":
    sys.exit(main())
