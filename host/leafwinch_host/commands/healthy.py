"""`leafwinch healthy`: many full cycles of sound installations, in which no fault may show."""

import argparse
from pathlib import Path
from typing import Any

from leafwinch_host.commands.installation import chosen_installation
from leafwinch_host.commands.options import add_output, add_settings, count, seed, workers
from leafwinch_host.files import check_target, write_json, write_text
from leafwinch_host.healthy_summary import print_summary
from leafwinch_host.screen import progress_bar, progress_screen, screen
from leafwinch_sim.nuisance import canary_site, healthy

EXIT_HOLDS = 0
EXIT_BROKEN = 1
EXIT_INTERRUPTED = 130
CYCLES = 200


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "healthy",
        help="play many full cycles with nothing wrong; no fault may show",
        description="Plays full cycles of sound installations that differ in friction, masses, "
        "supply, bounce and noise, and tells how near each supervision came to its limit. "
        "Exit code 0: no fault showed; 1: one did; 2: bad input.",
        allow_abbrev=False,
    )
    parser.add_argument(
        "--site",
        required=True,
        metavar="NAME|FILE",
        help="a shipped site ('leafwinch sites' lists them) or a site file",
    )
    parser.add_argument(
        "--wiring",
        metavar="NAME|FILE",
        help="another netlist than the site's own; it must have a controller",
    )
    add_settings(parser)
    parser.add_argument(
        "--cycles",
        type=count,
        default=CYCLES,
        metavar="N",
        help="how many cycles to play (default %(default)s)",
    )
    parser.add_argument(
        "--first",
        type=seed,
        default=1,
        metavar="N",
        help="seed of the first cycle; the others follow (default %(default)s)",
    )
    parser.add_argument(
        "--workers",
        type=workers,
        default=1,
        metavar="N",
        help="processes to work with (default %(default)s)",
    )
    parser.add_argument(
        "--canary",
        action="store_true",
        help="set the trip level below the healthy current: the exit code must be 1",
    )
    add_output(parser, "json", "write the figures as JSON; cycles done are kept in FILE.cycles")
    add_output(parser, "html", "write the figures as one HTML file")
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Play, print the figures, write the files; return 0, 1 or 130.

    Raises:
        BadInput: an option, the site or the netlist can't be used, or the cycles kept are of
            something else.
    """
    check_target("--json", arguments.json)
    check_target("--html", arguments.html)
    site, net = chosen_installation(arguments)
    if arguments.canary:
        site = canary_site(site, net)
    bar = progress_bar()
    task = bar.add_task(f"{site.name}, healthy cycles", total=arguments.cycles)

    def progress(done: int, total: int) -> None:
        bar.start()  # not before, since what can't be used at all is told in one sentence
        bar.update(task, completed=done, total=total)

    try:
        result = healthy(
            site,
            net,
            arguments.cycles,
            arguments.first,
            arguments.workers,
            kept_beside(arguments.json),
            progress,
        )
    except KeyboardInterrupt:
        progress_screen().print(
            "leafwinch: stopped from the keyboard before the first cycle was over."
        )
        return EXIT_INTERRUPTED
    finally:
        if bar.live.is_started:
            bar.stop()
    print_summary(screen(), result)
    if arguments.json:
        write_json(arguments.json, result)
    if arguments.html:
        # The template library takes a while to load, so only when needed.
        from leafwinch_host.report.healthy_report import healthy_html

        write_text(arguments.html, healthy_html(result))
    if not result["complete"]:
        again = "; the same command goes on from there" if arguments.json else ""
        progress_screen().print(
            f"leafwinch: stopped from the keyboard after {result['cycles']} of "
            f"{result['cycles_wanted']} cycles{again}."
        )
        return EXIT_INTERRUPTED
    return EXIT_HOLDS if result["verdict"] == "holds" else EXIT_BROKEN


def kept_beside(path: Path | None) -> Path | None:
    """Return the file that keeps cycles as they are done, beside the JSON file."""
    return None if path is None else path.with_name(path.name + ".cycles")
