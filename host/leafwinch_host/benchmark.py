"""How fast bench, core and firmware are on this machine (`make benchmark`).

Measures each build in a process of its own, prints them side by side with their ratio and
writes `out/benchmark.json`.
"""

import json
import os
import platform
import subprocess
import sys
from pathlib import Path
from typing import Any

from rich.table import Table

from leafwinch_host import benchmark_board, benchmark_recording, version
from leafwinch_host.compiled import CHOICES, STAMP, VARIABLE
from leafwinch_host.files import write_json
from leafwinch_host.screen import screen
from leafwinch_wiring.errors import BadInput

RESULT = Path("out/benchmark.json")


def main() -> int:
    """Measure, print, write; return 0, or 1 where a measurement could not be made."""
    rows: list[dict[str, Any]] = []
    for build in CHOICES:
        if build == "compiled" and not STAMP.is_file():
            screen().print("There is no compiled build here; 'make compiled' makes it.")
            continue
        screen().print(f"Measuring the {build} build ...")
        done = subprocess.run(
            [sys.executable, "-m", "leafwinch_host.benchmark_rows"],
            env={**os.environ, VARIABLE: build},
            stdout=subprocess.PIPE,
            check=False,
        )
        if done.returncode:
            return 1
        rows += json.loads(done.stdout)
    rows += recording_rows()
    show(rows)
    board = board_figures()
    RESULT.parent.mkdir(exist_ok=True)
    write_json(RESULT, {"figures": rows, "board": board, "machine": machine()})
    return 0


def recording_rows() -> list[dict[str, Any]]:
    """Measure how many lines the recorder takes; nothing where there are no pseudo-terminals."""
    screen().print("Measuring the recorder ...")
    try:
        return benchmark_recording.measure()
    except BadInput as absent:
        screen().print(f"Not measured: {absent}")
        return []


def board_figures() -> dict[str, Any] | None:
    """Measure and print what a pass costs, with an estimate for a small board; None if it can't."""
    screen().print("Measuring the board's program ...")
    try:
        found = benchmark_board.measure()
    except BadInput as absent:
        screen().print(f"Not measured: {absent}")
        return None
    benchmark_board.show(found)
    return found


def machine() -> dict[str, str]:
    """Return what the figures were measured with."""
    return {
        "leafwinch": version(),
        "python": platform.python_version(),
        "system": platform.system(),
        "processor": platform.machine(),
    }


def show(rows: list[dict[str, Any]]) -> None:
    """Print plain and compiled side by side; all figures are for one processor core."""
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="bold")
    for heading in ("Part", "Figure", "Site"):
        table.add_column(heading)
    for heading in (*CHOICES, "ratio"):
        table.add_column(heading, justify="right")
    table.add_column("Unit")
    found: dict[tuple[str, ...], dict[str, float]] = {}
    for entry in rows:
        name = (entry["part"], entry["what"], entry["site"], entry["unit"])
        found.setdefault(name, {})[entry["build"]] = entry["value"]
    for (part, what, site, unit), values in found.items():
        cells = [_number(values.get(build)) for build in CHOICES]
        cells.append(_ratio(values.get("plain"), values.get("compiled"), unit))
        table.add_row(part, what, site, *cells, unit)
    screen().print(table)


def _number(value: float | None) -> str:
    if value is None:
        return "-"
    return f"{value:.0f}" if value >= 100 else f"{value:.2f}"


def _ratio(plain: float | None, compiled: float | None, unit: str) -> str:
    """Return how many times faster the compiled build is."""
    if not plain or not compiled:
        return "-"
    ratio = plain / compiled if unit == "us" else compiled / plain
    return f"{ratio:.1f}"


if __name__ == "__main__":
    sys.exit(main())
