"""Where the command `leafwinch` begins: choose the build, then run the command line."""

import sys

from leafwinch_host.bad_build import BadBuild
from leafwinch_host.compiled import choose_build


def main() -> int:
    """Run the command line with the compiled build where there is one; return the exit code."""
    try:
        choose_build()
    except BadBuild as error:
        print(f"leafwinch: {error}", file=sys.stderr)
        return 2
    from leafwinch_host import cli

    return cli.main()
