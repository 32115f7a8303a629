"""The result of a proof on the terminal: the verdict first, then the lists that matter."""

from collections.abc import Mapping
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from leafwinch_host.report.prove_words import sentence, tiles

BROKEN_PRINTED_MAX = 12


def print_summary(out: Console, result: Mapping[str, Any]) -> None:
    """Print verdict, numbers and the first of each list."""
    holds = result["verdict"] == "holds"
    out.print(f"[bold]{result['site']}[/bold] with wiring {result['wiring']}")
    out.print(Text(sentence(result), style="bold green" if holds else "bold red"))
    out.print()
    table = Table(show_header=False, box=None, padding=(0, 2, 0, 0))
    for tile in tiles(result):
        table.add_row(tile.words, tile.value, tile.note)
    out.print(table)
    _print_broken(out, result["broken"])
    _print_names(out, "Found by nothing", result["undetected"])
    _print_names(out, "Beyond any control", [row["fault"] for row in result["unpreventable"]])
    out.print()
    out.print(
        "Simulated, never measured on a physical board; it certifies nothing. Local codes and a "
        "licensed electrician come first."
    )


def _print_broken(out: Console, broken: list[Mapping[str, Any]]) -> None:
    if not broken:
        return
    first: dict[tuple[str, str], Mapping[str, Any]] = {}
    for row in broken:
        first.setdefault((row["fault"], row["requirement"]), row)
    out.print()
    out.print("[bold]Broken[/bold], each with the command that repeats it:")
    for row in list(first.values())[:BROKEN_PRINTED_MAX]:
        out.print(
            f"  {row['requirement']:<4}{row['replay']}",
            markup=False,
            soft_wrap=True,
        )
    hidden = len(first) - BROKEN_PRINTED_MAX
    if hidden > 0:
        out.print(f"  ... and {hidden} more; --html and --json have them all")


def _print_names(out: Console, words: str, names: list[str]) -> None:
    if names:
        out.print()
        out.print(f"[bold]{words}[/bold] ({len(names)}): ", end="")
        out.print(", ".join(names), markup=False)
