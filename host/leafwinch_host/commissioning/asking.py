"""What the operator measures and types: numbers with a unit, and a few words."""

from collections.abc import Callable
from dataclasses import dataclass

from leafwinch_host.commissioning.results import FAIL, PASS, Measured, Outcome
from leafwinch_sim.units import parse_quantity

NONE = "none"


@dataclass(frozen=True, slots=True)
class AskNumber:
    """Asks for a measured number.

    Attributes:
        name: what it is, for the record; words: the question.
        unit: unit of the limits; the answer may have any of its kind.
        low, high: allowed values; an open side is infinite.
        source: where the limit comes from.
        none: why the step fails when nothing could be measured; empty: a number is needed.
    """

    name: str
    words: str
    unit: str
    low: float = float("-inf")
    high: float = float("inf")
    source: str = ""
    none: str = ""

    def required(self) -> str:
        """Return the limits in words."""
        if self.low == float("-inf") and self.high == float("inf"):
            return ""
        if self.low == float("-inf"):
            text = f"at most {self.high:g} {self.unit}"
        elif self.high == float("inf"):
            text = f"at least {self.low:g} {self.unit}"
        else:
            text = f"{self.low:g} to {self.high:g} {self.unit}"
        return f"{text} ({self.source})" if self.source else text

    def judge(self, answer: str) -> Outcome:
        """Judge an answer.

        Raises:
            ValueError: it is no number with a fitting unit; the words say what is allowed.
        """
        if self.none and answer.strip().lower() == NONE:
            row = Measured(self.name, NONE, "", self.required(), False)
            return Outcome(FAIL, self.none, (row,))
        value = round(parse_quantity(answer, self.unit), 6)
        row = Measured(self.name, value, self.unit, self.required(), self.low <= value <= self.high)
        if row.within:
            return Outcome(PASS, "", (row,))
        return Outcome(FAIL, f"{self.name} is {row.shown()}, required is {self.required()}", (row,))


@dataclass(frozen=True, slots=True)
class AskWords:
    """Asks for words.

    Attributes:
        name, words: as of AskNumber.
        allowed: answers that are understood, in small letters; empty: anything but nothing.
        right: those that pass; empty: all allowed.
        wrong: what it means where the answer is understood but not right.
    """

    name: str
    words: str
    allowed: tuple[str, ...] = ()
    right: tuple[str, ...] = ()
    wrong: str = ""

    def judge(self, answer: str) -> Outcome:
        """Judge an answer.

        Raises:
            ValueError: it is not understood; the words say what is allowed.
        """
        text = " ".join(answer.split())
        if self.allowed:
            text = text.lower()
            if text not in self.allowed:
                raise ValueError(f"found {answer!r}, allowed are {', '.join(self.allowed)}")
        elif not text:
            raise ValueError("found nothing, but words are needed")
        ok = not self.right or text in self.right
        row = Measured(self.name, text, "", " or ".join(self.right), ok)
        return Outcome(PASS if ok else FAIL, "" if ok else self.wrong, (row,))


@dataclass(frozen=True, slots=True)
class Check:
    """Something the tool does and judges by itself.

    Attributes:
        words: what it does.
        run: does it and returns what came of it; it may raise BadInput, which fails the step.
        asks: what is typed first, where something is needed; empty: Enter is not even asked for.
    """

    words: str
    run: Callable[[str], Outcome]
    asks: str = ""
