"""`leafwinch board`: loads a board's program and settings, verifies them, and reads the board."""

import argparse
import json
import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from typing import Any

from rich.live import Live
from rich.table import Table

from leafwinch_host.board import answers, live, loader
from leafwinch_host.board.commissioned import (
    cold_record_files,
    commissioned_files,
    netlist_hash,
    site_hash,
)
from leafwinch_host.board.link import BoardLink
from leafwinch_host.board.ports import chosen_port, found_ports
from leafwinch_host.board.serial_lines import Sample, sample_of
from leafwinch_host.commands.installation import installation
from leafwinch_host.commands.options import add_settings, count, seconds
from leafwinch_host.firmware_build import TARGETS, Program, built, source_program
from leafwinch_host.screen import progress_bar, screen
from leafwinch_wiring.errors import BadInput

EXIT_DIFFERS = 1
GREETING_S = 30.0  # from a restart until the new program is heard
SHOWN_A_SECOND = 5
SAMPLE_S = 5.0


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "board",
        help="load a board, verify it, read its settings, journal, counters and inputs",
        description="Talks to a board on a serial port. Nothing that is sent to a board can move "
        "the deck. Loading needs the drive at rest, the control neutral and the service link "
        "fitted; keep everybody off the deck all the same, and isolate the motor's supply.",
        allow_abbrev=False,
    )
    jobs = parser.add_subparsers(
        dest="job", metavar="JOB", required=True, parser_class=type(parser)
    )
    job = _job(jobs, "load", load, "load the program, and the settings of a site")
    job.add_argument("--site", required=True, metavar="NAME|FILE", help="the site it belongs to")
    job.add_argument("--wiring", metavar="NAME|FILE", help="another netlist than the site's own")
    add_settings(job)
    job.add_argument(
        "--renew-settings",
        action="store_true",
        help="write the site's settings even where the board has some of this site, "
        "which forgets the learned envelope",
    )
    job.add_argument(
        "--motor-cold",
        action="store_true",
        help="on a new board: the motor has rested for hours (else it counts as hot at first)",
    )
    _job(jobs, "verify", verify, "compare the board's files with a fresh build, by SHA-256")
    _readable(_job(jobs, "settings", settings, "read all settings and the learned envelope"))
    job = _job(jobs, "journal", journal, "read the newest events")
    job.add_argument("--most", type=count, default=40, metavar="N", help="how many (default 40)")
    _readable(job)
    _readable(_job(jobs, "counters", counters, "read the counters"))
    _readable(_job(jobs, "fault", fault, "read the 4 s before the last fault"))
    job = _job(jobs, "inputs", inputs, "show contacts, current, supply and state as they are")
    job.add_argument(
        "--seconds", type=seconds, metavar="S", help="stop after that (default: never)"
    )
    job.add_argument("--once", action="store_true", help="show them once")
    _readable(job)
    ports = jobs.add_parser("ports", help="list serial ports that may be boards")
    ports.set_defaults(handler=list_ports)


def _job(jobs: Any, name: str, handler: Any, text: str) -> Any:
    parser = jobs.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
    parser.add_argument(
        "--port",
        metavar="PORT",
        help="serial port, such as COM3, /dev/ttyACM0 or /dev/cu.usbmodem101 "
        "(default: the only one there is)",
    )
    parser.set_defaults(handler=handler)
    return parser


def _readable(parser: Any) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON instead of a table")


# --- loading --------------------------------------------------------------------------


def load(arguments: argparse.Namespace) -> int:
    """Load program and settings, restart, and compare; 0, or 1 where the board differs."""
    site, net = installation(arguments.site, arguments.wiring, arguments.settings)
    port = chosen_port(arguments.port)
    out = screen()
    running, keep = False, False
    with BoardLink(port) as link:
        if link.runs():
            running = True
            about = answers.about(link)
            out.print(f"The board runs {about.program}.", highlight=False)
            mine = (about.site, about.netlist) == (site_hash(site), netlist_hash(net))
            keep = mine and not arguments.renew_settings
            link.ask("load")
    with loader.Prompt(port) as prompt:
        found = prompt.interpreter()
        target = loader.target_for(port, found)
        out.print(f"MicroPython {'.'.join(map(str, found.version))} on {target.words}.")
        program = built(target.name)
        extra = {} if keep else commissioned_files(site, net)
        if not running and arguments.motor_cold:
            extra |= cold_record_files(site)
        with progress_bar() as bar:
            task = bar.add_task("loading, bytes", total=sum(map(len, program.files.values())))
            loader.load(prompt, program, extra, lambda done, _: bar.update(task, completed=done))
        prompt.restart()
    out.print(
        "Settings of this site were kept." if keep else f"Settings of {site.name} were written."
    )
    with BoardLink(port) as link:
        if not link.runs(GREETING_S):
            link.must_run()
        return _compared(link, [program])


def verify(arguments: argparse.Namespace) -> int:
    """Compare the board's files with fresh builds; 0 where one is equal, else 1."""
    with _running(arguments) as link:
        return _compared(link, _possible())


def _possible() -> Iterator[Program]:
    """Yield what may be on a board, each compiled only when it is asked for."""
    yield from (built(target.name) for target in TARGETS)
    yield source_program()


def _compared(link: BoardLink, programs: Iterable[Program]) -> int:
    about = answers.about(link)
    found = answers.program_files(link)
    out = screen()
    nearest: list[str] = []
    for program in programs:
        wrong = loader.differences(program, found)
        if not wrong:
            kind = program.target.words if program.target else "plain sources"
            out.print(
                f"Verified: {about.program}, {len(found)} files read back equal to a fresh build "
                f"for {kind}, SHA-256 {program.digest[:16]}.",
                highlight=False,
            )
            return 0
        if not nearest or len(wrong) < len(nearest):
            nearest = wrong
    out.print(f"The board's program is another one: {len(nearest)} differences to the nearest.")
    for words in nearest:
        out.print(f"  {words}", highlight=False, markup=False)
    return EXIT_DIFFERS


# --- reading --------------------------------------------------------------------------


def settings(arguments: argparse.Namespace) -> int:
    """Print the settings; always returns 0."""
    with _running(arguments) as link:
        read = answers.settings(link)
    rows = [(name, value) for name, value in read["settings"].items()]
    for name, row in read["envelope"].items():
        rows.append((f"envelope {name}, mA", " ".join(map(str, row))))
    return _tell(arguments, read, ("setting", "value"), rows)


def journal(arguments: argparse.Namespace) -> int:
    """Print the newest events; always returns 0."""
    with _running(arguments) as link:
        events = answers.journal(link, arguments.most)
    rows = [(event.sequence, event.boot, f"{event.uptime_s} s", event.words) for event in events]
    read = [asdict(event) for event in events]
    return _tell(arguments, read, ("no.", "boot", "after", "what"), rows)


def counters(arguments: argparse.Namespace) -> int:
    """Print the counters; always returns 0."""
    with _running(arguments) as link:
        read = answers.counters(link)
    rows = [(name.replace("_", " "), value) for name, value in read.items()]
    return _tell(arguments, read, ("counter", "so far"), rows)


def fault(arguments: argparse.Namespace) -> int:
    """Print the samples before the last fault; always returns 0."""
    with _running(arguments) as link:
        read = answers.fault_trace(link)
    what = answers.event_words("fault", read["fault"], 0, "")
    step_s = read["interval_ms"] / 1000
    last = len(read["samples"]) - 1
    rows = [
        (
            f"{(last - index) * step_s:.2f}",
            f"{contacts:05X}",
            f"{outputs:02X}",
            answers.state_name(state),
            f"{ma / 1000:.3f}",
            f"{mv / 1000:.1f}",
        )
        for index, (contacts, outputs, state, ma, mv) in enumerate(read["samples"])
    ]
    heads = ("before, s", "contacts", "outputs", "state", "current, A", "supply, V")
    title = f"{what}, boot {read['boot']}, {read['uptime_s']} s after it"
    return _tell(arguments, read, heads, rows, title)


def inputs(arguments: argparse.Namespace) -> int:
    """Show the inputs until time is over or the keyboard stops it; always returns 0."""
    until = None if arguments.seconds is None else time.monotonic() + arguments.seconds
    with _running(arguments) as link:
        if arguments.once or arguments.json:
            sample = _next_sample(link)
            if not _json(arguments, live.as_data(sample)):
                screen().print(live.panel(sample, link.reader.counted))
            return 0
        shown = screen()
        with Live(console=shown, refresh_per_second=SHOWN_A_SECOND) as view:
            while until is None or time.monotonic() < until:
                view.update(live.panel(_next_sample(link), link.reader.counted))
    return 0


def list_ports(arguments: argparse.Namespace) -> int:
    """Print the ports that may be boards; always returns 0."""
    ports = found_ports()
    for name, words in ports:
        screen().print(f"{name}  {words}", highlight=False, markup=False)
    if not ports:
        screen().print("No board was found on a USB port.")
    return 0


def _next_sample(link: BoardLink) -> Sample:
    """Return the newest of the next samples that come."""
    until = time.monotonic() + SAMPLE_S
    while time.monotonic() < until:
        samples = [
            sample for line in link.read() if line.kind == "T" and (sample := sample_of(line))
        ]
        if samples:
            return samples[-1]
    raise BadInput(f"Port {link.name}: the board's lines stopped coming.")


def _running(arguments: argparse.Namespace) -> BoardLink:
    link = BoardLink(chosen_port(arguments.port))
    try:
        link.must_run()
    except BaseException:
        link.close()
        raise
    return link


def _json(arguments: argparse.Namespace, content: Any) -> bool:
    if arguments.json:
        print(json.dumps(content, indent=2))
    return bool(arguments.json)


def _tell(
    arguments: argparse.Namespace,
    read: Any,
    heads: Sequence[str],
    rows: Iterable[Sequence[object]],
    title: str = "",
) -> int:
    """Print what was read: as JSON where that was asked for, else its rows as a table."""
    if _json(arguments, read):
        return 0
    table = Table(box=None, padding=(0, 2, 0, 0))
    for head in heads:
        table.add_column(head)
    for row in rows:
        table.add_row(*map(str, row))
    out = screen()
    if title:
        out.print(title, highlight=False)
    out.print(table)
    return 0
