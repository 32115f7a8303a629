"""Runs one command by itself, with the command line's own parser and its way to refuse."""

import sys
from types import ModuleType

import pytest

from leafwinch_host.cli import EXIT_BAD_INPUT, OneSentenceParser, one_line
from leafwinch_wiring.errors import BadInput
from tests.host.command import Said


def one_command(capsys: pytest.CaptureFixture[str], command: ModuleType, *arguments: str) -> Said:
    """Run a module of `leafwinch_host.commands` with these arguments, its name first."""
    capsys.readouterr()
    parser = OneSentenceParser(prog="leafwinch", allow_abbrev=False)
    command.add_to(parser.add_subparsers(parser_class=OneSentenceParser))
    try:
        chosen = parser.parse_args(arguments)
        code: int = chosen.handler(chosen)
    except BadInput as error:
        print(f"leafwinch: {one_line(str(error))}", file=sys.stderr)
        code = EXIT_BAD_INPUT
    captured = capsys.readouterr()
    return Said(code, captured.out, captured.err)
