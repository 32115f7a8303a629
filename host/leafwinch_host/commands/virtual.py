"""`leafwinch virtual`: a virtual board on a pseudo-terminal, with the bench around it."""

import argparse
import signal
import sys
import tempfile
from pathlib import Path
from types import FrameType
from typing import Any

from rich.console import Console

from leafwinch_host.commands.installation import chosen_installation
from leafwinch_host.commands.options import add_installation
from leafwinch_host.commissioning.keyboard import LEAVE, Keyboard
from leafwinch_host.screen import progress_screen
from leafwinch_host.virtual_hands import sentences
from leafwinch_host.virtual_run import Pace, VirtualRun
from leafwinch_sim.scripts import load_script
from leafwinch_sim.virtual_process import BoardGone
from leafwinch_wiring.errors import BadInput

EXIT_HOLDS = 0
EXIT_BROKEN = 1
SPEED_MAX = 1000.0
HINT = (
    "The first path is the board's serial port, for '--port'. The second one takes what hands do; "
    "so does this terminal: 'help' lists what they can, 'look' tells what eyes and meters find, "
    "'raise; wait 2; release' does one after the other, 'quit' ends."
)
AS_FAST = "max"


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "virtual",
        help="play a board with its own program on a pseudo-terminal",
        description="Plays a board that runs the whole program in MicroPython, in step with the "
        "simulated installation. The first line printed is the path of its serial port, the "
        "second one that of the hands: a terminal that takes lines such as 'raise' and 'release'. "
        "The terminal that it runs in takes them as well. "
        "No physical board takes part, and a virtual one proves nothing about it.",
        epilog=f"The hands understand: {', '.join(sentences())}. Several in a line have semicolons "
        "between them: 'raise; wait 2; release'.",
        allow_abbrev=False,
    )
    add_installation(parser)
    parser.add_argument(
        "--script", metavar="NAME|FILE", help="an operator script that is played at the beginning"
    )
    parser.add_argument(
        "--flash",
        type=Path,
        metavar="FILE",
        help="file that keeps the board's flash; made with program and settings where it is "
        "missing (left out: a new one that is forgotten)",
    )
    parser.add_argument(
        "--blank", action="store_true", help="make a new flash without a program, to load it later"
    )
    parser.add_argument(
        "--speed",
        type=speed,
        default=1.0,
        metavar="N|max",
        help="simulated seconds in a second (default 1)",
    )
    parser.set_defaults(handler=handle)


def speed(text: str) -> float:
    """Read a speed: above 0 to 1000, or 'max', which is returned as 0."""
    if text == AS_FAST:
        return 0.0
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0.0 < value <= SPEED_MAX:
        raise argparse.ArgumentTypeError(
            f"found '{text}', allowed is a number above 0 to {SPEED_MAX:g}, or '{AS_FAST}'"
        )
    return value


def handle(arguments: argparse.Namespace) -> int:
    """Run until the hands quit or a signal comes; return 0, or 1 if a requirement was broken.

    Raises:
        BadInput: an option can't be used, or the board's process ended by itself.
    """
    if sys.platform == "win32":
        raise BadInput(
            "leafwinch virtual: Windows has no pseudo-terminals; allowed are Linux and macOS."
        )
    site, net = chosen_installation(arguments)
    script = load_script(arguments.script) if arguments.script else None
    flash = arguments.flash
    if flash is not None and arguments.blank and flash.exists():
        raise BadInput(f"{flash}: there is a flash already; --blank would make a new one.")
    with tempfile.TemporaryDirectory() as folder:
        if flash is None:
            flash = Path(folder) / "flash"
        try:
            run = VirtualRun(site, net, flash, script, arguments.seed, arguments.blank)
        except OSError as error:
            raise BadInput(f"{flash}: {error.strerror}.") from None
        try:
            return run_until_end(run, Pace(arguments.speed))
        except BoardGone as error:
            raise BadInput(f"leafwinch virtual: {error}") from None
        finally:
            run.close()


def run_until_end(run: VirtualRun, pace: Pace) -> int:
    """Print both paths, then step and tell events until the end."""
    print(run.line.path)
    print(run.hands.path, flush=True)
    before = signal.signal(signal.SIGTERM, _stop)
    screen = progress_screen()
    keyboard = Keyboard() if sys.stdin.isatty() else None
    if keyboard is not None:
        screen.print(HINT, markup=False, highlight=False)
    try:
        while not run.over:
            run.step()
            run.idle()
            if keyboard is not None:
                obey(run, keyboard, screen)
            for t_ms, words in run.events():
                screen.print(f"{t_ms / 1000:9.2f} s  {words}", markup=False, highlight=False)
            pace.wait()
    except KeyboardInterrupt:
        screen.print("The virtual board is switched off.")
    finally:
        signal.signal(signal.SIGTERM, before)
    return EXIT_BROKEN if run.broken else EXIT_HOLDS


def obey(run: VirtualRun, keyboard: Keyboard, screen: Console) -> None:
    """Do what was typed into this terminal."""
    typed = keyboard.glance("hands")
    if typed in ("quit", LEAVE):
        run.over = True
    elif typed:
        for words in run.answer(typed).split("; "):
            screen.print(f"  {words}", markup=False, highlight=False)


def _stop(_number: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt
