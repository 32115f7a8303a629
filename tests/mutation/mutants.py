"""Every single change that is tried on the control core, each with words of its own."""

import functools
import hashlib
import random
import re
from pathlib import Path
from typing import NamedTuple

from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.ast.ast_query import ASTQuery
from cosmic_ray.mutating import mutate_code

from tests.mutation.operators import operators

CORE = Path(__file__).resolve().parents[2] / "firmware" / "leafwinch"
# What no pass of the drive and no test of it can show: words for people, and the limits that
# only reports print.
LEFT_OUT = ("__init__", "fault_texts", "requirement_limits", "setting_texts", "state_texts")
# A setting is declared for the type checker, and takes its value from the schema a line later.
DECLARED = re.compile(r"self\.\w+ = (0|\[0\] \* BUCKETS)")


class Mutant(NamedTuple):
    """Where a change is made: module, operator, its how-manieth place there, line, function."""

    module: str
    operator: str
    place: int
    line: int
    function: str

    @property
    def slot(self) -> str:
        """Name the change for the file of results; it holds for one text of the module."""
        return f"{self.module}/{self.operator}/{self.place}"


@functools.cache
def source(module: str) -> str:
    """Return the text of a module of the core as it was when first asked for."""
    return (CORE / f"{module}.py").read_text(encoding="utf-8")


def digest(*texts: str) -> str:
    """Return a short fingerprint of some texts."""
    return hashlib.sha256("\0".join(texts).encode()).hexdigest()[:16]


def modules() -> list[str]:
    """Return the modules that are changed."""
    return sorted(path.stem for path in CORE.glob("*.py") if path.stem not in LEFT_OUT)


def mutants_of(module: str) -> list[Mutant]:
    """Return all changes to one module."""
    tree = get_ast(source(module))
    lines = source(module).splitlines()
    found = []
    for name, operator in operators().items():
        places = (
            (node, start)
            for node in ast_nodes(tree)
            for start, _ in operator.mutation_positions(node)
        )
        for place, (node, start) in enumerate(places):
            if module == "settings" and DECLARED.fullmatch(lines[start[0] - 1].strip()):
                continue
            function = ASTQuery(node).get_definition_name() or "module"
            found.append(Mutant(module, name, place, start[0], function))
    return found


def all_mutants() -> list[Mutant]:
    """Return all changes to the core."""
    return [mutant for module in modules() for mutant in mutants_of(module)]


def sample(mutants: list[Mutant], count: int, seed: int) -> list[Mutant]:
    """Return so many of them, drawn by seed."""
    return random.Random(seed).sample(mutants, min(count, len(mutants)))


def mutated(mutant: Mutant) -> str:
    """Return the text of the module with the change in it."""
    text: str | None = mutate_code(
        source(mutant.module), operators()[mutant.operator], mutant.place
    )
    if text is None:
        raise ValueError(f"{mutant.slot}: there is no such place")
    return text


def words(mutant: Mutant, text: str) -> str:
    """Return the change in words that stay the same when other lines move.

    text: the module with the change in it. A line that occurs several times in its function
    is told apart by a number.
    """
    old = source(mutant.module).splitlines()
    new = text.splitlines()
    at = next(index for index, pair in enumerate(zip(old, new, strict=False)) if pair[0] != pair[1])
    was, becomes = old[at].strip(), " ".join(new[at].split())
    same = [index for index, line in enumerate(old) if line.strip() == was and index <= at]
    start = max(
        (i for i in range(at + 1) if old[i].lstrip().startswith(f"def {mutant.function}(")),
        default=0,
    )
    nth = len([index for index in same if index >= start])
    number = f" ({nth})" if nth > 1 else ""
    return f"{mutant.module}.{mutant.function}{number}: {was} -> {becomes}"
