"""`leafwinch bench`: the bench in the browser, with hands on it, on this machine only."""

import argparse
import signal
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

from leafwinch_host.commands.installation import chosen_installation, installation
from leafwinch_host.commands.options import add_circumstances, add_site
from leafwinch_host.commands.run import pair_defects
from leafwinch_host.recipe import RECIPE, recipe_of
from leafwinch_host.screen import progress_screen
from leafwinch_sim.bench_defects import find_defect
from leafwinch_sim.scenario import load_scenario
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import Site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

if TYPE_CHECKING:
    from leafwinch_host.page.play import Opening

EXIT_ENDED = 0
PORT_MIN = 1024
PORT_MAX = 65_535


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "bench",
        help="move the simulated deck by hand on a page in the browser, and break things",
        description="Serves a page on this machine only, prints its address and opens it: hold "
        "the control, watch the deck, break a wire and see what happens. Ends with Ctrl-C. "
        "Everything is simulated; nothing real is moved.",
        epilog="A real deck crushes and falls, an open pit or slip drowns, mains kills. Local "
        "codes and a licensed electrician come first.",
        allow_abbrev=False,
    )
    meant = parser.add_mutually_exclusive_group(required=True)
    add_site(meant)
    meant.add_argument(
        "--scenario",
        metavar="FILE",
        help="watch a scenario file, or in quotes a line 'leafwinch run ...' that a proof printed, "
        "on the installation that it names",
    )
    add_circumstances(parser)
    parser.add_argument(
        "--script", metavar="NAME|FILE", help="an operator script that is played at the beginning"
    )
    parser.add_argument(
        "--port",
        type=port,
        default=0,
        metavar="N",
        help=f"port to listen on, {PORT_MIN} to {PORT_MAX} (left out: a free one)",
    )
    parser.add_argument(
        "--no-browser", action="store_true", help="only print the address, do not open it"
    )
    parser.set_defaults(handler=handle)


def port(text: str) -> int:
    """Read a port: 1024 to 65535, or 0 for a free one."""
    value = int(text) if text.isascii() and text.isdigit() and len(text) <= 5 else -1
    if value != 0 and not PORT_MIN <= value <= PORT_MAX:
        raise argparse.ArgumentTypeError(
            f"found '{text}', allowed is a port from {PORT_MIN} to {PORT_MAX}, or 0 for a free one"
        )
    return value


def handle(arguments: argparse.Namespace) -> int:
    """Serve until interrupted; return 0.

    Raises:
        BadInput: an option can't be used, or the port is taken.
    """
    # The server's library takes longer to load than most commands to run.
    from leafwinch_host.page.app import serve

    site, net, seed, opening = opened(arguments)
    before = signal.signal(signal.SIGTERM, _stop)
    try:
        serve(
            site,
            net,
            seed,
            arguments.port,
            not arguments.no_browser,
            opening,
            _tell,
        )
    except KeyboardInterrupt:
        print("The bench is switched off.")
    finally:
        signal.signal(signal.SIGTERM, before)
    return EXIT_ENDED


def opened(arguments: argparse.Namespace) -> tuple[Site, Netlist, int, "Opening"]:
    """Return the installation, the seed, and what is played first."""
    # The page's parts take longer to load than most commands to run.
    from leafwinch_host.page.loading import check_acts, known_defects
    from leafwinch_host.page.play import Opening

    text = arguments.scenario
    if text is None:
        script = load_script(arguments.script) if arguments.script else None
        return *chosen_installation(arguments), arguments.seed, Opening(script=script)
    for name in ("wiring", "settings", "script"):
        if getattr(arguments, name) is not None:
            raise BadInput(
                f"leafwinch bench: --{name} and --scenario exclude each other; the scenario says "
                "what it is played on."
            )
    if text.startswith(RECIPE):
        recipe = recipe_of(text)
        opening = Opening(
            script=load_script(recipe.script),
            defects=tuple(pair_defects(recipe.defect, recipe.at)),
        )
        site, net = chosen_installation(recipe)
        for name, _ in opening.defects:
            find_defect(site, net, name)
        return site, net, recipe.seed, opening
    scenario = load_scenario(text)
    site, net = installation(
        scenario.site,
        scenario.wiring or None,
        Path(scenario.settings) if scenario.settings else None,
    )
    check_acts(scenario, known_defects(site, net), text)
    return site, net, scenario.seed, Opening(scenario=scenario)


def _tell(url: str) -> None:
    print(url, flush=True)
    progress_screen().print(
        "Simulated only, for this machine only. Hold a button on the page; Ctrl-C here ends it.",
        markup=False,
    )


def _stop(_number: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt
