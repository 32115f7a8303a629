"""`leafwinch run`: plays one operator script on the bench and tells what came of it."""

import argparse
from typing import Any

from leafwinch_host.commands.installation import chosen_installation
from leafwinch_host.commands.options import add_installation, seconds
from leafwinch_host.run_files import add_run_files, check_run_files, write_run_files
from leafwinch_host.run_summary import Setting, print_summary
from leafwinch_host.screen import screen
from leafwinch_sim.lockstep import LockstepDifference
from leafwinch_sim.run import INTERPRETERS, run_script
from leafwinch_sim.scripts import load_script
from leafwinch_wiring.errors import BadInput

EXIT_HOLDS = 0
EXIT_BROKEN = 1


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "run",
        help="play one operator script and tell what came of it",
        description="Plays an operator script on a simulated installation, with defects if "
        "asked for. Exit code 0: every requirement holds; 1: one is broken; 2: bad input.",
        allow_abbrev=False,
    )
    add_installation(parser)
    parser.add_argument(
        "--script",
        required=True,
        metavar="NAME|FILE",
        help="a shipped operator script ('leafwinch sites' lists these) or a script file",
    )
    parser.add_argument(
        "--defect",
        action="append",
        default=[],
        metavar="NAME",
        help="let this break ('leafwinch sites --defects SITE' lists the names); may be repeated",
    )
    parser.add_argument(
        "--at",
        action="append",
        default=[],
        type=seconds,
        metavar="SECONDS",
        help="when the defect comes (one --at for each --defect; left out: from the start)",
    )
    parser.add_argument(
        "--interpreter",
        choices=INTERPRETERS,
        default=INTERPRETERS[0],
        help="what runs the firmware (default %(default)s)",
    )
    add_run_files(parser)
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Run, print the summary, write the files; return 0 or 1.

    Raises:
        BadInput: an option, the site, the netlist, the script or a defect can't be used.
    """
    check_run_files(arguments)
    script = load_script(arguments.script)
    site, net = chosen_installation(arguments)
    defects = pair_defects(arguments.defect, arguments.at)
    try:
        result = run_script(
            site,
            script,
            wiring=net,
            defects=defects,
            seed=arguments.seed,
            interpreter=arguments.interpreter,
        )
    except LockstepDifference as difference:
        screen().print(f"The two interpreters disagree: {difference}", markup=False)
        return EXIT_BROKEN
    setting = Setting(site, net, script, defects, arguments.seed)
    print_summary(screen(), result, setting)
    write_run_files(arguments, result, setting)
    holds = all(broken_s is None for broken_s in result.requirements.values())
    return EXIT_HOLDS if holds else EXIT_BROKEN


def pair_defects(names: list[str], times_s: list[float]) -> list[tuple[str, int]]:
    """Join defects and their times in order; return ids with times in ms.

    Raises:
        BadInput: there are times, but not one for each defect.
    """
    if times_s and len(times_s) != len(names):
        raise BadInput(
            f"leafwinch run: found --defect {len(names)} times and --at {len(times_s)} times, "
            "allowed is one --at for each --defect, or none."
        )
    moments_s = times_s or [0.0] * len(names)
    return [(name, round(at_s * 1000)) for name, at_s in zip(names, moments_s, strict=True)]
