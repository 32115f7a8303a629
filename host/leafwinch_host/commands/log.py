"""`leafwinch log`: keeps every line that a board sends, as it came."""

import argparse
import os
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from leafwinch_host.board.link import BoardLink
from leafwinch_host.board.ports import chosen_port
from leafwinch_host.board.serial_lines import Counted, Line
from leafwinch_host.commands.options import seconds
from leafwinch_host.screen import progress_screen, screen
from leafwinch_wiring.errors import BadInput

SYNC_S = 1.0


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "log",
        help="append every line that a board sends to a file",
        description="Appends every good line that a board sends to a file, each with the time at "
        "which it came, and brings it safely to disk every second. Nothing is sent to the board.",
        allow_abbrev=False,
    )
    parser.add_argument("--port", metavar="PORT", help="serial port (default: the only one)")
    parser.add_argument("--output", "-o", required=True, type=Path, metavar="FILE")
    parser.add_argument("--seconds", type=seconds, metavar="S", help="stop after that")
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Record until time is over or the keyboard stops it; always returns 0.

    Raises:
        BadInput: port or file can't be used; what was recorded before stays.
    """
    until = None if arguments.seconds is None else time.monotonic() + arguments.seconds
    with BoardLink(chosen_port(arguments.port)) as link:
        link.must_run()
        try:
            with arguments.output.open("ab") as file:
                _record(link, file, until)
        except OSError as error:
            raise BadInput(f"{arguments.output}: can't be written ({error.strerror}).") from None
        screen().print(summary(link.reader.counted, arguments.output), highlight=False)
    return 0


def summary(counted: Counted, path: Path) -> str:
    """Return in one sentence what was recorded and what was not."""
    return (
        f"{counted.lines} lines recorded in {path}; {counted.missing} trace lines missing, "
        f"{counted.bad} bad lines."
    )


def stamped(line: Line, moment: datetime) -> bytes:
    """Return what is kept of a line: the time it came, in UTC, and its text."""
    return f"{moment.isoformat(timespec='milliseconds')} {line.text}\n".encode("ascii")


def _record(link: BoardLink, file: Any, until: float | None) -> None:
    synced = time.monotonic()
    screen_of_progress = progress_screen()
    with screen_of_progress.status("recording, Ctrl-C ends it") as status:
        try:
            while until is None or time.monotonic() < until:
                moment = datetime.now(UTC)
                for line in link.read():
                    file.write(stamped(line, moment))
                if time.monotonic() - synced >= SYNC_S:
                    synced = time.monotonic()
                    _sync(file)
                    status.update(f"recording, {link.reader.counted.lines} lines; Ctrl-C ends it")
        except KeyboardInterrupt:
            pass
        finally:
            _sync(file)


def _sync(file: Any) -> None:
    file.flush()
    os.fsync(file.fileno())
