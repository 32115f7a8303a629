"""What catches a seeded bug: scenario, reference model, exploration, random sequences.

`python -m tests.seeded_bugs.catching` tries all methods on all bugs, which takes minutes. It
writes what it found to caught.toml beside this file, and the table of README.md from that.
"""

import argparse
import functools
import random
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.progress import track

from leafwinch_sim.explore.exploration import caught_by_exploration
from tests.firmware.drive import Drive
from tests.firmware.random_walk import wander
from tests.firmware.scenarios_faults import LONG, QUICK, WARM, quick
from tests.reference_model.pair import Disagreement, Pair
from tests.seeded_bugs.bugs import BUGS, Bug
from tests.seeded_bugs.patched import Make, maker_of
from tests.sequences.search import caught_by_sequences

README = Path(__file__).with_name("README.md")
CAUGHT = Path(__file__).with_name("caught.toml")
WALKS = 5
CHANGES = 50
MEDLEY = (QUICK, WARM, quick(start_allow_ms=0, current_signed=1), LONG)


def scenario_fails(bug: Bug, make: Make) -> bool:
    """Tell whether the stored scenario of the bug fails with this core."""
    try:
        Drive(bug.values, make).play(bug.scenario)
    except ValueError:
        return True
    return False


class Parted(Exception):  # noqa: N818 - it is a finding
    """The core does something else than the real one."""


class Noting(Drive):
    """Writes down after every pass whatever the model could have been told or asked."""

    rows: list[tuple[Any, ...]]

    def tick(self) -> int:
        out = super().tick()
        core: Any = self.core
        self.note((out, core.state, core.fault, core.record_due, core.thermal.level, self.kept))
        return out

    def note(self, row: tuple[Any, ...]) -> None:
        """Keep a row."""
        self.rows.append(row)


class Following(Noting):
    """Compares its passes with rows that another core left, the first of them at the end."""

    def note(self, row: tuple[Any, ...]) -> None:
        """Compare a row with the one that is due."""
        if not self.rows or self.rows.pop() != row:
            raise Parted


def walked(drive: type[Noting], seed: int, make: Make, rows: list[tuple[Any, ...]]) -> None:
    """Play one of the random drives; rows are those of the drive."""
    played = drive(MEDLEY[seed % len(MEDLEY)], make)
    played.rows = rows
    wander(played, random.Random(seed), CHANGES)


@functools.cache
def real_rows(seed: int) -> tuple[tuple[Any, ...], ...] | None:
    """Return what the real core does in a random drive, or None where the model parts from it."""
    rows: list[tuple[Any, ...]] = []
    try:
        walked(Noting, seed, Pair, rows)
    except (Disagreement, ValueError):
        return None
    return tuple(rows)


def does_as_the_real_core(make: Make, seed: int) -> bool:
    """Tell whether a core does exactly what the real one does, which agrees with the model.

    The model need not be asked then: it would be told the same and say the same.
    """
    expected = real_rows(seed)
    if expected is None:
        return False
    left = list(reversed(expected))
    try:
        walked(Following, seed, make, left)
    except Exception:
        return False
    return not left


def model_disagrees(make: Make) -> bool:
    """Tell whether bounded random drives with fixed seeds part the core from the model."""
    for seed in range(WALKS):
        if does_as_the_real_core(make, seed):
            continue
        drive = Drive(MEDLEY[seed % len(MEDLEY)], functools.partial(Pair, make=make))
        try:
            wander(drive, random.Random(seed), CHANGES)
        except (Disagreement, ValueError):
            return True
    return False


def sequences_find(make: Make) -> bool:
    """Tell whether random sequences on the bench break a requirement."""
    return caught_by_sequences(make) is not None


# The methods that know nothing of the bug: heading of the column, what it does.
METHODS: dict[str, tuple[str, Callable[[Make], bool]]] = {
    "model": ("reference model, random drive", model_disagrees),
    "exploration": ("exploration", caught_by_exploration),
    "sequences": ("random sequences on the bench", sequences_find),
}


@functools.cache
def caught_by_model() -> dict[str, bool]:
    """Return for every bug whether the reference model catches it."""
    return {bug.name: model_disagrees(maker_of(bug)) for bug in BUGS}


def kept() -> dict[str, dict[str, bool]]:
    """Return what caught.toml says: by name of the bug, by method."""
    with CAUGHT.open("rb") as file:
        table: dict[str, dict[str, bool]] = tomllib.load(file)
    return table


def caught_text(table: dict[str, dict[str, bool]]) -> str:
    """Return the text of caught.toml."""
    lines = ["# What each method found. Made by `python -m tests.seeded_bugs.catching`."]
    for name, row in table.items():
        cells = ", ".join(f"{method} = {str(row[method]).lower()}" for method in METHODS)
        lines.append(f'"{name}" = {{ {cells} }}')
    return "\n".join(lines) + "\n"


def readme(table: dict[str, dict[str, bool]]) -> str:
    """Return the table of what catches which bug."""
    counts = {method: sum(row[method] for row in table.values()) for method in METHODS}
    heads = " | ".join(head for head, _ in METHODS.values())
    lines = [
        "# Seeded bugs",
        "",
        "Bugs put into the control core on purpose (`bugs.py`), to prove that the tests would",
        "notice them. Every one is caught by its stored scenario, a contact script of seconds",
        "that the suite plays with and without it. The other methods know nothing of the bugs:",
        "",
        f"* the reference model beside the core in {WALKS} random drives with fixed seeds: it",
        f"  alone catches {counts['model']} of {len(table)};",
        "* the exploration of every reachable state, which checks R1, R3, R4, R5 and R7 on every",
        f"  transition: it alone catches {counts['exploration']};",
        "* random sequences with the bench around the core, which check all requirements: they",
        f"  alone catch {counts['sequences']}.",
        "",
        f"| bug | file | stored scenario | {heads} |",
        "| --- | --- | --- |" + " --- |" * len(METHODS),
    ]
    for bug in BUGS:
        row = table[bug.name]
        cells = " | ".join("caught" if row[method] else "-" for method in METHODS)
        lines.append(f"| {bug.name} | `{bug.file}` | caught | {cells} |")
    lines += ["", "Made by `python -m tests.seeded_bugs.catching`."]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Try the methods on every bug and write both files, the first of them after each bug."""
    parser = argparse.ArgumentParser(prog="python -m tests.seeded_bugs.catching")
    parser.add_argument("--method", action="append", choices=METHODS, help="left out: all")
    parser.add_argument("--missing", action="store_true", help="only what was not caught before")
    options = parser.parse_args()
    methods = options.method or list(METHODS)
    before = kept() if CAUGHT.is_file() else {}
    table = {bug.name: dict.fromkeys(METHODS, False) | before.get(bug.name, {}) for bug in BUGS}
    for bug in track(BUGS, "Methods against bugs", console=Console(file=sys.stderr)):
        make = maker_of(bug)
        row = table[bug.name]
        for method in methods:
            row[method] = (options.missing and row[method]) or METHODS[method][1](make)
        CAUGHT.write_text(caught_text(table), encoding="utf-8")
    README.write_text(readme(table), encoding="utf-8")


if __name__ == "__main__":
    main()
