"""The files that one played run can be written to: plot, trace and JSON."""

import argparse
from typing import Any

from leafwinch_host import version
from leafwinch_host.commands.options import add_output
from leafwinch_host.files import check_target, write_json
from leafwinch_host.run_summary import Setting, run_json
from leafwinch_host.trace_file import save_trace
from leafwinch_sim.run import RunResult

PLOT_ENDINGS = (".svg", ".png")


def add_run_files(parser: Any) -> None:
    """Add the options that name these files."""
    add_output(parser, "plot", "draw the run (.svg or .png)")
    add_output(parser, "trace", "write every 5 ms as comma-separated text")
    add_output(parser, "json", "write the result as JSON")


def check_run_files(arguments: argparse.Namespace) -> None:
    """Make sure that the files can be written later; raise BadInput where they can't."""
    check_target("--plot", arguments.plot, PLOT_ENDINGS)
    check_target("--trace", arguments.trace)
    check_target("--json", arguments.json)


def write_run_files(arguments: argparse.Namespace, result: RunResult, setting: Setting) -> None:
    """Write the files that were asked for."""
    if arguments.plot:
        # The drawing library takes longer to load than the run to play, so only when needed.
        from leafwinch_host.plot_notes import notes_of
        from leafwinch_host.plots import save_plot

        save_plot(arguments.plot, result.trace, notes_of(result, setting))
    if arguments.trace:
        save_trace(
            arguments.trace, result.trace, {"leafwinch": version(), **setting.origin(result)}
        )
    if arguments.json:
        write_json(arguments.json, run_json(result, setting))
