"""Writes the rows of a commented TOML file."""

import json
import textwrap

_WIDTH = 92


def quoted(words: str) -> str:
    """Return words as a TOML string. The words hold no signs that can't be printed."""
    return json.dumps(words, ensure_ascii=False)


def short(value: float) -> str:
    """Return a number with four digits that count, without an exponent where it is readable."""
    return f"{float(f'{value:.4g}'):.9g}"


def with_unit(value: float, unit: str) -> str:
    """Return a quantity as a TOML string."""
    return quoted(f"{short(value)} {unit}")


def remark(*sentences: str) -> list[str]:
    """Return comment lines that hold these sentences."""
    words = " ".join(sentence for sentence in sentences if sentence)
    return [f"# {line}" for line in textwrap.wrap(words, _WIDTH, break_on_hyphens=False)]


def row(key: str, value: str, comment: str) -> list[str]:
    """Return one value, its comment behind it where there is room, and above it where not."""
    line = f"{key} = {value}"
    beside = f"{line:<30}  # {comment}"
    if len(beside) <= _WIDTH:
        return [beside]
    return [*remark(comment), line]


def table(name: str, rows: list[list[str]], *sentences: str) -> list[str]:
    """Return one table, what is said of it above."""
    lines = ["", *remark(*sentences), f"[{name}]"]
    for part in rows:
        lines += part
    return lines
