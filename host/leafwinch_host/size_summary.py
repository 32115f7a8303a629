"""What `leafwinch size` says in the terminal."""

import math

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from leafwinch_host.report.words import LEGAL
from leafwinch_sim.sizing.finding import LEVEL_WORDS, Level
from leafwinch_sim.sizing.parts import Parts
from leafwinch_sim.sizing.size import NO, SENTENCES, YES, Sizing
from leafwinch_sim.sizing.stopping import UP

COLOURS: dict[Level, str] = {"blocks": "red", "amend": "yellow", "note": "cyan"}


def print_summary(out: Console, sizing: Sizing) -> None:
    """Print verdict, findings and the figures a builder looks for."""
    parts = sizing.parts
    site = parts.worked.site
    out.print(f"[bold]{site.name}[/bold]: {site.summary}")
    colour = {YES: "green", NO: "red"}.get(sizing.verdict, "yellow")
    out.print(f"[bold {colour}]{sizing.verdict}[/bold {colour}]: {SENTENCES[sizing.verdict]}\n")
    for number, finding in enumerate(sizing.findings, start=1):
        words = LEVEL_WORDS[finding.level]
        out.print(f"[bold]{number}.[/bold] [{COLOURS[finding.level]}]{words}[/] ({finding.code})")
        for text in (finding.what, finding.why, finding.change):
            out.print(Padding(Text(text), (0, 0, 0, 3)))
    out.print(_figures(parts))
    out.print(_limits(parts))
    out.print(_stops(parts))
    for band in sizing.bands:
        out.print(
            f" {band.words}: {band.low:.4g} to {band.high:.4g} {band.unit} in 90 % of what may be; "
            f"{band.matters_most} matters most",
            markup=False,
        )
    out.print(
        "\nKeep people off and out from under a moving deck. " + LEGAL, markup=False, style="dim"
    )


def _number(value: float | None, form: str, unit: str = "") -> str:
    if value is None:
        return "not judged"
    if not math.isfinite(value):
        return "without end"
    return f"{value:{form}}{' ' if unit else ''}{unit}"


def _figures(parts: Parts) -> Table:
    worked, pull, window = parts.worked, parts.pull, parts.window
    table = Table(show_header=False, box=None, pad_edge=True)
    depth = worked.site.deck.kicker_depth * 1000
    least = None if pull.least_kicker_m is None else math.ceil(pull.least_kicker_m * 1000)
    told = pull.allowed_n is not None
    rows = (
        (
            "greatest line pull",
            _number(parts.rope.peak_n, ".0f", "N"),
            f"{_number(parts.rope.worst_n, '.0f', 'N')} heavy and stiff, "
            f"{_number(worked.starting.peak_line_n, '.0f', 'N')} with the jerk of a start",
        ),
        (
            "reserve of the winch",
            _number(pull.reserve if told else None, ".2f"),
            f"{_number(pull.allowed_n, '.0f', 'N')} on the layer in use",
        ),
        (
            "least kicker depth",
            _number(least, ".0f", "mm") if told else "not judged",
            f"yours is {depth:.0f} mm",
        ),
        (
            "time up and down",
            _number(float(worked.nominal.raising.seconds), ".1f", "s"),
            _number(float(worked.nominal.lowering.seconds), ".1f", "s"),
        ),
        (
            "comes down by itself",
            f"below {parts.slack_deg:.1f} deg",
            f"{parts.slack_poor_deg:.1f} deg with aged friction; it stands at up to "
            f"{parts.stands_deg:.1f} deg",
        ),
        (
            "running current",
            _number(window.low_a, ".2f", "A"),
            f"at most, when healthy; a start takes {parts.supply.start_a:.1f} A",
        ),
        (
            "current trip",
            _number(window.chosen_a, ".2f", "A") if window.open else "no place for it",
            f"between {window.low_a:.2f} and {window.high_a:.2f} A",
        ),
        (
            "starting torque",
            f"{parts.start.reserve:.2f} times",
            "what the worst angle needs, on a supply 10 % low",
        ),
        ("rope", f"{parts.rope.factor:.1f} times", f"its pull; {parts.rope.needed:g} is the rule"),
        (
            "breaker and cable",
            parts.supply.breaker or "none fits",
            _number(parts.supply.area_mm2, "g", "mm2")
            + " of copper; a licensed electrician decides",
        ),
        (
            "full cycles",
            f"{parts.duty.cycles_per_hour:.0f} in an hour",
            f"S3 {parts.duty.duty_percent:g} %, {parts.duty.on_s:.0f} s energised in each",
        ),
    )
    for row in rows:
        table.add_row(*row)
    return table


def _limits(parts: Parts) -> Table:
    table = Table(title="Where the limits go", title_justify="left", box=None)
    for name in ("", "senses", "yours", "allowed", "proposed", "then runs on"):
        table.add_column(name)
    for place in parts.places:
        table.add_row(
            f"{place.part} {place.key.replace('_', ' ')}",
            place.senses.replace("_", " "),
            f"{place.given:g} {place.unit}{'' if place.good else ' (!)'}",
            f"{place.lowest:.2f} to {place.highest:.2f}",
            f"{place.proposed:.2f}",
            f"{place.overrun_rope_mm:.0f} mm of rope",
        )
    return table


def _stops(parts: Parts) -> Table:
    table = Table(
        title="Overrun after each kind of stop, worn brake", title_justify="left", box=None
    )
    for name in ("", "fed for", "up: rope", "fastest point", "down: rope", "fastest point"):
        table.add_column(name)
    overruns = parts.worked.overruns(worn=True)
    for kind in parts.worked.kinds:
        up, down = (
            next(o for o in overruns if o.kind == kind and (o.way == UP) == rises)
            for rises in (True, False)
        )
        table.add_row(
            kind.words,
            f"{kind.fed_ms:.0f} ms",
            f"{up.rope_mm:.0f} mm",
            f"{up.point_mm:.0f} mm",
            f"{down.rope_mm:.0f} mm",
            f"{down.point_mm:.0f} mm",
        )
    return table
