"""What the operator measures and types: numbers with a unit, and a few words."""

from collections.abc import Callable
from dataclasses import dataclass

from leafwinch_host.commissioning.results import FAIL, PASS, Measured, Outcome
from leafwinch_sim.units import parse_quantity

NONE = "none"
SCALED = {"megaohm": ("ohm", 1e-6)}  # units shown, with the one that is read and its factor


@dataclass(frozen=True, slots=True)
class AskNumber:
    """Asks for a measured number.

    Attributes:
        name: what it is, for the record; words: the question.
        unit: unit of the limits; the answer may have any of its kind.
        low, high: allowed values; an open side is infinite.
        source: where the limit comes from.
        none: why the step fails when nothing could be measured; empty: a number is needed.
        tell: show the limits with the question, where they say what to bring rather than what to
            find.
    """

    name: str
    words: str
    unit: str
    low: float = float("-inf")
    high: float = float("inf")
    source: str = ""
    none: str = ""
    tell: bool = False

    def question(self) -> str:
        """Return the question as it is shown."""
        return f"{self.words}; {self.required()}" if self.tell else self.words

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
            row = Measured(self.name, NONE, "", self.required(), False, typed=True)
            return Outcome(FAIL, self.none, (row,))
        unit, factor = SCALED.get(self.unit, (self.unit, 1.0))
        value = round(parse_quantity(answer, unit) * factor, 6)
        within = self.low <= value <= self.high
        row = Measured(self.name, value, self.unit, self.required(), within, typed=True)
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
        default: what Enter alone stands for; empty: something has to be typed.
        others: answers that are not right, such as the name of the person who has another task.
    """

    name: str
    words: str
    allowed: tuple[str, ...] = ()
    right: tuple[str, ...] = ()
    wrong: str = ""
    default: str = ""
    others: tuple[str, ...] = ()

    def question(self) -> str:
        """Return the question as it is shown."""
        return f"{self.words}, Enter for {self.default}" if self.default else self.words

    def judge(self, answer: str) -> Outcome:
        """Judge an answer.

        Raises:
            ValueError: it is not understood; the words say what is allowed.
        """
        text = " ".join(answer.split()) or self.default
        if self.allowed:
            text = text.lower()
            if text not in self.allowed:
                raise ValueError(f"found {answer!r}, allowed are {', '.join(self.allowed)}")
        elif not text:
            raise ValueError("found nothing, but words are needed")
        ok = not self.right or text in self.right
        ok = ok and text.casefold() not in map(str.casefold, self.others)
        required = " or ".join(self.right)
        if any(self.others):
            required = f"not {' or '.join(filter(None, self.others))}"
        row = Measured(self.name, text, "", required, ok, typed=True)
        return Outcome(PASS if ok else FAIL, "" if ok else self.wrong, (row,))


@dataclass(frozen=True, slots=True)
class Check:
    """Something the tool does and judges by itself.

    Attributes:
        words: what it does.
        run: does it and returns what came of it; it may raise BadInput, which fails the step.
        asks: what is typed first, where something is needed; empty: Enter is not even asked for.
        again: ask again after a BadInput, which then is a slip of whoever typed, such as a wrong
            name of a file, and no failure.
    """

    words: str
    run: Callable[[str], Outcome]
    asks: str = ""
    again: bool = False
