"""`leafwinch explain`: what a fault means, the seconds before it, and what to do about it."""

import argparse
import json
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from leafwinch_host.board import answers
from leafwinch_host.board.link import BoardLink, Refused
from leafwinch_host.board.ports import chosen_port
from leafwinch_host.commands.installation import installation
from leafwinch_host.explaining import telling
from leafwinch_host.explaining.before import Before, before_fault
from leafwinch_host.explaining.expected import all_settings, values_of
from leafwinch_host.explaining.from_log import last_fault_in
from leafwinch_host.files import check_target
from leafwinch_host.screen import screen
from leafwinch_sim.site import Site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

WIRING = "reference"  # whose proof is quoted where no site is named
NUMBERED = ("Likely", "What to measure")


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "explain",
        help="explain a fault: causes, what to measure, when not to go on, the seconds before",
        description="Explains a fault by number or name, or the last one of a board or a log: what "
        "it means, how grave it is, when not to go on, the trace before it, likely causes, what to "
        "measure with expected values, and how to take it back. Only reads the board.",
        allow_abbrev=False,
    )
    parser.add_argument(
        "fault", nargs="?", metavar="NUMBER|NAME", help="which fault (default: the last one)"
    )
    parser.add_argument("--port", metavar="PORT", help="serial port (default: the only one)")
    parser.add_argument("--log", type=Path, metavar="FILE", help="a log instead of a board")
    parser.add_argument("--site", metavar="NAME|FILE", help="site whose numbers are quoted")
    parser.add_argument("--wiring", metavar="NAME|FILE", help="another netlist than the site's own")
    parser.add_argument(
        "--output", "-o", type=Path, metavar="FILE", help="draw the trace as .svg or .png"
    )
    parser.add_argument("--json", action="store_true", help="print JSON instead of text")
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Explain the fault that is meant; always returns 0.

    Raises:
        BadInput: there is no such fault, no board or log with one, or a file can't be used.
    """
    check_target("--output", arguments.output, (".svg", ".png"))
    wanted = telling.fault_number(arguments.fault) if arguments.fault else 0
    site: Site | None = None
    net: Netlist | None = None
    if arguments.site:
        site, net = installation(arguments.site, arguments.wiring)
    elif arguments.wiring:
        raise BadInput("--wiring needs --site, since both belong together.")
    settings = dict(site.settings) if site else {}
    before = None
    if arguments.log:
        before = last_fault_in(arguments.log, wanted)
    elif arguments.port or not wanted:
        before, settings = from_board(arguments.port, wanted)
    if before is None and arguments.output:
        raise BadInput("--output draws a trace, and none is there: give --port or --log.")
    number = wanted or (before.fault if before else 0)
    said = telling.told(
        number,
        values_of(settings, site, net),
        net.name if net else WIRING,
        before,
        site is not None and site.over == "water",
    )
    if arguments.output and before is not None:
        _draw(arguments.output, before, said, settings)
    if arguments.json:
        print(json.dumps(telling.as_data(said), indent=2, ensure_ascii=False))
    else:
        _print(screen(), said)
        if arguments.output:
            screen().print(f"The trace is drawn in {arguments.output}.", highlight=False)
    return 0


def from_board(port: str | None, wanted: int) -> tuple[Before | None, dict[str, int]]:
    """Read the last fault's trace and the settings of a board.

    Returns:
        The trace, or None where a fault was named and the board's last one is another; the
        settings by name.

    Raises:
        BadInput: no board answers, or it has no trace and no fault was named.
    """
    with BoardLink(chosen_port(port)) as link:
        link.must_run()
        settings = answers.settings(link)["settings"]
        if wanted:
            try:
                before = before_fault(answers.fault_trace(link))
            except BadInput:
                return None, settings  # the explanation stands without a trace
            return (before if before.fault == wanted else None), settings
        try:
            return before_fault(answers.fault_trace(link)), settings
        except Refused:
            raise BadInput(
                "The board has no fault stored, so there is nothing to explain; name one by its "
                "number or name."
            ) from None


def _draw(path: Path, before: Before, said: telling.Told, settings: dict[str, int]) -> None:
    from leafwinch_host.explaining.trace_plot import Lines, save_trace_plot  # slow to load

    whole = all_settings(settings)
    when = f"boot {before.boot}, {before.uptime_s} s after it" if before.boot >= 0 else "of a log"
    lines = Lines(
        title=f"Before fault {said.number}: {said.name}",
        subtitle=f"{when}; a bar: closed or on, bold: changed",
        trip_a=whole["trip_ma"] / 1000,
        supply_low_v=whole["supply_low_mv"] / 1000,
    )
    save_trace_plot(path, before, lines)


def _print(out: Console, said: telling.Told) -> None:
    out.print(Text(telling.title(said), style="bold"))
    for heading, sentences in telling.sections(said):
        out.print()
        out.print(Text(heading, style="bold"))
        for number, sentence in enumerate(sentences, start=1):
            mark = f"{number}. " if heading.startswith(NUMBERED) else ""
            out.print(Padding(Text(mark + sentence), (0, 0, 0, 2)))
