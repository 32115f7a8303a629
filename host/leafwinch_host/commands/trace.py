"""`leafwinch trace`: reads a recording back, shows, draws, judges, compares and exports it."""

import argparse
import json
from pathlib import Path
from typing import Any

from leafwinch_host.commands.installation import chosen_installation, installation
from leafwinch_host.commands.options import add_output, add_settings
from leafwinch_host.files import check_target
from leafwinch_host.recording import trace_show
from leafwinch_host.recording.exports import write_csv, write_parquet, write_vcd
from leafwinch_host.recording.happenings import happenings
from leafwinch_host.recording.judging import judge
from leafwinch_host.recording.recorded import Recorded, read_recording
from leafwinch_host.screen import screen
from leafwinch_wiring.errors import BadInput

EXIT_BROKEN = 1
PLOT_ENDINGS = (".svg", ".png")
WRITERS = {"csv": write_csv, "parquet": write_parquet, "vcd": write_vcd}


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "trace",
        help="show, draw, judge, compare and export what 'leafwinch log' recorded",
        description="Reads a recording made by 'leafwinch log', also one that was cut off. What "
        "it says holds for what was recorded and for nothing else: it certifies nothing.",
        allow_abbrev=False,
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the recording")
    jobs = parser.add_subparsers(
        dest="job", metavar="JOB", required=True, parser_class=type(parser)
    )
    _job(jobs, "show", show, "tell everything that happened, in words")
    job = _job(jobs, "plot", plot, "draw state, contacts, current and supply")
    job.add_argument("--output", "-o", required=True, type=Path, metavar="FILE")
    job.add_argument("--site", metavar="NAME|FILE", help="draw the trip level of this site")
    job = _job(jobs, "summary", summary, "count travels, faults, gaps and lines")
    job.add_argument("--json", action="store_true", help="print it as JSON")
    job = _job(
        jobs, "check", check, "judge the requirements that a recording can tell; broken: exit 1"
    )
    _installation(job)
    job = _job(jobs, "export", export, "write it for other programs")
    add_output(job, "csv", "comma-separated text, one column a signal")
    add_output(job, "parquet", "Parquet, the same columns")
    add_output(job, "vcd", "value change dump of IEEE 1364, for viewers of digital signals")
    job = _job(jobs, "compare", compared, "compare its full travels with what the bench plays")
    _installation(job)


def _job(jobs: Any, name: str, handler: Any, text: str) -> Any:
    job = jobs.add_parser(
        name, help=text, description=f"{text[0].upper()}{text[1:]}.", allow_abbrev=False
    )
    job.set_defaults(handler=handler)
    return job


def _installation(job: Any) -> None:
    job.add_argument("--site", required=True, metavar="NAME|FILE", help="where it was recorded")
    job.add_argument("--wiring", metavar="NAME|FILE", help="another netlist than the site's own")
    add_settings(job)


def show(arguments: argparse.Namespace) -> int:
    """Print a table of all events; return 0."""
    recorded = _read(arguments)
    trace_show.show_events(screen(), recorded, happenings(recorded))
    return 0


def plot(arguments: argparse.Namespace) -> int:
    """Write the drawing; return 0."""
    check_target("--output", arguments.output, PLOT_ENDINGS)
    trip_a = None
    if arguments.site is not None:
        site, _ = installation(arguments.site, None)
        trip_a = trace_show.trip_a(site)
    recorded = _read(arguments)
    # The drawing library takes long to load, so only when needed.
    from leafwinch_host.recording.trace_plot import Titles, save_trace_plot

    save_trace_plot(arguments.output, recorded, Titles(recorded.path.name, trip_a))
    return 0


def summary(arguments: argparse.Namespace) -> int:
    """Print the summary; return 0."""
    data = trace_show.summary_data(_read(arguments))
    if arguments.json:
        print(json.dumps(data, indent=2))
    else:
        trace_show.show_summary(screen(), data)
    return 0


def check(arguments: argparse.Namespace) -> int:
    """Judge and print the verdicts; return 0, or 1 where a requirement is broken."""
    site, net = chosen_installation(arguments)
    if not net.has_controller:
        raise BadInput(f"Wiring {net.name} has no board, so it can have no recording.")
    recorded = _read(arguments)
    judgement = judge(recorded, site, net)
    trace_show.show_judgement(screen(), recorded, judgement)
    return EXIT_BROKEN if judgement.broken else 0


def export(arguments: argparse.Namespace) -> int:
    """Write the files asked for; return 0.

    Raises:
        BadInput: none was asked for, or one can't be written.
    """
    wanted = {name: getattr(arguments, name) for name in WRITERS}
    wanted = {name: path for name, path in wanted.items() if path is not None}
    if not wanted:
        raise BadInput("leafwinch trace FILE export: say what to write: --csv, --parquet or --vcd.")
    for name, path in wanted.items():
        check_target(f"--{name}", path)
    recorded = _read(arguments)
    for name, path in wanted.items():
        WRITERS[name](recorded, path)
        screen().print(f"{len(recorded)} samples written to {path}.", markup=False)
    return 0


def compared(arguments: argparse.Namespace) -> int:
    """Compare with the bench and print what differs and what it suggests; return 0."""
    site, net = chosen_installation(arguments)
    recorded = _read(arguments)
    from leafwinch_host.recording.predict import compare

    trace_show.show_comparison(screen(), site.name, compare(recorded, site, net))
    return 0


def _read(arguments: argparse.Namespace) -> Recorded:
    return read_recording(arguments.file)
