"""`leafwinch bench`: the bench in the browser, with hands on it, on this machine only."""

import argparse
import functools
import signal
from types import FrameType
from typing import Any

from leafwinch_host.commands.installation import chosen_installation
from leafwinch_host.commands.options import add_installation
from leafwinch_sim.scripts import load_script

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
    add_installation(parser)
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
    from leafwinch_host.page.play import Opening

    site, net = chosen_installation(arguments)
    script = load_script(arguments.script) if arguments.script else None
    before = signal.signal(signal.SIGTERM, _stop)
    try:
        serve(
            site,
            net,
            arguments.seed,
            arguments.port,
            not arguments.no_browser,
            Opening(script=script),
            functools.partial(print, flush=True),
        )
    except KeyboardInterrupt:
        print("The bench is switched off.")
    finally:
        signal.signal(signal.SIGTERM, before)
    return EXIT_ENDED


def _stop(_number: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt
