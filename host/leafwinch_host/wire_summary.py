"""What `leafwinch wire` says in the terminal."""

from pathlib import Path

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from leafwinch_host.report.wire_apart import apart_rows, apart_words
from leafwinch_host.report.wire_report import LEGAL, Papers, miswire_table
from leafwinch_host.report.wire_shares import not_found_rows, percent, share_rows
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.parting import MOST_SUSPECTS, Parting
from leafwinch_wiring.point_sheet import worked_words
from leafwinch_wiring.sheet_check import Diagnosis
from leafwinch_wiring.sheet_file import FilledSheet, row_to_add

SUSPECTS_SHOWN = 5
"""How many suspects are printed, beside those that explain as much as the first."""

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
    _print_apart(out, net, papers)
    points = papers.points
    out.print(
        f"continuity sheet: {len(points.rows)} measurements find {len(points.found)} of"
        f" {papers.miswires} single miswires, {percent(len(points.found), papers.miswires)}"
    )
    table = Table(box=None, pad_edge=True)
    for name in ("a single mistake", "found", "not found", "harmless"):
        table.add_column(name, justify="left" if name == "a single mistake" else "right")
    for row in miswire_table(points):
        table.add_row(*row)
    out.print(table)
    table = Table(box=None, pad_edge=True)
    for name in ("single mistakes found by", "number", "share"):
        table.add_column(name, justify="right" if table.columns else "left")
    for row in share_rows(papers.shares, net.has_controller):
        table.add_row(*row)
    out.print(table)
    for name, why in not_found_rows(points, papers.shares):
        out.print(Padding(Text(f"not found: {name}; {why}"), (0, 0, 0, 1)))


def _print_apart(out: Console, net: Netlist, papers: Papers) -> None:
    """Print which conductors must not share a cable, and what a short between two would do."""
    rows = apart_rows(net, papers.apart)
    out.print(f"cables: {apart_words(net, rows)}", markup=False)
    if not rows:
        return
    table = Table(box=None, pad_edge=True)
    for name in ("conductor", "must not share a cable with", "a short between the two"):
        table.add_column(name, ratio=1 if table.columns else None)
    for row in rows:
        others = ", ".join(item.name for item in row.others)
        table.add_row(f"{row.one.name}\n{row.one.words}", others, row.effect)
    out.print(table)


def print_written(out: Console, paths: list[Path]) -> None:
    """Print what was written, and the caution that goes with every paper."""
    for path in paths:
        out.print(f"Written: {path}", markup=False)
    out.print("\n" + LEGAL, markup=False, style=DIM)


def print_diagnosis(
    out: Console, filled: FilledSheet, diagnosis: Diagnosis, after: Parting | None
) -> None:
    """Print what a filled sheet says: wrong rows, likely miswires, what is not measured.

    Args:
        out: where to.
        filled: the sheet.
        diagnosis: what it says.
        after: the measurement that parts the likeliest miswires, where one does.
    """
    source = filled.source
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
        if diagnosis.equal > 1:
            _print_next(out, filled, diagnosis, after)
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
    shown = diagnosis.equal if diagnosis.equal <= MOST_SUSPECTS else SUSPECTS_SHOWN
    for number, suspect in enumerate(diagnosis.likely[: max(shown, SUSPECTS_SHOWN)], start=1):
        rest = (
            "explains every reading"
            if suspect.mismatches == 0
            else f"leaves {suspect.mismatches} unexplained"
        )
        text = f"{number}. {suspect.miswire.words} ({suspect.miswire.id}): {rest}"
        out.print(Padding(Text(text), (0, 0, 0, 1)))
    if diagnosis.equal > 1:
        out.print(f"{diagnosis.equal} miswires explain the readings equally well.")


def _print_next(
    out: Console, filled: FilledSheet, diagnosis: Diagnosis, after: Parting | None
) -> None:
    """Print the measurement that tells the likeliest apart, and the line to add for it."""
    if after is None:
        out.print(
            "They are too many to be told apart by one more measurement: measure the rest first."
            if diagnosis.equal > MOST_SUSPECTS
            else "No single measurement surely tells them apart: look at the wires of each."
        )
        return
    what = after.what
    worked = worked_words(what.operated, what.acts) or "all at rest"
    out.print(
        f"\n[bold]Measure next[/bold], power off as before: from {what.a} to {what.b}, {worked};"
        f" as drawn it reads {after.sound}."
    )
    groups: dict[str, list[int]] = {}
    for number, words in enumerate(after.expected, start=1):
        groups.setdefault(words, []).append(number)
    table = Table(box=None, pad_edge=True)
    table.add_column("it reads")
    table.add_column("where the mistake is number")
    for words, numbers in groups.items():
        table.add_row(words, ", ".join(map(str, numbers)))
    out.print(table)
    out.print(
        "Put this line below the last one of the sheet, write the reading into it and check again:"
    )
    out.print(row_to_add(filled, what), markup=False, soft_wrap=True)
