"""`leafwinch report`: makes the report of a proof again from its JSON."""

import argparse
import json
from pathlib import Path
from typing import Any

from leafwinch_host.commands.installation import installation
from leafwinch_host.commands.options import add_output, workers
from leafwinch_host.files import check_target, write_bytes, write_json, write_text
from leafwinch_host.screen import progress_screen, screen
from leafwinch_sim.site import Site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

NEEDED = (
    "verdict",
    "site",
    "wiring",
    "script",
    "faults",
    "moments",
    "moment_names",
    "moment_s",
    "runs",
    "cells",
    "broken",
    "latent",
    "unpreventable",
    "residual",
    "tolerated",
    "undetected",
    "worst_overrun_mm",
    "worst_reaction_ms",
    "seed",
    "versions",
)


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "report",
        help="make the report of a proof again from its JSON",
        description="Reads what 'leafwinch prove --json FILE' wrote and makes the report from it. "
        "Exit code 0: written; 2: bad input.",
        allow_abbrev=False,
    )
    parser.add_argument("result", type=Path, metavar="RESULT.json", help="the result of a proof")
    parser.add_argument(
        "--site", metavar="NAME|FILE", help="the site file, where the site is not a shipped one"
    )
    parser.add_argument(
        "--wiring", metavar="NAME|FILE", help="the netlist file, where it is not a shipped one"
    )
    parser.add_argument(
        "--workers",
        type=workers,
        default=1,
        metavar="N",
        help="processes to measure the worst runs with, where the result does not hold them "
        "(default %(default)s)",
    )
    add_output(parser, "html", "write the report as one HTML file")
    add_output(parser, "pdf", "write the report as PDF")
    add_output(parser, "json", "write the result again, the worst runs and the bare wiring added")
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Make the report; return 0.

    Raises:
        BadInput: the file is no result of a proof, or the site or netlist isn't the one
            that was proven.
    """
    for option in ("html", "pdf", "json"):
        check_target(f"--{option}", getattr(arguments, option))
    if not (arguments.html or arguments.pdf or arguments.json):
        raise BadInput("leafwinch report: nothing to write, allowed are --html, --pdf and --json.")
    result = read_result(arguments.result)
    site, net = installation(arguments.site or result["site"], arguments.wiring or result["wiring"])
    check_same(arguments.result, result, site, net)
    write_reports(result, site, net, arguments.workers, arguments.html, arguments.pdf)
    if arguments.json:
        write_json(arguments.json, result)
    for path in (arguments.html, arguments.pdf, arguments.json):
        if path:
            screen().print(f"Written: {path}", markup=False)
    return 0


def read_result(path: Path) -> dict[str, Any]:
    """Return the result of a proof from its file.

    Raises:
        BadInput: it can't be read, is no JSON, or lacks something that a proof states.
    """
    try:
        result = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BadInput(f"{path}: can't be read ({error.strerror}).") from None
    except UnicodeDecodeError:
        raise BadInput(f"{path}: this is no text, allowed is the JSON of a proof.") from None
    except json.JSONDecodeError as error:
        raise BadInput(
            f"{path}: line {error.lineno} is no JSON ({error.msg}), allowed is the JSON of a proof."
        ) from None
    missing = [key for key in NEEDED if not isinstance(result, dict) or key not in result]
    if missing:
        raise BadInput(
            f"{path}: found no '{missing[0]}', allowed is what 'leafwinch prove --json' wrote."
        )
    return dict(result)


def check_same(path: Path, result: dict[str, Any], site: Site, net: Netlist) -> None:
    """Make sure that site and netlist are those of the proof.

    Raises:
        BadInput: their names or the netlist's hash differ.
    """
    for what, proven, found in (
        ("site", result["site"], site.name),
        ("wiring", result["wiring"], net.name),
        ("netlist hash", result["versions"].get("netlist"), net.content_hash),
    ):
        if proven != found:
            raise BadInput(
                f"{path}: found {what} '{proven}' in the result, but '{found}' here; allowed is "
                "the installation that was proven, or a new proof."
            )


def write_reports(
    result: dict[str, Any],
    site: Site,
    net: Netlist,
    worker_count: int,
    html: Path | None,
    pdf: Path | None,
) -> None:
    """Add to the result what a report needs, and write those reports that have a file name.

    Raises:
        BadInput: a file can't be written.
    """
    # The drawing libraries take long to load, so only when needed.
    from leafwinch_host.report.extras import complete
    from leafwinch_host.report.prove_report import build, prove_html

    with progress_screen().status("measuring worst runs") as status:

        def progress(words: str, done: int, total: int) -> None:
            status.update(f"{words}: {done} of {total}")

        complete(result, site, net, worker_count, progress)
        if html is None and pdf is None:
            return
        status.update("drawing the report")
        report = build(result, site, net)
        if html is not None:
            write_text(html, prove_html(result, site, net, report))
        if pdf is not None:
            from leafwinch_host.report.prove_pdf import prove_pdf

            write_bytes(pdf, prove_pdf(result, site, net, report))
