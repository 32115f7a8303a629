"""`leafwinch new`: asks for the measures of a floor and its winch, and writes the site file."""

import argparse
import re
import shlex
import sys
from pathlib import Path
from typing import Any

from leafwinch_host.files import check_target, write_text
from leafwinch_host.new_site.answers import Answers, Words
from leafwinch_host.new_site.asking import Dialogue, Say
from leafwinch_host.new_site.kept import keep, kept_beside, take_up
from leafwinch_host.new_site.measure_drawing import measure_drawing
from leafwinch_host.new_site.questions import QUESTIONS
from leafwinch_host.new_site.site_text import site_text
from leafwinch_host.screen import progress_screen, screen
from leafwinch_sim.site import parse_site
from leafwinch_wiring.errors import BadInput

EXIT_INTERRUPTED = 130


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "new",
        help="ask for the measures of a floor and its winch, and write the site file",
        description="Asks for the few measures that a builder has, checks each at once, and "
        "writes a commented site file with a drawing of where to measure. What was not measured "
        "is marked ASSUMED in it. Every question has an option too.",
        allow_abbrev=False,
    )
    parser.add_argument("path", type=Path, metavar="PATH", help="the site file to write, .toml")
    parser.add_argument(
        "--yes", action="store_true", help="take what is suggested for the questions left out"
    )
    parser.add_argument(
        "--replace", action="store_true", help="write over a site file and drawing that exist"
    )
    parser.add_argument(
        "--no-drawing", action="store_true", help="write no drawing (PATH with the ending .svg)"
    )
    for question in QUESTIONS:
        parser.add_argument(
            question.flag,
            dest=question.key,
            action="append",
            metavar="ANSWER",
            help=f"{question.words}, such as '{question.example}'".replace("%", "%%"),
        )
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Ask, write the files; return 0, or 130 when stopped from the keyboard.

    Raises:
        BadInput: an answer or a file can't be used, or an answer is missing.
    """
    path: Path = arguments.path
    drawing = None if arguments.no_drawing else path.with_suffix(".svg")
    check_target("PATH", path, (".toml",))
    for target in (path, drawing):
        if target is not None and target.exists() and not arguments.replace:
            raise BadInput(f"{target}: exists already; allowed is a new name, or --replace.")
    kept = kept_beside(path)
    say: Say = _say
    dialogue = Dialogue(
        _given(arguments),
        take_up(kept),
        _name_of(path),
        arguments.yes,
        input if sys.stdin.isatty() else None,
        say,
    )
    if dialogue.kept:
        say(f"Going on with {len(dialogue.kept)} answers kept in {kept}; remove it to start anew.")
    try:
        answers = dialogue.run()
        text = _whole_file(path, answers)
    except (KeyboardInterrupt, EOFError):
        return _stopped(kept, dialogue.answers)
    except BadInput:
        if dialogue.asked:  # whoever answered at the terminal doesn't type it all again
            keep(kept, dialogue.answers)
        raise
    write_text(path, text)
    if drawing is not None:
        write_text(drawing, measure_drawing(answers))
    kept.unlink(missing_ok=True)
    _tell(path, drawing)
    return 0


def _given(arguments: argparse.Namespace) -> Words:
    given: dict[str, tuple[str, ...]] = {}
    for question in QUESTIONS:
        words = getattr(arguments, question.key)
        if words is None:
            continue
        if len(words) > 1 and not question.many:
            raise BadInput(f"{question.flag}: given {len(words)} times, allowed is once.")
        given[question.key] = tuple(words)
    return given


def _name_of(path: Path) -> dict[str, str]:
    name = re.sub(r"[^a-z0-9]+", "-", path.stem.lower()).strip("-")[:40]
    return {"name": name} if name else {}


def _whole_file(path: Path, answers: Answers) -> str:
    """Return the file's text, which the reader of site files has accepted."""
    try:
        text = site_text(answers)
    except ValueError as error:
        raise BadInput(f"{path}: {str(error).rstrip('.')}.") from None
    site = parse_site(text.encode("utf-8"), str(path))
    # Sizing takes a while to load, so only when needed.
    from leafwinch_host.sized_settings import settings_section

    text += settings_section(site)
    parse_site(text.encode("utf-8"), str(path))
    return text


def _stopped(kept: Path, answers: Answers) -> int:
    keep(kept, answers)
    progress_screen().print(
        f"\nleafwinch: stopped from the keyboard; {len(answers.words)} answers are kept in "
        f"{kept}, and the same command goes on from there.",
        markup=False,
        soft_wrap=True,
    )
    return EXIT_INTERRUPTED


def _say(words: str) -> None:
    screen().print(words, markup=False, soft_wrap=True)  # a command stays on one line


def _tell(path: Path, drawing: Path | None) -> None:
    site = shlex.quote(str(path))
    written = f"Site file written to {path}"
    if drawing is not None:
        written += f", where to measure drawn in {drawing}"
    _say(
        f"{written}\n"
        "Read it first: what is marked ASSUMED was not measured. Then:\n"
        f"  leafwinch size --site {site}\n"
        f"  leafwinch run --site {site} --script full-cycle --plot cycle.svg\n"
        f"  leafwinch healthy --site {site} --cycles 50\n"
        f"  leafwinch prove --site {site}"
    )
