"""Shows the steps on a terminal, one screen each."""

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from leafwinch_host.commissioning.results import PASS, Measured, Outcome
from leafwinch_host.commissioning.table import Part, Step

MOST_ROWS = 12  # measured values on a screen; the record has all


class TerminalScreen:
    """A console; without a terminal it prints plain lines."""

    def __init__(self, console: Console) -> None:
        self.console = console

    def _new(self, title: str) -> None:
        if self.console.is_terminal:
            self.console.clear()
        self.console.rule(title, align="left")

    def _listed(self, lines: list[str], numbered: bool) -> None:
        """Show sentences, each on its own, their further lines set in."""
        grid = Table.grid(padding=(0, 1))
        for place, line in enumerate(lines, 1):
            grid.add_row(f"  {place}." if numbered else " ", Text(line))
        self.console.print(grid)

    def welcome(self, title: str, lines: tuple[str, ...]) -> None:
        """Show what is good to know before the first step, on a screen of its own."""
        self._new(title)
        self._listed(list(lines), numbered=False)
        self.console.print()

    def step(self, step: Step, number: int, total: int) -> None:
        """Begin a new screen for a step; number 0: it is none of the table."""
        self._new(f"{number} of {total}: {step.title}" if number else step.title)
        if step.hazard:
            self.console.print(Text(step.hazard, style="bold red"))
        if step.limits:
            self.console.print(Text(f"Required: {step.limits}.", style="dim"))
        shown = [part.do for part in step.parts if not part.quiet]
        self._listed(shown, numbered=len(shown) > 1)
        self.console.print()

    def part(self, part: Part) -> None:
        """Show the instruction that is due."""
        self.console.print(Text(f"> {part.do}", style="bold"))

    def waits(self, words: str) -> None:
        """Show what is awaited now."""
        if words:
            self.console.print(Padding(Text(words), (0, 0, 0, 2)))

    def outcome(self, outcome: Outcome) -> None:
        """Show a verdict with what was measured; a long list only as far as it is wrong."""
        rows = outcome.measured
        if len(rows) > MOST_ROWS:
            shown = [row for row in rows if not row.within or not row.required][:MOST_ROWS]
            self._table(shown)
            good = len(rows) - len(shown)
            self.console.print(Text(f"  {good} values as required; the record has them all"))
        else:
            self._table(list(rows))
        words = f"{outcome.verdict.upper()} {outcome.why}".rstrip()
        style = "bold green" if outcome.verdict == PASS else "bold red"
        self.console.print(Text(words, style=style))

    def _table(self, rows: list[Measured]) -> None:
        table = Table(box=None, padding=(0, 2, 0, 2), show_header=False)
        for row in rows:
            mark = ("✓" if row.within else "✕") if row.required else ""
            table.add_row(row.name, row.shown(), row.required, mark)
        if rows:
            self.console.print(table)

    def ask(self, words: str) -> None:
        """Show a question; the answer is typed behind it."""
        self.console.print(Text(f"{words}: "), end="" if self.console.is_terminal else "\n")

    def say(self, words: str) -> None:
        """Show a sentence."""
        self.console.print(Text(words))
