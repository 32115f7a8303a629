"""What a sitting asks of whoever shows it: a terminal, or a test."""

from typing import Protocol

from leafwinch_host.commissioning.results import Outcome
from leafwinch_host.commissioning.table import Part, Step


class Screen(Protocol):
    """Where the sitting shows what is going on."""

    def welcome(self, title: str, lines: tuple[str, ...]) -> None:
        """Show what is good to know before the first step of a sitting, on a screen of its own."""
        ...

    def step(self, step: Step, number: int, total: int) -> None:
        """Show a new step, one screen each; number 0: it is none of the table."""
        ...

    def part(self, part: Part) -> None:
        """Show the instruction that is due."""
        ...

    def waits(self, words: str) -> None:
        """Show what is awaited now."""
        ...

    def outcome(self, outcome: Outcome) -> None:
        """Show a verdict with what was measured."""
        ...

    def ask(self, words: str) -> None:
        """Show a question; the answer is typed behind it."""
        ...

    def say(self, words: str) -> None:
        """Show a sentence."""
        ...
