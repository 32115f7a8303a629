"""What `leafwinch wire` says in the terminal."""

from pathlib import Path

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from leafwinch_host.report.wire_report import LEGAL, Papers, miswire_table
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_sheet import worked_words
from leafwinch_wiring.sheet_check import Diagnosis

SUSPECTS_SHOWN = 5
DIM = "dim"


def print_papers(out: Console, net: Netlist, papers: Papers) -> None:
    """Print which rules are broken and what share of miswires the continuity sheet finds."""
    out.print(f"[bold]{net.name}[/bold]: {net.title}, contents {net.content_hash[:12]}")
    broken = papers.rules_broken
    kept = len(papers.rules) - len(broken)
    words, colour = ("broken", "red") if broken else ("kept", "green")
    out.print(
        f"[bold {colour}]{words}[/bold {colour}]: {kept} of {len(papers.rules)} rules of the wiring"
        " are kept"
    )
    for rule in broken:
        out.print(Padding(Text(f"{rule.id}: {rule.words} ({rule.source})"), (0, 0, 0, 1)))
        for line in rule.offending:
            out.print(Padding(Text(f"- {line}"), (0, 0, 0, 3)))
    points = papers.points
    out.print(
        f"continuity sheet: {len(points.rows)} measurements find {len(points.found)} of"
        f" {papers.miswires} single miswires, {_percent(papers.share_found)}"
    )
    table = Table(box=None, pad_edge=True)
    for name in ("a single mistake", "found", "not found", "harmless"):
        table.add_column(name, justify="left" if name == "a single mistake" else "right")
    for row in miswire_table(points):
        table.add_row(*row)
    out.print(table)
    for item, why in points.not_found:
        out.print(Padding(Text(f"not found: {item.words}; {why}"), (0, 0, 0, 1)))


def _percent(share: float) -> str:
    """A share in per cent that never rounds up to all of them."""
    return "all" if share == 1.0 else f"{min(99.99, 100.0 * share):.2f} %"


def print_written(out: Console, paths: list[Path]) -> None:
    """Print what was written, and the caution that goes with every paper."""
    for path in paths:
        out.print(f"Written: {path}", markup=False)
    out.print("\n" + LEGAL, markup=False, style=DIM)


def print_diagnosis(out: Console, source: str, diagnosis: Diagnosis) -> None:
    """Print what a filled sheet says: wrong rows, likely miswires, what is not measured."""
    if diagnosis.complete_and_right:
        out.print(f"[bold green]as drawn[/bold green]: every reading of {source} is as expected")
    elif not diagnosis.wrong:
        out.print(
            f"[bold yellow]not complete[/bold yellow]: no reading of {source} is wrong so far"
        )
    else:
        count = len(diagnosis.wrong)
        readings = "1 reading" if count == 1 else f"{count} readings"
        out.print(f"[bold red]not as drawn[/bold red]: {readings} of {source} wrong")
    if diagnosis.wrong:
        table = Table(box=None, pad_edge=True)
        for name in ("no.", "from", "to", "worked", "expected", "measured"):
            table.add_column(name)
        for item in diagnosis.wrong:
            row = item.row
            worked = worked_words(row.operated, row.acts) or "all at rest"
            table.add_row(str(row.number), row.a, row.b, worked, item.expected, item.measured)
        out.print(table)
        _print_suspects(out, diagnosis)
    if diagnosis.not_measured:
        numbers = ", ".join(str(number) for number in diagnosis.not_measured)
        out.print(f"not measured: {numbers}", markup=False)
    out.print(
        "\nNever switch on to find out. After any change of a wire measure the whole sheet again.",
        style=DIM,
    )


def _print_suspects(out: Console, diagnosis: Diagnosis) -> None:
    if not diagnosis.likely:
        out.print("No single miswire explains these readings: look for two, or a wrong reading.")
        return
    out.print("What may be wrong, the likeliest first (a guess; look at the wires themselves):")
    for number, suspect in enumerate(diagnosis.likely[:SUSPECTS_SHOWN], start=1):
        rest = (
            "explains every reading"
            if suspect.mismatches == 0
            else f"leaves {suspect.mismatches} unexplained"
        )
        text = f"{number}. {suspect.miswire.words} ({suspect.miswire.id}): {rest}"
        out.print(Padding(Text(text), (0, 0, 0, 1)))
    if diagnosis.equal > 1:
        out.print(f"{diagnosis.equal} miswires explain the readings equally well.")
