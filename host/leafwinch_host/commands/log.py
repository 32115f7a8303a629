"""`leafwinch log`: keeps every line that a board sends, as it came."""

import argparse
import time
from pathlib import Path
from typing import Any

from rich.live import Live

from leafwinch_host.board.ports import chosen_port, open_port
from leafwinch_host.commands.options import seconds
from leafwinch_host.files import check_target
from leafwinch_host.recording.panel import Levels, Progress, panel
from leafwinch_host.recording.recorder import Recorder, at_a_fresh_line
from leafwinch_host.recording.storage import RealDisk, Storage
from leafwinch_host.screen import progress_screen, screen
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput

SHOW_S = 0.2


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "log",
        help="append every line that a board sends to a file",
        description="Appends every line that a board sends to a file, each with the time at "
        "which it came, bad ones marked, and brings it safely to disk every second. It goes on "
        "by itself when the cable was pulled or the disk was full. Nothing is sent to the board. "
        "'leafwinch trace' reads the file.",
        allow_abbrev=False,
    )
    parser.add_argument("--port", metavar="PORT", help="serial port (default: the only one)")
    parser.add_argument("--output", "-o", required=True, type=Path, metavar="FILE")
    parser.add_argument("--seconds", type=seconds, metavar="S", help="stop after that")
    parser.add_argument(
        "--site", metavar="NAME|FILE", help="show the current against the trip level of this site"
    )
    parser.add_argument("--quiet", action="store_true", help="show nothing while it records")
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Record until time is over or the keyboard stops it; always returns 0.

    Raises:
        BadInput: port or file can't be used; what was recorded before stays.
    """
    levels = Levels() if arguments.site is None else Levels(_trip_a(arguments.site))
    name = chosen_port(arguments.port)
    check_target("--output", arguments.output)
    port = at_a_fresh_line(open_port(name))  # before the file, so that a wrong name leaves none
    until = None if arguments.seconds is None else time.monotonic() + arguments.seconds
    with (
        Storage(RealDisk(arguments.output)) as storage,
        Recorder(name, storage, port=port) as recorder,
    ):
        try:
            recorder.must_hear()
            _record(recorder, levels, until, arguments.quiet)
        except KeyboardInterrupt:
            pass
    if storage.error:
        raise BadInput(f"{arguments.output}: can't be written ({storage.error}).")
    screen().print(summary(recorder, arguments.output), highlight=False, markup=False)
    return 0


def summary(recorder: Recorder, path: Path) -> str:
    """Return in one sentence what was recorded and what was not."""
    tally = recorder.tally
    words = (
        f"{tally.lines} lines recorded in {path}; {tally.missing} trace lines missing, "
        f"{tally.bad} bad lines"
    )
    if recorder.pulled:
        words += f", port lost {recorder.pulled} times"
    lost = recorder.storage.lost + recorder.storage.unwritten
    if lost:
        words += f", {lost} lines not kept because the disk was full"
    return words + "."


def _trip_a(site: str) -> float | None:
    trip_ma = load_site(site).settings.get("trip_ma")
    return None if trip_ma is None else trip_ma / 1000


def _record(recorder: Recorder, levels: Levels, until: float | None, quiet: bool) -> None:
    console = progress_screen()
    if quiet or not console.is_terminal:
        while until is None or time.monotonic() < until:
            recorder.step()
        return
    progress = Progress()
    shown = 0.0
    with Live(console=console, auto_refresh=False) as live:
        while until is None or time.monotonic() < until:
            recorder.step()
            if time.monotonic() - shown >= SHOW_S:
                shown = time.monotonic()
                live.update(panel(recorder, progress, levels), refresh=True)
