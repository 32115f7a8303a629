"""`leafwinch replay`: plays a scenario file, such as a random search writes, and tells it."""

import argparse
from typing import Any

from leafwinch_host.commands import run
from leafwinch_host.commands.run import EXIT_BROKEN, EXIT_HOLDS
from leafwinch_host.recipe import RECIPE, recipe_of
from leafwinch_host.run_files import add_run_files, check_run_files, write_run_files
from leafwinch_host.run_summary import Setting, print_summary
from leafwinch_host.screen import screen
from leafwinch_sim.scenario import load_scenario
from leafwinch_sim.scenario_play import ScenarioPlayer
from leafwinch_sim.scripts import Script


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "replay",
        help="play a scenario file and tell what came of it",
        description="Plays a scenario: an installation, what hands and surroundings do, what "
        "breaks and when; at the end, where the file says so, everything is mended and must work. "
        "Exit code 0: every requirement holds; 1: one is broken; 2: bad input.",
        allow_abbrev=False,
    )
    parser.add_argument(
        "scenario",
        metavar="FILE",
        help="a scenario file, or in quotes a line 'leafwinch run ...' that a proof printed",
    )
    add_run_files(parser)
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Play, print the summary, write the files; return 0 or 1.

    Raises:
        BadInput: an option, the scenario, or what it names can't be used.
    """
    check_run_files(arguments)
    if arguments.scenario.startswith(RECIPE):
        return _run_recipe(arguments)
    scenario = load_scenario(arguments.scenario)
    player = ScenarioPlayer(scenario, trace=True)
    result = player.play()
    script = Script(scenario.name, scenario.summary, scenario.starts_at, ())
    setting = Setting(player.site, player.net, script, player.came, scenario.seed)
    print_summary(screen(), result, setting)
    write_run_files(arguments, result, setting)
    return EXIT_BROKEN if result.broken else EXIT_HOLDS


def _run_recipe(arguments: argparse.Namespace) -> int:
    """Run the command line that a proof printed for a break."""
    recipe = recipe_of(arguments.scenario)
    for name in ("plot", "trace", "json"):
        if getattr(arguments, name) is not None:
            setattr(recipe, name, getattr(arguments, name))
    return run.handle(recipe)
