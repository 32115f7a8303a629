"""`leafwinch upkeep`: trends, reserves and inspections, worst first; keeps the record."""

import argparse
import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from leafwinch_host.board import answers
from leafwinch_host.board.link import BoardLink
from leafwinch_host.board.ports import chosen_port
from leafwinch_host.explaining.expected import all_settings
from leafwinch_host.explaining.telling import CERTIFIES, cautions
from leafwinch_host.files import check_target, write_text
from leafwinch_host.screen import screen
from leafwinch_host.upkeep.commissioned import taken_over
from leafwinch_host.upkeep.inputs import read_counters, read_journal, read_logs
from leafwinch_host.upkeep.judged import Upkeep, as_data, judge
from leafwinch_host.upkeep.record import Record, read_record, write_record
from leafwinch_host.upkeep.series import Outlook
from leafwinch_sim.site import Site, load_site
from leafwinch_wiring.errors import BadInput

EXIT_URGENT = 1
EVENTS = 512  # as many as a board keeps
DUE_SHOWN = 6
LEVELS = {"now": ("before the next use", "bold red"), "soon": ("soon", "yellow"), "watch": ("", "")}


@dataclass
class Sources:
    """What is known of the board: settings, events and counters, empty where not given."""

    settings: dict[str, int]
    journal: list[dict[str, Any]]
    counters: dict[str, int]


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "upkeep",
        help="say what wears, what reserve is left and which inspections are due; keep the record",
        description="Reads journal, counters and recorded cycles, of a board or out of files, and "
        "says what to look at, worst first: currents and times that rise or jump, the reserve left "
        "until the drive trips, inspections by days and operations. With --record it keeps "
        "readings and inspections in a file; --done notes an inspection. Only reads the board. "
        "Exit code 1: something is to be done before the next use.",
        allow_abbrev=False,
    )
    parser.add_argument("--site", required=True, metavar="NAME|FILE", help="which site it is")
    parser.add_argument("--port", metavar="PORT", help="serial port of the board")
    parser.add_argument(
        "--journal", type=Path, metavar="FILE", help="as 'leafwinch board journal --json' prints it"
    )
    parser.add_argument(
        "--counters",
        type=Path,
        metavar="FILE",
        help="as 'leafwinch board counters --json' prints them",
    )
    parser.add_argument(
        "--logs", type=Path, nargs="+", default=[], metavar="FILE", help="cycles recorded by 'log'"
    )
    parser.add_argument("--record", type=Path, metavar="FILE", help="record to read and renew")
    parser.add_argument(
        "--commissioned",
        type=Path,
        metavar="FOLDER",
        help="note in the record what 'leafwinch commission' has inspected, from its folder",
    )
    parser.add_argument("--done", metavar="WHAT", help="note an inspection as done")
    parser.add_argument("--who", default="", metavar="NAME", help="who did it")
    parser.add_argument(
        "--on", type=day, metavar="YYYY-MM-DD", help="the day it holds for (default: today)"
    )
    parser.add_argument("--json", action="store_true", help="print JSON instead of text")
    parser.add_argument("--html", type=Path, metavar="FILE", help="write one HTML file")
    parser.set_defaults(handler=handle)


def day(text: str) -> date:
    """Read a date such as 2031-05-17."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"found '{text}', allowed is a date such as 2031-05-17"
        ) from None


def handle(arguments: argparse.Namespace) -> int:
    """Say what is to be looked at; 0, or 1 where something is due before the next use.

    Raises:
        BadInput: arguments do not fit together, or a file or the board can't be used.
    """
    check_arguments(arguments)
    check_target("--html", arguments.html, (".html",))
    check_target("--record", arguments.record, (".json",))
    site = load_site(arguments.site)
    clock = datetime.now(UTC).astimezone().date()
    on = arguments.on or clock
    record = (
        read_record(arguments.record, site.name) if arguments.record else Record(site=site.name)
    )
    sources = from_board(arguments.port) if arguments.port else from_files(arguments, site)
    logs = read_logs(arguments.logs, sources.settings)
    # What a later day brought has no say on an earlier one.
    today = max(on, clock) if arguments.done else on
    if arguments.done:
        counters = sources.counters if on == today else {}
        record = record.with_done(arguments.done, on, arguments.who, counters, clock)
    base: dict[str, int] = {}
    if arguments.commissioned:
        record, base = taken_over(record, arguments.commissioned, clock)
    if sources.counters:
        record = record.with_reading(today, sources.counters)
    upkeep = judge(
        site, sources.settings, sources.journal, sources.counters, logs, record, today, base
    )
    if arguments.record:
        write_record(arguments.record, record)
    if arguments.html:
        from leafwinch_host.upkeep.page import upkeep_html  # slow to load

        write_text(arguments.html, upkeep_html(upkeep, site))
    if arguments.json:
        print(json.dumps(as_data(upkeep), indent=2, ensure_ascii=False))
    else:
        _print(screen(), upkeep, site)
    return EXIT_URGENT if upkeep.urgent else 0


def check_arguments(arguments: argparse.Namespace) -> None:
    """Refuse what does not fit together.

    Raises:
        BadInput: with one sentence.
    """
    if arguments.port and (arguments.journal or arguments.counters):
        raise BadInput("--port reads journal and counters itself; leave --journal, --counters out.")
    if arguments.done and not arguments.record:
        raise BadInput("--done needs --record, the file in which the inspection is noted.")
    if arguments.commissioned and not arguments.record:
        raise BadInput("--commissioned needs --record, the file in which it is noted.")
    if arguments.who and not arguments.done:
        raise BadInput("--who belongs to --done: it says who did that inspection.")


def from_board(port: str) -> Sources:
    """Read settings, journal and counters of a board.

    Raises:
        BadInput: no board answers.
    """
    with BoardLink(chosen_port(port)) as link:
        link.must_run()
        settings = answers.settings(link)["settings"]
        events = [
            {
                "sequence": event.sequence,
                "boot": event.boot,
                "uptime_s": event.uptime_s,
                "kind": event.kind,
                "a": event.a,
                "b": event.b,
                "c": event.c,
                "words": event.words,
            }
            for event in answers.journal(link, EVENTS)
        ]
        return Sources(settings, events, answers.counters(link))


def from_files(arguments: argparse.Namespace, site: Site) -> Sources:
    """Read what the files tell; the settings are the site's own.

    Raises:
        BadInput: a file can't be used.
    """
    return Sources(
        settings=all_settings(site.settings),
        journal=read_journal(arguments.journal) if arguments.journal else [],
        counters=read_counters(arguments.counters) if arguments.counters else {},
    )


def _print(out: Console, upkeep: Upkeep, site: Site) -> None:
    head = f"Upkeep of {upkeep.site}, {upkeep.today}: {upkeep.sentence}"
    out.print(Text(head, style="bold"))
    for number, finding in enumerate(upkeep.findings, start=1):
        words, style = LEVELS[finding.level]
        line = Text(f"{number}. {finding.what}")
        if words:
            line.append(f" [{words}]", style=style)
        out.print(line)
        if finding.why:
            out.print(Padding(Text(finding.why, style="dim"), (0, 0, 0, 3)))
    if upkeep.outlooks:
        out.print()
        out.print(_series_table(upkeep.outlooks))
    for series, count in upkeep.short:
        out.print(f"Too few readings of the {series.words}: {count}.", highlight=False)
    if not upkeep.outlooks and not upkeep.short:
        out.print("No full travels are known: give --port, or --journal and --logs.")
    out.print()
    out.print(_due_table(upkeep))
    out.print()
    for caution in cautions(site.over == "water"):
        out.print(Text(f"{caution.hazard}: {caution.advice}", style="dim"))
    out.print(Text(CERTIFIES, style="dim"))


def _series_table(outlooks: tuple[Outlook, ...]) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0))
    for name in ("series", "readings", "median", "now", "limit", "reserve", "used up in"):
        table.add_column(name)
    for found in outlooks:
        series, reserve = found.series, found.reserve
        table.add_row(
            series.words,
            str(series.y.size),
            f"{found.level:.2f} {series.unit}",
            f"{found.now:.2f} {series.unit}",
            f"{series.limit:.2f} {series.unit}",
            "-" if reserve is None else f"{reserve:.2f} {series.unit}",
            "no clear rise" if found.left is None else f"{found.left:.0f} {series.axis}",
        )
    return table


def _due_table(upkeep: Upkeep) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), title="Next inspections", title_justify="left")
    for name in ("what", "last", "due", "because"):
        table.add_column(name)
    for due in upkeep.due[:DUE_SHOWN]:
        last = due.last.isoformat() if due.last else "-"
        table.add_row(due.interval.key, last, due.on.isoformat(), due.because)
    return table
