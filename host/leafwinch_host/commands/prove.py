"""`leafwinch prove`: every single defect at every moment, as a verdict and a report."""

import argparse
import os
import time
from pathlib import Path
from typing import Any

from rich.progress import TaskID

from leafwinch_host.commands.installation import chosen_installation
from leafwinch_host.commands.options import add_installation, add_output, workers
from leafwinch_host.commands.report import write_reports
from leafwinch_host.files import check_target, write_json
from leafwinch_host.prove_summary import print_summary
from leafwinch_host.screen import progress_bar, progress_screen, screen
from leafwinch_sim.campaign import prove
from leafwinch_sim.campaign_store import Store
from leafwinch_sim.campaign_work import Plan
from leafwinch_sim.own_sources import own_sources

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
    parser.add_argument(
        "--every-tick",
        action="store_true",
        help="also try every defect at every control tick (5 ms) of two full cycles",
    )
    parser.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="let the workers of a Dask scheduler do the work, such as tcp://192.0.2.1:8786",
    )
    parser.add_argument(
        "--keep",
        type=Path,
        default=Path("out"),
        metavar="FOLDER",
        help="where finished work is kept until all is done, so that a stopped proof goes on "
        "(default %(default)s)",
    )
    add_output(parser, "json", "write the result as JSON")
    add_output(parser, "html", "write the report as one HTML file")
    add_output(parser, "pdf", "write the report as PDF")
    parser.set_defaults(handler=handle)


def default_workers() -> int:
    """Return the number of processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _of_ticks(result: dict[str, Any]) -> str:
    return f" and {result['ticks']} ticks" if result["every_tick"] else ""


def handle(arguments: argparse.Namespace) -> int:
    """Prove, print the verdict, write the files; return 0, 1 or 130.

    Raises:
        BadInput: an option, the site or the netlist can't be used.
    """
    check_target("--json", arguments.json)
    check_target("--html", arguments.html)
    check_target("--pdf", arguments.pdf)
    site, net = chosen_installation(arguments)
    store = Store(arguments.keep, Plan(site, net, arguments.seed, arguments.strict), own_sources())
    resumed = len(store.known)
    seen = ["", 0, 0]
    begun = time.monotonic()
    bar = progress_bar()
    tasks: dict[str, TaskID] = {}
    if resumed:
        progress_screen().print(f"Going on from {store.path}: {resumed} pieces of work are done.")
    try:
        with bar:

            def progress(what: str, done: int, total: int) -> None:
                seen[:] = (what, done, total)
                if what not in tasks:
                    tasks[what] = bar.add_task(f"{site.name}, {net.name}, {what}", total=total)
                bar.update(tasks[what], completed=done)

            result = prove(
                site,
                net,
                seed=arguments.seed,
                workers=arguments.workers,
                progress=progress,
                strict=arguments.strict,
                every_tick=arguments.every_tick,
                cluster=arguments.cluster or "",
                store=store,
            )
    except KeyboardInterrupt:
        what, done, total = seen
        extent = f"after {done} of {total} pairs {what}" if total else "before it began"
        progress_screen().print(
            f"leafwinch: stopped from the keyboard {extent}; no report was written."
            " The same command goes on from there."
        )
        return EXIT_INTERRUPTED
    result["seconds"] = round(time.monotonic() - begun, 1)
    result["resumed"] = resumed
    print_summary(screen(), result)
    if arguments.html or arguments.pdf or arguments.json:
        write_reports(result, site, net, arguments.workers, arguments.html, arguments.pdf)
    if arguments.json:
        write_json(arguments.json, result)
    if not result["complete"]:
        progress_screen().print(
            f"leafwinch: stopped from the keyboard after {result['faults']} of "
            f"{result['faults_wanted']} defects{_of_ticks(result)}; the files hold what was done. "
            "The same command goes on from there."
        )
        return EXIT_INTERRUPTED
    store.forget()
    return EXIT_HOLDS if result["verdict"] == "holds" else EXIT_BROKEN
