"""The figures of healthy cycles in words and on the terminal."""

from collections.abc import Mapping
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

WRONG_PRINTED_MAX = 8
NEAR_SHARE = 0.9


def sentence(result: Mapping[str, Any]) -> str:
    """Return what came of the cycles in one sentence."""
    cycles, wrong = result["cycles"], len(result["wrong"])
    if wrong:
        causes = ", ".join(
            f"{name.replace('_', ' ')} in {count}" for name, count in result["causes"].items()
        )
        return f"Broken: {wrong} of {cycles} healthy cycles did not end well ({causes})."
    nearest = max(result["margins"], key=lambda row: float(row["worst"]))
    return (
        f"Holds: in {cycles} healthy cycles no fault showed; nearest to its limit came "
        f"'{nearest['words']}' with {100 * nearest['worst']:.0f} %."
    )


def by_nearness(result: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the figures of every margin, the one nearest to its limit first."""
    return sorted(result["margins"], key=lambda row: (-float(row["worst"]), str(row["key"])))


def percent(share: float) -> str:
    """Return a share of a limit in percent."""
    return f"{100 * share:.1f} %"


def print_summary(out: Console, result: Mapping[str, Any]) -> None:
    """Print the verdict, the figures of each supervision, and what went wrong."""
    out.print(f"[bold]{result['site']}[/bold] with wiring {result['wiring']}")
    style = "bold green" if result["verdict"] == "holds" else "bold red"
    out.print(Text(sentence(result), style=style))
    out.print()
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="")
    table.add_column("How near to its limit")
    table.add_column("Fault")
    for heading in ("half of them", "99 %", "worst", "seed"):
        table.add_column(heading, justify="right", no_wrap=True)
    for row in by_nearness(result):
        table.add_row(
            row["words"],
            row["fault"].replace("_", " "),
            percent(row["median"]),
            percent(row["q99"]),
            Text(percent(row["worst"]), style="bold" if row["worst"] >= NEAR_SHARE else ""),
            str(row["worst_seed"]),
        )
    out.print(table)
    for wrong in result["wrong"][:WRONG_PRINTED_MAX]:
        what = ", ".join(wrong["faults"]) or ", ".join(wrong["broken"]) or "a step waited in vain"
        out.print(f"  {what.replace('_', ' ')}: {wrong['replay']}", markup=False, soft_wrap=True)
    hidden = len(result["wrong"]) - WRONG_PRINTED_MAX
    if hidden > 0:
        out.print(f"  ... and {hidden} more; --json has them all")
    out.print()
    out.print(
        "Simulated, never measured on a physical board. What real parts differ by has to be "
        "measured at commissioning."
    )
