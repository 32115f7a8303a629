"""`leafwinch commission`: leads through commissioning, watches it, and writes the record."""

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from rich.table import Table

from leafwinch_host.board.commissioned import netlist_hash, site_hash
from leafwinch_host.board.link import BoardLink
from leafwinch_host.board.ports import chosen_port
from leafwinch_host.commands.installation import installation
from leafwinch_host.commands.options import add_settings
from leafwinch_host.commissioning import temporary
from leafwinch_host.commissioning.keyboard import AnswerFile, Answers, Keyboard
from leafwinch_host.commissioning.line import CommissionLine, TraceFile
from leafwinch_host.commissioning.record import TRACE, Record, load_record
from leafwinch_host.commissioning.results import FAIL, PASS
from leafwinch_host.commissioning.sitting import Sitting
from leafwinch_host.commissioning.steps import STEPS
from leafwinch_host.commissioning.table import Context
from leafwinch_host.commissioning.terminal import TerminalScreen
from leafwinch_host.files import write_bytes, write_text
from leafwinch_host.report.commission_report import build, commission_html, commission_pdf
from leafwinch_host.screen import screen
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

EXIT_HOLDS = 0
EXIT_OPEN = 1
HTML = "record.html"
PDF = "record.pdf"
IDENTITY = {
    "site": "name of the site",
    "site_hash": "site file",
    "netlist_sha256": "wiring",
    "settings_values": "settings",
}
LEFT = (
    "Temporary settings of a test are still on the board: nobody uses the drive. The same command "
    "puts them back before anything else."
)


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "commission",
        help="lead through commissioning with a board, watch it, and keep a record",
        description="Leads two persons through commissioning, one screen a step: what to do, what "
        "is watched on the board's trace, what is required, what was measured. It can be left "
        "with 'q' or Ctrl-C, and the same command goes on where it was. The folder holds "
        "record.json, trace.log, record.html and record.pdf. Nothing that is sent can move the "
        "deck; temporary settings of a test are sent only when you press Enter for them, with the "
        "service link fitted, and put back; where a crash left them on the board, the next start "
        "puts them back first. Exit code 0: every step passed; 1: failed or not complete; 2: bad "
        "input. To try it without a machine: 'leafwinch virtual'.",
        epilog="Moving leaves crush, a falling deck kills, an open edge is a drop, over water "
        "people drown, mains kills. Never commission alone; one of two persons stands at the "
        "isolator. Local codes come first, mains work belongs to a licensed electrician, and the "
        "record certifies nothing.",
        allow_abbrev=False,
    )
    parser.add_argument("--site", required=True, metavar="NAME|FILE", help="the installation")
    parser.add_argument("--wiring", metavar="NAME|FILE", help="another netlist than the site's own")
    add_settings(parser)
    parser.add_argument("--port", metavar="PORT", help="serial port (default: the only one)")
    parser.add_argument(
        "--output",
        "-o",
        required=True,
        type=Path,
        metavar="FOLDER",
        help="folder of the record; one that has a record is gone on with",
    )
    parser.add_argument("--who", default="", metavar="NAME", help="name of whoever does it")
    parser.add_argument(
        "--repeat",
        action="append",
        default=[],
        choices=[step.id for step in STEPS],
        metavar="STEP",
        help="do a step again that is done, such as after a repair; may be given several times",
    )
    parser.add_argument(
        "--list", action="store_true", help="list all steps with what came of them, and end"
    )
    parser.add_argument(
        "--answers",
        type=Path,
        metavar="FILE",
        help="take answers from a file, one a line, instead of the keyboard",
    )
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Lead through the steps that are open; return 0 where all have passed, else 1.

    Raises:
        BadInput: an option, the record, the folder or the port can't be used.
    """
    site, net = installation(arguments.site, arguments.wiring, arguments.settings)
    if arguments.list:
        return listed(load_record(arguments.output), arguments.output)
    answers: Answers = AnswerFile(arguments.answers) if arguments.answers else Keyboard()
    folder = made_folder(arguments.output)
    record = opened_record(folder, site, net, arguments.settings)
    for step in arguments.repeat:
        if step in record.steps:
            record.steps[step].again = True
    port = chosen_port(arguments.port)
    begun = False
    try:
        with (
            TraceFile(folder / TRACE) as trace,
            CommissionLine(lambda listener: BoardLink(port, listener), trace) as line,
        ):
            line.must_run()
            begun = True
            trace.note(f"commissioning of {site.name} by {arguments.who or 'somebody'}")
            context = Context(site, net, arguments.who, line, folder)
            if isinstance(answers, Keyboard):
                answers.meanwhile = line.idle
            Sitting(context, record, answers, TerminalScreen(screen()), STEPS).run()
    finally:
        if begun:  # the trace is closed here, so that its check sum is final
            record.save(folder)
            write_report(record, site, folder)
            say_end(record, folder)
    return EXIT_HOLDS if record.verdict == PASS else EXIT_OPEN


def listed(record: Record | None, folder: Path) -> int:
    """Print every step with its id and what came of it."""
    table = Table(box=None, pad_edge=False, show_header=False)
    for number, step in enumerate(STEPS, 1):
        row = record.steps.get(step.id) if record else None
        told = "" if row is None else row.verdict if row.times >= 0 else "does not concern it"
        if row is not None and row.why:
            told += f": {row.why}"
        table.add_row(str(number), step.id, step.title, told)
    if record is None:
        screen().print(f"{folder}: no record is there yet.", highlight=False, markup=False)
    screen().print(table, highlight=False, markup=False)
    return EXIT_HOLDS if record is not None and record.verdict == PASS else EXIT_OPEN


def say_end(record: Record, folder: Path) -> None:
    """Say how far it came, where the record is, and what is still on the board."""
    lines = [
        f"{record.count(PASS)} of {len(STEPS)} steps have passed, failed: {record.count(FAIL)}; "
        f"the record is in {folder / HTML} and {folder / PDF}."
    ]
    if not record.done:
        lines.append("The same command goes on from here.")
    if temporary.KEY in record.about:
        lines.append(LEFT)
    for words in lines:
        screen().print(words, highlight=False, markup=False)


def made_folder(path: Path) -> Path:
    """Return the folder of the record; make it where it is missing.

    Raises:
        BadInput: it is a file, or can't be made.
    """
    try:
        path.mkdir(exist_ok=True)
    except FileExistsError:
        raise BadInput(f"--output {path}: this is a file, allowed is a folder.") from None
    except OSError as error:
        raise BadInput(f"--output {path}: can't be made ({error.strerror}).") from None
    return path


def opened_record(folder: Path, site: Site, net: Netlist, settings: Path | None) -> Record:
    """Return the record in a folder, or a new one for this installation.

    Raises:
        BadInput: the record there is of another installation.
    """
    about: dict[str, Any] = {
        "site": site.name,
        "site_hash": f"{site_hash(site):08X}",
        "wiring": net.name,
        "netlist_sha256": net.content_hash,
        "netlist_hash": f"{netlist_hash(net):08X}",
        "settings": str(settings) if settings else "the site's own",
        "settings_values": dict(sorted(site.settings.items())),
        "begun": datetime.now(UTC).isoformat(timespec="seconds"),
    }
    record = load_record(folder)
    if record is None:
        return Record(about)
    for name, words in IDENTITY.items():
        if record.about.get(name) != about[name]:
            raise BadInput(
                f"{folder}: the record there is of another installation: its {words} is not the "
                "same as now. What was measured holds for what was installed then: take another "
                f"folder, or give the {words} that it was begun with."
            )
    return record


def write_report(record: Record, site: Site, folder: Path) -> None:
    """Write the record as page and as PDF."""
    report = build(record, site, folder / TRACE)
    write_text(folder / HTML, commission_html(report))
    write_bytes(folder / PDF, commission_pdf(report))
