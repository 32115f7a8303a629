"""The answers of a builder: words by the key of a question, and the numbers in them."""

import re
from collections.abc import Mapping

from leafwinch_sim.units import parse_quantity

UNKNOWN = "unknown"
PARTS = "parts"  # the leaf is reckoned from its tubes and boards
NONE = "none"  # an empty list
LONGEST = 120  # letters of an answer

_POWERS = re.compile(r"\*\*[234](?!\d)")
_SPEED = re.compile(r"(.*\S)\s*/\s*(s|sec|min)")
_SECONDS = {"s": 1.0, "sec": 1.0, "min": 60.0}

Words = Mapping[str, tuple[str, ...]]


class Answers:
    """The answers so far; every answer is a tuple of words, of one for most questions."""

    def __init__(self, words: Words | None = None) -> None:
        self.words: dict[str, tuple[str, ...]] = dict(words or {})

    def __contains__(self, key: str) -> bool:
        return key in self.words

    def one(self, key: str) -> str:
        """Return the words of one answer, empty where there is none."""
        return self.words.get(key, ("",))[0]

    def many(self, key: str) -> tuple[str, ...]:
        """Return the words of a list of answers; `none` is an empty list."""
        return tuple(words for words in self.words.get(key, ()) if words != NONE)

    def known(self, key: str) -> bool:
        """Return whether there is an answer other than 'unknown'."""
        return self.one(key) not in ("", UNKNOWN)

    def number(self, key: str, unit: str) -> float:
        """Return the number of a unit in an answer.

        Raises:
            ValueError: there is none, in one clause.
        """
        return quantity(self.one(key), unit)

    def speed(self, key: str) -> float:
        """Return the number of m/s in an answer.

        Raises:
            ValueError: there is none, in one clause.
        """
        return speed(self.one(key))

    def having(self, key: str, words: tuple[str, ...]) -> "Answers":
        """Return a copy with one answer more, or another one."""
        return Answers({**self.words, key: words})


def tidy(words: str) -> str:
    """Return words with single blanks.

    Raises:
        ValueError: too long or with signs that can't be printed, in one clause.
    """
    tidied = " ".join(words.split())
    if len(tidied) > LONGEST:
        raise ValueError(f"found {len(tidied)} letters, but allowed are at most {LONGEST}")
    if not tidied.isprintable():
        raise ValueError(f"found {tidied!r}, but allowed are only signs that can be printed")
    return tidied


def quantity(words: str, unit: str) -> float:
    """Return the number of `unit` in words such as "1.25 m".

    Args:
        words: an answer. A power other than a square, a cube or a fourth power is refused,
            since reckoning a tower of powers would never end.
        unit: a unit that the site file's own reader knows.

    Raises:
        ValueError: with a clause that names what was found and what is allowed.
    """
    if "**" in _POWERS.sub("", words) or "^" in words:
        raise ValueError(f"found {words!r}, but allowed are no powers beyond the fourth")
    return parse_quantity(words, unit)


def speed(words: str) -> float:
    """Return the number of m/s in words such as "7 m/min" or "0.12 m/s".

    Raises:
        ValueError: with a clause that names what was found and what is allowed.
    """
    match = _SPEED.fullmatch(words)
    allowed = "allowed is a length by time such as '7 m/min' or '0.12 m/s'"
    if match is None:
        raise ValueError(f"found {words!r}, but {allowed}")
    try:
        length_m = quantity(match.group(1), "m")
    except ValueError:
        raise ValueError(f"found {words!r}, but {allowed}") from None
    return length_m / _SECONDS[match.group(2)]
