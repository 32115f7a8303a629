"""`leafwinch sites`: what comes with the program, and what can break on an installation."""

import argparse
from typing import Any

from rich.table import Table

from leafwinch_host.commands.installation import installation
from leafwinch_host.defect_book import cause_of, defect_book, grouped
from leafwinch_host.screen import screen
from leafwinch_sim.scripts import load_script, shipped_scripts
from leafwinch_sim.site import Site, load_site, shipped_sites
from leafwinch_sim.site_schema import SENSED_UNITS, Limit
from leafwinch_wiring.netlist import load_netlist
from leafwinch_wiring.reader import shipped_names


def add_to(commands: Any) -> None:
    """Add this command to the command line."""
    parser = commands.add_parser(
        "sites",
        help="list the shipped sites, scripts and netlists, or the defects of a site",
        description="Lists the shipped sites, operator scripts and netlists. With --defects it "
        "lists every defect that 'run --defect' and 'prove' know on one site.",
        allow_abbrev=False,
    )
    parser.add_argument(
        "--defects", metavar="NAME|FILE", help="list the defects of this site instead"
    )
    parser.add_argument(
        "--wiring", metavar="NAME|FILE", help="with --defects: another netlist than the site's own"
    )
    parser.set_defaults(handler=handle)


def handle(arguments: argparse.Namespace) -> int:
    """List sites or defects; always returns 0."""
    if arguments.defects is not None:
        list_defects(arguments.defects, arguments.wiring)
    else:
        list_shipped()
    return 0


def list_shipped() -> None:
    """Print each shipped site with its key data, then the scripts and netlists."""
    out = screen()
    for name in shipped_sites():
        site = load_site(name)
        out.print(f"[bold]{name}[/bold]: {site.summary}")
        table = Table(show_header=False, box=None, padding=(0, 2, 0, 2))
        for words, value in key_data(site):
            table.add_row(words, value)
        out.print(table)
        out.print()
    out.print("[bold]Operator scripts[/bold] (run --script NAME)")
    table = Table(show_header=False, box=None, padding=(0, 2, 0, 2))
    for name in shipped_scripts():
        table.add_row(name, script_summary(name))
    out.print(table)
    out.print()
    out.print("[bold]Netlists[/bold] (--wiring NAME)")
    table = Table(show_header=False, box=None, padding=(0, 2, 0, 2))
    for name in shipped_names():
        table.add_row(name, load_netlist(name).title)
    out.print(table)


def key_data(site: Site) -> list[tuple[str, str]]:
    """Return the main facts of a site as words and value with unit."""
    deck, limits = site.deck, site.limits
    a, b = deck.leaf_a, deck.leaf_b
    volts = f"{site.supply.voltage:g} V"
    volts += f" {site.supply.frequency:g} Hz" if site.supply.frequency else " direct current"
    locking = site.gear.back_efficiency <= 0.0
    slack = limits.slack_rope
    return [
        ("leaves", f"{a.length:g} m, {a.mass:g} kg and {b.length:g} m, {b.mass:g} kg"),
        ("deck", f"{deck.width:g} m wide, over {site.over}"),
        ("kicker", f"{1000 * deck.kicker_depth:g} mm deep"),
        ("motor", f"{site.motor.kind}, {volts}"),
        ("gear", f"{site.gear.ratio:g}:1, {'holds the load' if locking else 'can turn back'}"),
        ("rope", f"{1000 * site.rope.diameter:g} mm, breaks at {site.rope.breaking_force:g} N"),
        ("top end", limit_words(limits.top_end)),
        ("top final", limit_words(limits.top_final)),
        ("bottom end", limit_words(limits.bottom_end)),
        ("bottom final", limit_words(limits.bottom_final)),
        ("slack-rope switch", "none" if slack is None else limit_words(slack)),
        ("wiring", site.wiring),
        ("board", site.board),
    ]


def limit_words(limit: Limit) -> str:
    """Return what a limit senses and where it operates, such as "leaf angle above 79 deg"."""
    sensed = limit.senses.replace("_", " ")
    return f"{sensed} {limit.operates} {limit.at:g} {SENSED_UNITS[limit.senses]}"


def script_summary(name: str) -> str:
    """Return the one-line description of a shipped operator script."""
    return load_script(name).summary


def list_defects(site_name: str, wiring: str | None) -> None:
    """Print every defect of a site under headings, with its physical cause.

    Raises:
        BadInput: the site or netlist can't be used.
    """
    site, net = installation(site_name, wiring)
    book = defect_book(site, net)
    out = screen()
    out.print(f"{len(book)} single defects of {site.name} with wiring {net.name}")
    for heading, ids in grouped(book, book):
        out.print()
        out.print(f"[bold]{heading}[/bold] ({len(ids)})")
        for defect in ids:
            # Never wrapped, so that each line can be searched and its id pasted.
            out.print(f"  {defect:<34} {cause_of(book, defect)}", soft_wrap=True, markup=False)
