"""`leafwinch wire`: drawings, schedules and a continuity sheet from a netlist, and its check."""

import argparse
import os
import re
from pathlib import Path
from typing import Any

from leafwinch_host.commands.installation import installation
from leafwinch_host.files import write_bytes, write_text
from leafwinch_host.screen import progress_bar, screen
from leafwinch_sim.site import Site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist, load_netlist

EXIT_KEPT = 0
EXIT_BROKEN = 1
MAX_SHEET_BYTES = 1_000_000
NAMED = re.compile(r'^"?#\s*netlist:\s*([A-Za-z0-9_+\-]+)', re.MULTILINE)


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "wire",
        help="write circuit drawings, schedules and a continuity sheet, or check a filled sheet",
        description="Writes the wiring papers of a site: circuit drawings as SVG, one PDF with "
        "drawings, terminals, cables, parts, continuity sheet, rules and advice, and the sheet to "
        "fill in. With --check it judges a filled sheet and names the likeliest mistake. Exit code "
        "0: every rule is kept, or every reading is as expected; 1: a rule is broken, or a reading "
        "is wrong or missing; 2: bad input.",
        epilog="Mains work is for a licensed electrician, and local codes come first. Isolate, "
        "lock off and prove dead before you measure. Nothing here is certified.",
        allow_abbrev=False,
    )
    parser.add_argument(
        "--site",
        metavar="NAME|FILE",
        help="a shipped site ('leafwinch sites' lists them) or a site file",
    )
    parser.add_argument("--wiring", metavar="NAME|FILE", help="another netlist than the site's own")
    parser.add_argument(
        "--output", "-o", metavar="DIR", type=Path, help="the folder to write the papers into"
    )
    parser.add_argument(
        "--check",
        metavar="FILE",
        type=Path,
        help="a filled continuity sheet; its netlist is that of --site or --wiring, else the "
        "shipped one that the sheet names",
    )
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Write the papers, or check a filled sheet; return 0 or 1.

    Raises:
        BadInput: an option, the site, the netlist or the sheet can't be used.
    """
    if arguments.check is not None:
        if arguments.output is not None:
            raise BadInput("--check judges a filled sheet and writes nothing; leave --output away.")
        return _check(arguments)
    for option in ("site", "output"):
        if getattr(arguments, option) is None:
            raise BadInput(
                f"--{option} is missing; needed are --site and --output, or --check alone."
            )
    _check_folder(arguments.output)
    site, net = installation(arguments.site, arguments.wiring)
    return _write(site, net, arguments.output)


def _check_folder(folder: Path) -> None:
    """Make sure that the papers can be written, so that the work is not wasted."""
    if folder.exists() and not folder.is_dir():
        raise BadInput(f"--output {folder}: this is a file, allowed is the name of a folder.")
    above = folder if folder.is_dir() else folder.parent
    if not above.is_dir():
        raise BadInput(f"--output {folder}: the folder '{above}' does not exist, make it first.")
    if not os.access(above, os.W_OK):
        raise BadInput(f"--output {folder}: the folder '{above}' can't be written to.")


def _write(site: Site, net: Netlist, folder: Path) -> int:
    # The numerical libraries and the typesetter take a while to load.
    from leafwinch_host.report.wire_pdf import papers_of, wire_pdf
    from leafwinch_host.wire_summary import print_papers, print_written
    from leafwinch_wiring.point_sheet import point_sheet
    from leafwinch_wiring.sheet_file import write_csv

    with progress_bar() as bar:
        task = bar.add_task("continuity sheet", total=None)
        points = point_sheet(net, lambda done, total: bar.update(task, completed=done, total=total))
        walk = bar.add_task("walk over the inputs", total=None)
        papers = papers_of(
            net, None, points, lambda done, total: bar.update(walk, completed=done, total=total)
        )
    document = wire_pdf(site, net, papers.sheets, papers)
    print_papers(screen(), net, papers)
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise BadInput(f"--output {folder}: can't be made ({error.strerror}).") from None
    written = []
    for sheet in papers.sheets:
        written.append(folder / f"{sheet.name}.svg")
        write_text(written[-1], sheet.svg)
    written.append(folder / "wiring.pdf")
    write_bytes(written[-1], document)
    written.append(folder / "continuity.csv")
    write_text(written[-1], write_csv(points))
    print_written(screen(), written)
    return EXIT_BROKEN if papers.rules_broken else EXIT_KEPT


def _check(arguments: argparse.Namespace) -> int:
    text = _read_sheet(arguments.check)
    net = _netlist_of(arguments, text)
    from leafwinch_host.wire_summary import print_diagnosis
    from leafwinch_wiring.parting import parting
    from leafwinch_wiring.sheet_check import diagnose
    from leafwinch_wiring.sheet_file import read_filled

    filled = read_filled(text, str(arguments.check), net)
    with progress_bar() as bar:
        # Only a wrong reading makes it look for a mistake, and shows a bar.
        task = bar.add_task("mistakes", total=None, visible=False)
        diagnosis = diagnose(
            net,
            filled,
            progress=lambda done, total: bar.update(
                task, completed=done, total=total, visible=True
            ),
        )
    equal = [suspect.miswire for suspect in diagnosis.likely[: diagnosis.equal]]
    print_diagnosis(screen(), filled, diagnosis, parting(net, equal))
    return EXIT_KEPT if diagnosis.complete_and_right else EXIT_BROKEN


def _netlist_of(arguments: argparse.Namespace, text: str) -> Netlist:
    """Netlist that a filled sheet is judged by."""
    if arguments.site is not None:
        return installation(arguments.site, arguments.wiring)[1]
    if arguments.wiring is not None:
        return load_netlist(arguments.wiring)
    named = NAMED.search(text)
    if named is None:
        raise BadInput(
            f"{arguments.check}: no line '# netlist:' says what it was made for; name it with "
            "--site or --wiring."
        )
    return load_netlist(named[1])


def _read_sheet(path: Path) -> str:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise BadInput(f"--check {path}: can't be read ({error.strerror}).") from None
    if len(data) > MAX_SHEET_BYTES:
        raise BadInput(
            f"--check {path}: has {len(data)} bytes, a filled sheet has at most {MAX_SHEET_BYTES}."
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise BadInput(
            f"--check {path}, line {line}: byte 0x{data[error.start]:02x} is not text in UTF-8; "
            "save the sheet as UTF-8."
        ) from None
