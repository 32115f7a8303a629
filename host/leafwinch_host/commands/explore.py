"""`leafwinch explore`: every state that the control core can reach, judged in every pass."""

import argparse
import dataclasses
import time
from typing import Any

from rich.console import Console
from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn
from rich.table import Table

from leafwinch_host import version
from leafwinch_host.commands.options import add_output
from leafwinch_host.files import check_target, write_json
from leafwinch_host.screen import progress_screen, screen
from leafwinch_sim.explore.exploration import SHORT, Exploration, explore
from leafwinch_sim.explore.extents import LARGE, SMALL, Extent
from leafwinch_sim.explore.unreached import unreached
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput

EXIT_HOLDS = 0
EXIT_BROKEN = 1
EXIT_INTERRUPTED = 130
PASSES_MAX = 40_000_000
TELL_EVERY = 50  # nodes between two words to the progress line
BAR_CELLS = 40
EXTENTS = {extent.name: extent for extent in (*SMALL, *LARGE)}


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    names = ", ".join(f"'{name}'" for name in EXTENTS)
    parser = commands.add_parser(
        "explore",
        help="visit every state that the control core can reach",
        description="Explores the real control core breadth first: every state it can reach under "
        "a stated alphabet of inputs, with travels and accounts made short, judged by R1, R2, R3, "
        "R4, R5 and R7 in every pass; then asks for a way to both ends and out of every fault. "
        f"Explorations: {names}. Exit code 0: all hold; 1: a rule is broken, or an exploration "
        "stopped at its bound; 2: bad input.",
        allow_abbrev=False,
    )
    parser.add_argument(
        "--site",
        required=True,
        metavar="NAME|FILE",
        help="a shipped site ('leafwinch sites' lists them) or a site file",
    )
    parser.add_argument(
        "--extent",
        action="append",
        metavar="NAME",
        help="one exploration, may be given again (default: the small ones)",
    )
    parser.add_argument(
        "--large", action="store_true", help="also the large explorations, which take long"
    )
    parser.add_argument(
        "--passes-max",
        type=passes,
        default=PASSES_MAX,
        metavar="N",
        help="bound of each exploration in passes of the core (default %(default)s)",
    )
    add_output(parser, "json", "write the result as JSON")
    parser.set_defaults(handler=handle)


def passes(text: str) -> int:
    """Read a number of passes: 1 to 10^12."""
    value = int(text) if text.isascii() and text.isdigit() else 0
    if not 1 <= value <= 10**12:
        raise argparse.ArgumentTypeError(
            f"found '{text}', allowed is a whole number from 1 to 1000000000000"
        )
    return value


def chosen(arguments: argparse.Namespace) -> list[Extent]:
    """Return the explorations asked for.

    Raises:
        BadInput: a name that is none of them.
    """
    if arguments.extent is None:
        return [*SMALL, *LARGE] if arguments.large else list(SMALL)
    for name in arguments.extent:
        if name not in EXTENTS:
            raise BadInput(f"--extent '{name}' is not known, allowed are {', '.join(EXTENTS)}.")
    return [EXTENTS[name] for name in arguments.extent]


def handle(arguments: argparse.Namespace) -> int:
    """Explore, print what was found, write the file; return 0, 1 or 130.

    Raises:
        BadInput: an option, or the site can't be used.
    """
    check_target("--json", arguments.json)
    site = load_site(arguments.site)
    out = screen()
    results: list[tuple[Exploration, float]] = []
    interrupted = False
    for extent in chosen(arguments):
        try:
            found, seconds = explored(extent, site.settings, arguments.passes_max)
        except ValueError as error:
            raise BadInput(f"{site.name}: {error}.") from None
        except KeyboardInterrupt:
            interrupted = True
            progress_screen().print(
                f"leafwinch: stopped from the keyboard during '{extent.name}'; what follows is "
                "of the explorations that were over."
            )
            break
        results.append((found, seconds))
        print_one(out, found, seconds)
    signed = site.settings.get("current_signed", 0)
    missing = unreached((name for one, _ in results for name in one.faults), signed)
    if results and not interrupted:
        print_faults(out, missing)
    if arguments.json:
        write_json(arguments.json, as_json(site.name, results, missing, not interrupted))
    if interrupted:
        return EXIT_INTERRUPTED
    return EXIT_HOLDS if all(found.holds for found, _ in results) else EXIT_BROKEN


def explored(extent: Extent, settings: dict[str, int], bound: int) -> tuple[Exploration, float]:
    """Return one exploration and how many seconds it took, with a line of progress."""
    begun = time.perf_counter()
    told = 0
    with Progress(
        SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn(),
        console=progress_screen(), transient=True,
    ) as line:  # fmt: skip
        task = line.add_task(extent.name, total=None)

        def progress(states: int, left: int, played: int) -> None:
            nonlocal told
            told += 1
            if told % TELL_EVERY == 0:
                words = f"{extent.name}: {states} states, {left} to expand, {played} passes"
                line.update(task, description=words)

        found = explore(extent, settings, passes_max=bound, progress=progress)
    return found, time.perf_counter() - begun


def print_one(out: Console, found: Exploration, seconds: float) -> None:
    """Print what one exploration found, with a bar for each state of the drive."""
    verdict = "holds" if found.holds else "stopped at its bound" if is_cut(found) else "is broken"
    rate = found.passes / seconds if seconds else 0.0
    out.print(
        f"[bold]{found.extent.name}[/bold] {verdict}: {found.states} states, {found.edges} "
        f"transitions between them, {found.passes} passes of the core judged in {seconds:.1f} s "
        f"({rate:.0f} a second)"
    )
    most = max(found.by_state.values())
    table = Table(show_header=False, box=None, padding=(0, 2, 0, 2))
    for name, count in found.by_state.items():
        table.add_row(name, f"{count}", "█" * -(-count * BAR_CELLS // most) if count else "")
    out.print(table)
    if found.violation:
        out.print(f"  {found.violation.requirement}: {found.violation.text}. The shortest way:")
        for number, words in enumerate(found.violation.words, start=1):
            out.print(f"  {number}. {words}")
    for end, count in found.stranded.items():
        out.print(f"  {count} states without a way to {end}")
    for fault, count in found.no_way_out.items():
        out.print(f"  {count} states with {fault} and no way out")


def is_cut(found: Exploration) -> bool:
    """Tell whether an exploration stopped at its bound with nothing broken."""
    return not found.complete and found.violation is None


def print_faults(out: Console, missing: dict[str, str]) -> None:
    """Print which faults no exploration reached, and why."""
    out.print(f"Faults not reached: {len(missing)}")
    for name, reason in missing.items():
        out.print(f"  {name}: {reason}", soft_wrap=True)


def as_json(
    site: str, results: list[tuple[Exploration, float]], missing: dict[str, str], complete: bool
) -> dict[str, Any]:
    """Return the content of the JSON file."""
    rows = []
    for found, seconds in results:
        row = dataclasses.asdict(found)
        row["verdict"] = "holds" if found.holds else "bound" if is_cut(found) else "broken"
        row["seconds"] = round(seconds, 3)
        rows.append(row)
    return {
        "leafwinch": version(),
        "site": site,
        "complete": complete,
        "shortened_settings": SHORT,
        "explorations": rows,
        "faults_not_reached": missing,
    }
