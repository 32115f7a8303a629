"""One published value of sizing and the call that must give it.

A row is asked again by the test that changes one constant after the other, so it reads
the modules at the time of the call.
"""

from collections.abc import Callable
from dataclasses import dataclass
from types import ModuleType
from typing import Any


def _name(thing: object) -> str:
    """Return a name that is the same in every process."""
    return str(getattr(thing, "__name__", thing))


@dataclass(frozen=True)
class Row:
    """A published value; `source` says from where, `tolerance` how exactly it is printed."""

    source: str
    function: Callable[..., float]
    arguments: tuple[Any, ...]
    expected: float
    tolerance: float

    def value(self) -> float:
        return float(self.function(*self.arguments))

    def holds(self) -> bool:
        return abs(self.value() - self.expected) <= self.tolerance

    def __str__(self) -> str:
        words = ",".join(_name(argument) for argument in self.arguments)
        return f"{_name(self.function)}({words})={self.expected:g}"

    def words(self) -> str:
        """Return what is wrong with it, for whoever reads that it failed."""
        return f"{self.source}: {self} +-{self.tolerance:g}, found {self.value():g}"


def of(
    source: str,
    tolerance: float,
    function: Callable[..., float],
    *cases: tuple[tuple[Any, ...], float],
) -> list[Row]:
    """Return the rows of one source and one function, each of arguments and value."""
    return [Row(source, function, arguments, value, tolerance) for arguments, value in cases]


def reading(module: ModuleType, name: str) -> Callable[..., float]:
    """Return a function that reads a constant, then in it by keys or attributes."""

    def read(*path: str | float) -> float:
        found = getattr(module, name)
        for step in path:
            found = getattr(found, str(step)) if hasattr(found, str(step)) else found[step]
        return float(found)

    read.__name__ = name
    return read


def refused(function: Callable[..., object], *arguments: object) -> bool:
    """Return whether a call is refused as out of the rule's range."""
    try:
        function(*arguments)
    except ValueError:
        return True
    return False
