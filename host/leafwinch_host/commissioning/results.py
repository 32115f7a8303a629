"""What a step of commissioning comes to: what was measured, and the verdict with its reason."""

from dataclasses import dataclass

PASS = "pass"
FAIL = "fail"
SKIPPED = "skipped"
VERDICTS = (PASS, FAIL, SKIPPED)

SWITCH = "0/1"  # unit of settings that are on or off

Value = float | int | str


@dataclass(frozen=True, slots=True)
class Measured:
    """One measured value beside what is required.

    Attributes:
        name: what was measured.
        value: a number in `unit`, or words where the unit is empty.
        unit: unit of the value and of the required one.
        required: the limit in words, empty where the value is only noted.
        within: whether the value keeps the limit; True where there is none.
        typed: True where a person measured and typed it; the others were read off the board.
    """

    name: str
    value: Value
    unit: str = ""
    required: str = ""
    within: bool = True
    typed: bool = False

    def shown(self) -> str:
        """Return the value with its unit, for people."""
        return with_unit(self.value, self.unit)


@dataclass(frozen=True, slots=True)
class Outcome:
    """The verdict of a part or of a whole step, why, and all that was measured."""

    verdict: str
    why: str = ""
    measured: tuple[Measured, ...] = ()


def with_unit(value: Value, unit: str) -> str:
    """Return a value with its unit, for people; a switch is 'yes' or 'no'."""
    if unit == SWITCH:
        return {0: "no", 1: "yes"}.get(int(value), str(value)) if value in (0, 1) else str(value)
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return f"{text} {unit}".rstrip()


def at_most(name: str, value: float, limit: float, unit: str) -> Measured:
    """Return a measured value that must not be above a limit."""
    return Measured(name, value, unit, f"at most {limit:g} {unit}", value <= limit)


def at_least(name: str, value: float, limit: float, unit: str) -> Measured:
    """Return a measured value that must not be below a limit."""
    return Measured(name, value, unit, f"at least {limit:g} {unit}", value >= limit)


def between(name: str, value: float, low: float, high: float, unit: str) -> Measured:
    """Return a measured value that must lie between two limits."""
    return Measured(name, value, unit, f"{low:g} to {high:g} {unit}", low <= value <= high)
