"""The `leafwinch` command: reads the arguments, runs one command, returns its exit code.

Exit codes: 0 everything asked for holds, 1 a requirement is broken, 2 bad input,
130 interrupted from the keyboard.
"""

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from typing import NoReturn

from leafwinch_host import version
from leafwinch_wiring.errors import BadInput

COMMANDS = (
    "new",
    "size",
    "wire",
    "bench",
    "run",
    "replay",
    "prove",
    "explore",
    "report",
    "healthy",
    "sites",
    "card",
    "virtual",
    "board",
    "log",
    "commission",
    "trace",
    "explain",
    "upkeep",
)
"""Every command, in the order in which help lists them; each is a module of `commands`."""

EXIT_BAD_INPUT = 2
EXIT_INTERRUPTED = 130
EXIT_NOBODY_READS = 141  # what a shell reports for a program whose reader has gone


class OneSentenceParser(argparse.ArgumentParser):
    """An argument parser that answers a mistake with one sentence, like every other bad input."""

    def error(self, message: str) -> NoReturn:
        """Raise BadInput instead of printing a page of usage."""
        raise BadInput(f"{self.prog}: {message}; '{self.prog} --help' lists what is allowed.")


def build_parser(wanted: Sequence[str] = COMMANDS) -> argparse.ArgumentParser:
    """Return the parser of the command line, all of it or only some commands.

    Loading what one command needs takes a fraction of the time that all take.
    """
    parser = OneSentenceParser(
        prog="leafwinch",
        description="Simulates and proves the drive of a rope winch that folds a two-leaf floor "
        "against a wall, with the firmware that runs on the board.",
        epilog="Everything here is a simulation: nothing was measured on a physical board. "
        "Local codes and a licensed electrician decide what may be built.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"leafwinch {version()}")
    commands = parser.add_subparsers(
        dest="command", metavar="COMMAND", parser_class=OneSentenceParser
    )
    for name in wanted:
        importlib.import_module(f"leafwinch_host.commands.{name}").add_to(commands)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return the exit code of the process."""
    words = sys.argv[1:] if arguments is None else arguments
    asked = words[0] if words else ""
    wanted = [name for name in COMMANDS if name == asked] or COMMANDS
    parser = build_parser(() if asked == "--version" else wanted)
    try:
        chosen = parser.parse_args(words)
        if chosen.command is None:
            parser.print_help()
            return EXIT_BAD_INPUT
        code: int = chosen.handler(chosen)
        sys.stdout.flush()
        return code
    except BadInput as error:
        print(f"leafwinch: {one_line(str(error))}", file=sys.stderr)
        return EXIT_BAD_INPUT
    except KeyboardInterrupt:
        print("leafwinch: stopped from the keyboard.", file=sys.stderr)
        return EXIT_INTERRUPTED
    except BrokenPipeError:
        # Whoever read the output has gone. Without this the interpreter complains at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return EXIT_NOBODY_READS


def one_line(sentence: str) -> str:
    """Fold line breaks, which a name or value found in a file may contain."""
    return " ".join(sentence.split())
