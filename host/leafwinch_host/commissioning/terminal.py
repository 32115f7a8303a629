"""Shows the steps on a terminal, one screen each."""

from rich.console import Console
from rich.table import Table
from rich.text import Text

from leafwinch_host.commissioning.results import PASS, Outcome
from leafwinch_host.commissioning.table import Part, Step


class TerminalScreen:
    """A console; without a terminal it prints plain lines."""

    def __init__(self, console: Console) -> None:
        self.console = console

    def step(self, step: Step, number: int, total: int) -> None:
        """Begin a new screen for a step."""
        if self.console.is_terminal:
            self.console.clear()
        self.console.rule(f"{number} of {total}: {step.title}", align="left")
        if step.hazard:
            self.console.print(Text(step.hazard, style="bold red"))
        if step.limits:
            self.console.print(Text(f"Required: {step.limits}.", style="dim"))
        for place, part in enumerate(step.parts, 1):
            self.console.print(Text(f"  {place}. {part.do}", style="dim"))
        self.console.print()

    def part(self, part: Part) -> None:
        """Show the instruction that is due."""
        self.console.print(Text(f"> {part.do}", style="bold"))

    def waits(self, words: str) -> None:
        """Show what is awaited now."""
        if words:
            self.console.print(Text(f"  waiting for: {words}"))

    def outcome(self, outcome: Outcome) -> None:
        """Show a verdict with what was measured."""
        table = Table(box=None, padding=(0, 2, 0, 2), show_header=False)
        for row in outcome.measured:
            mark = ("✓" if row.within else "✕") if row.required else ""
            table.add_row(row.name, row.shown(), row.required, mark)
        if outcome.measured:
            self.console.print(table)
        good = outcome.verdict == PASS
        words = f"{outcome.verdict.upper()} {outcome.why}".rstrip()
        self.console.print(Text(words, style="bold green" if good else "bold red"))

    def say(self, words: str) -> None:
        """Show a sentence."""
        self.console.print(Text(words))
