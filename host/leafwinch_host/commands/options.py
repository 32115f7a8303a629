"""Arguments that several commands share, and the reading of their values."""

import argparse
import math
from pathlib import Path


def add_installation(parser: argparse.ArgumentParser) -> None:
    """Add the options that say which installation is meant."""
    add_site(parser, required=True)
    add_circumstances(parser)


def add_site(parser: argparse._ActionsContainer, required: bool = False) -> None:
    """Add the option that names the site; a group of which one must be given requires it itself."""
    parser.add_argument(
        "--site",
        required=required,
        metavar="NAME|FILE",
        help="a shipped site ('leafwinch sites' lists them) or a site file",
    )


def add_circumstances(parser: argparse.ArgumentParser) -> None:
    """Add the options for whatever belongs to an installation beside the site."""
    parser.add_argument(
        "--wiring",
        metavar="NAME|FILE",
        help="another netlist than the site's own: shipped name, 'bare' or a netlist file",
    )
    add_settings(parser)
    parser.add_argument(
        "--seed",
        type=seed,
        default=1,
        metavar="N",
        help="seed of everything random: bounce, skew, noise (default %(default)s)",
    )


def add_settings(parser: argparse.ArgumentParser) -> None:
    """Add the option that names a file of settings to use instead of the site's own."""
    parser.add_argument(
        "--settings",
        type=Path,
        metavar="FILE",
        help="settings to use instead of the site's own, as 'leafwinch size --settings' writes",
    )


def add_output(parser: argparse.ArgumentParser, name: str, text: str) -> None:
    """Add an option that names a file to write."""
    parser.add_argument(f"--{name}", type=Path, metavar="FILE", help=text)


def seed(text: str) -> int:
    """Read a seed: a whole number from 0 to 2^63 - 1."""
    return _whole(text, 0, 2**63 - 1)


def workers(text: str) -> int:
    """Read a number of worker processes: 1 to 256."""
    return _whole(text, 1, 256)


def count(text: str) -> int:
    """Read how many: 1 to 1 000 000."""
    return _whole(text, 1, 1_000_000)


def seconds(text: str) -> float:
    """Read a time in seconds: 0 to 3600."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0.0 <= value <= 3600.0:
        raise argparse.ArgumentTypeError(f"found '{text}', allowed is 0 to 3600 seconds")
    return value


def _whole(text: str, lowest: int, highest: int) -> int:
    try:
        value = int(text)
    except ValueError:
        value = lowest - 1
    if not lowest <= value <= highest:
        raise argparse.ArgumentTypeError(
            f"found '{text}', allowed is a whole number from {lowest} to {highest}"
        )
    return value
