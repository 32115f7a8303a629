"""Which changes no test notices, why that is right for each, and the table of README.md."""

import tomllib
from pathlib import Path
from typing import NamedTuple

from tests.mutation.mutants import LEFT_OUT, Mutant, modules

SURVIVORS = Path(__file__).with_name("survivors.toml")
KILLED_MIN = 0.95


class Result(NamedTuple):
    """A change, its words, and the test that noticed it ('' for none)."""

    mutant: Mutant
    words: str
    killer: str


def listed() -> dict[str, str]:
    """Return the words of every known survivor with the reason why nothing can notice it.

    Raises:
        ValueError: where a reason is missing or a survivor is listed twice.
    """
    found: dict[str, str] = {}
    with SURVIVORS.open("rb") as file:
        groups = tomllib.load(file)["group"]
    for group in groups:
        if not group["reason"].strip():
            raise ValueError("survivors.toml: a group has no reason")
        for words in group["changes"]:
            if words in found:
                raise ValueError(f"survivors.toml: listed twice: {words}")
            found[words] = group["reason"]
    return found


def unlisted(results: list[Result]) -> list[str]:
    """Return the words of every survivor that has no reason."""
    known = listed()
    return sorted({row.words for row in results if not row.killer and row.words not in known})


def stale(results: list[Result]) -> list[str]:
    """Return every listed survivor that is noticed now, or not tried any more."""
    alive = {row.words for row in results if not row.killer}
    return sorted(set(listed()) - alive)


def readme(results: list[Result]) -> str:
    """Return the table of how many changes are noticed in each module."""
    killed = sum(bool(row.killer) for row in results)
    lines = [
        "# Mutation testing of the control core",
        "",
        "Every small change of the control core is tried: another operator or number, a condition",
        "turned round, a statement left out (`operators.py` says which, with cosmic-ray's",
        "operators). Each changed core is imported in a process of its own and has to pass the",
        "tests of the suite that `kill_set.py` names, about two seconds in all.",
        "",
        f"**{killed} of {len(results)} changes are noticed: {killed / len(results):.1%}.** Each",
        "other one is listed in `survivors.toml` with the reason why nothing can notice it or why",
        "it does not matter. Not changed are "
        + ", ".join(f"`{name}.py`" for name in LEFT_OUT if name != "__init__")
        + ": words and",
        "figures that only reports print.",
        "",
        "Made by `make mutation`, which takes minutes and can be interrupted; the test suite tries",
        "a hundred changes drawn by a seed.",
        "",
        "| module | changes | noticed | left |",
        "| --- | ---: | ---: | ---: |",
    ]
    for module in modules():
        rows = [row for row in results if row.mutant.module == module]
        noticed = sum(bool(row.killer) for row in rows)
        share = f"{noticed / len(rows):.1%}"
        lines.append(f"| `{module}.py` | {len(rows)} | {share} | {len(rows) - noticed} |")
    return "\n".join(lines) + "\n"
