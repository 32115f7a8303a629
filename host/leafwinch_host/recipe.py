"""The line that a proof prints for each break, and that repeats it."""

import argparse
import shlex

from leafwinch_wiring.errors import BadInput

RECIPE = "leafwinch run "
"""How such a line begins."""


def recipe_of(line: str) -> argparse.Namespace:
    """Return the arguments of `leafwinch run` in a line.

    Raises:
        BadInput: the line is not such a command.
    """
    # The command line knows the commands that ask for this, so it must be there first.
    from leafwinch_host.cli import build_parser

    try:
        words = shlex.split(line)
    except ValueError as error:
        raise BadInput(f"The line is not a command: {error}.") from None
    if words[:2] != RECIPE.split():
        raise BadInput(f"The line is not a command that begins with '{RECIPE.strip()}'.")
    try:
        return build_parser(RECIPE.split()[1:]).parse_args(words[1:])
    except SystemExit:  # asked for help, which is nothing to repeat
        raise BadInput("The line asks for help; it is not one that repeats a run.") from None
