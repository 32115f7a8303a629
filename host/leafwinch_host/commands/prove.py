"""`leafwinch prove`: every single defect at every moment, as a verdict and a report."""

import argparse
import os
from typing import Any

from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TextColumn,
    TimeElapsedColumn,
    TimeRemainingColumn,
)

from leafwinch_host.commands.installation import chosen_installation
from leafwinch_host.commands.options import add_installation, add_output, workers
from leafwinch_host.files import check_target, write_json, write_text
from leafwinch_host.prove_summary import print_summary
from leafwinch_host.report.prove_report import prove_html
from leafwinch_host.screen import progress_screen, screen
from leafwinch_sim.campaign import prove

EXIT_HOLDS = 0
EXIT_BROKEN = 1
EXIT_INTERRUPTED = 130


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "prove",
        help="try every single defect at every moment of a working day",
        description="Runs every single defect of an installation at moments that cover every "
        "phase of operation, and judges each run by the requirements R1 to R11. Exit code 0: "
        "the drive holds; 1: it is broken; 2: bad input.",
        allow_abbrev=False,
    )
    add_installation(parser)
    parser.add_argument(
        "--workers",
        type=workers,
        default=default_workers(),
        metavar="N",
        help="processes to work with (default %(default)s, one for each processor)",
    )
    parser.add_argument(
        "--strict",
        action="store_true",
        help="also bridge any two nets of one group, not only credible neighbours",
    )
    add_output(parser, "json", "write the result as JSON")
    add_output(parser, "html", "write the report as one HTML file")
    parser.set_defaults(handler=handle)


def default_workers() -> int:
    """Return the number of processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def handle(arguments: argparse.Namespace) -> int:
    """Prove, print the verdict, write the files; return 0, 1 or 130.

    Raises:
        BadInput: an option, the site or the netlist can't be used.
    """
    check_target("--json", arguments.json)
    check_target("--html", arguments.html)
    site, net = chosen_installation(arguments)
    seen = [0, 0]
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("left"),
        TimeRemainingColumn(compact=True),
        TextColumn("gone"),
        TimeElapsedColumn(),
        console=progress_screen(),
    )
    try:
        with bar:
            task = bar.add_task(f"{site.name}, {net.name}", total=None)

            def progress(done: int, total: int) -> None:
                seen[:] = (done, total)
                bar.update(task, completed=done, total=total)

            result = prove(
                site,
                net,
                seed=arguments.seed,
                workers=arguments.workers,
                progress=progress,
                strict=arguments.strict,
            )
    except KeyboardInterrupt:
        done, total = seen
        extent = f"after {done} of {total} runs" if total else "before the first run was over"
        progress_screen().print(
            f"leafwinch: stopped from the keyboard {extent}; nothing was written."
        )
        return EXIT_INTERRUPTED
    print_summary(screen(), result)
    if arguments.json:
        write_json(arguments.json, result)
    if arguments.html:
        write_text(arguments.html, prove_html(result, site, net))
    if not result["complete"]:
        progress_screen().print(
            f"leafwinch: stopped from the keyboard after {result['faults']} of "
            f"{result['faults_wanted']} defects; the files hold what was done."
        )
        return EXIT_INTERRUPTED
    return EXIT_HOLDS if result["verdict"] == "holds" else EXIT_BROKEN
