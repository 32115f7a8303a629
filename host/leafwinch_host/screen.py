"""The terminal: one place decides on colour, width and where messages go."""

import sys

from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TextColumn,
    TimeElapsedColumn,
    TimeRemainingColumn,
)

WIDTH_WHEN_PIPED = 100


def screen() -> Console:
    """Return the console for results (standard output)."""
    return _console(sys.stdout.isatty(), stderr=False)


def progress_screen() -> Console:
    """Return the console for progress, so that results can be piped without it."""
    return _console(sys.stderr.isatty(), stderr=True)


def progress_bar() -> Progress:
    """Return a bar that shows how much is done and how long the rest will take."""
    return Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("left"),
        TimeRemainingColumn(compact=True),
        TextColumn("gone"),
        TimeElapsedColumn(),
        console=progress_screen(),
    )


def _console(terminal: bool, stderr: bool) -> Console:
    # Without a terminal there is no width to ask for, and 80 letters would fold the tables.
    width = None if terminal else WIDTH_WHEN_PIPED
    return Console(stderr=stderr, highlight=False, width=width, soft_wrap=False)
