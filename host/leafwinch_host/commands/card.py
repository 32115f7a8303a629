"""`leafwinch card`: the printable card of lamp and buzzer patterns."""

import argparse
from pathlib import Path
from typing import Any

from leafwinch_host.files import check_target, write_bytes
from leafwinch_host.report.lamp_card import Form, lamp_card
from leafwinch_host.screen import screen

FORMS: dict[str, Form] = {".pdf": "pdf", ".svg": "svg", ".png": "png"}


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "card",
        help="write the card that says what the lamps and the buzzer mean",
        description="Writes one sheet A4 to hang beside the control: every pattern of the white "
        "and the red lamp, drawn as the firmware plays it, and every fault with what to look at.",
        allow_abbrev=False,
    )
    parser.add_argument(
        "--output",
        "-o",
        metavar="FILE",
        type=Path,
        default=Path("lamp-card.pdf"),
        help="a name ending in .pdf, .svg or .png (default: lamp-card.pdf)",
    )
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """Write the card; always returns 0."""
    check_target("--output", arguments.output, tuple(FORMS))
    write_bytes(arguments.output, lamp_card(FORMS[arguments.output.suffix.lower()]))
    screen().print(f"Lamp card written to {arguments.output}")
    return 0
