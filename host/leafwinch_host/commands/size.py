"""`leafwinch size`: from a site to settings, limit places and a yes or no."""

import argparse
from pathlib import Path
from typing import Any

from leafwinch_host import version
from leafwinch_host.commands.installation import installation
from leafwinch_host.commands.options import add_output, seed
from leafwinch_host.files import check_target, write_bytes, write_json, write_text
from leafwinch_host.screen import screen

EXIT_YES = 0
EXIT_NO = 1


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "size",
        help="say whether the winch can move the deck, where limits go and what to set",
        description="Works out rope pull, currents, times, overrun, limit places and settings of a "
        "site, and says what is wrong, worst first. Exit code 0: yes, perhaps with conditions; "
        "1: no; 2: bad input.",
        epilog="A licensed electrician and local codes decide on supply and cable.",
        allow_abbrev=False,
    )
    parser.add_argument(
        "--site",
        required=True,
        metavar="NAME|FILE",
        help="a shipped site ('leafwinch sites' lists them) or a site file",
    )
    parser.add_argument("--wiring", metavar="NAME|FILE", help="another netlist than the site's own")
    parser.add_argument(
        "--seed",
        type=seed,
        default=1,
        metavar="N",
        help="seed of the draws behind the bands (default %(default)s)",
    )
    add_output(parser, "settings", "write the sized settings as a file for the board and the bench")
    add_output(parser, "html", "write the report as one HTML file")
    add_output(parser, "pdf", "write the report as PDF")
    add_output(parser, "json", "write every number as JSON")
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Size, print the summary, write the files; return 0 or 1.

    Raises:
        BadInput: an option, the site or the netlist can't be used.
    """
    targets: list[Path | None] = [
        getattr(arguments, option) for option in ("settings", "html", "pdf", "json")
    ]
    for option, path in zip(("settings", "html", "pdf", "json"), targets, strict=True):
        check_target(f"--{option}", path)
    site, net = installation(arguments.site, arguments.wiring)
    # The numerical libraries take a while to load, so not for the other commands.
    from leafwinch_host.size_summary import print_summary
    from leafwinch_sim.sizing.size import NO, size_site

    sizing = size_site(site, net, arguments.seed)
    print_summary(screen(), sizing)
    if arguments.settings:
        from leafwinch_host.sized_settings import settings_file

        write_text(arguments.settings, settings_file(site.name, sizing.parts.settings))
    if arguments.json:
        from leafwinch_sim.sizing.as_data import as_data

        write_json(
            arguments.json,
            {**as_data(sizing), "seed": arguments.seed, "versions": {"leafwinch": version()}},
        )
    if arguments.html or arguments.pdf:
        _write_reports(arguments, sizing)
    for path in targets:
        if path:
            screen().print(f"Written: {path}", markup=False)
    return EXIT_NO if sizing.verdict == NO else EXIT_YES


def _write_reports(arguments: argparse.Namespace, sizing: Any) -> None:
    from leafwinch_host.report.size_report import build, size_html

    report = build(sizing, arguments.seed)
    if arguments.html:
        write_text(arguments.html, size_html(sizing, report))
    if arguments.pdf:
        from leafwinch_host.report.size_pdf import size_pdf

        write_bytes(arguments.pdf, size_pdf(sizing, report))
