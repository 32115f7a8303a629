"""Which changes are tried on the control core, and one that the library has not: leave it out.

The operators are those of cosmic-ray. Left out are the ones that would flatter the figure,
since nearly every test kills them, or that mean nothing in integer code:
division and power, which leave the integers at once; identity in place of equality, which for
small integers is a matter of the interpreter; an order in place of an equality, since states,
ways and faults are names without an order; `^` and `+` in place of `|`, which is the same for
masks without a common bit.
"""

from collections.abc import Iterable, Iterator
from itertools import permutations
from typing import Any

import parso
from cosmic_ray.operators.operator import Example, Operator
from cosmic_ray.plugins import get_operator

Position = tuple[tuple[int, int], tuple[int, int]]

_ARITHMETIC = ("Add", "Sub", "Mul", "FloorDiv", "Mod")
_BITS = (("BitAnd", "BitOr"), ("BitAnd", "BitXor"), ("BitOr", "BitAnd"))
_SHIFTS = (("LShift", "RShift"), ("RShift", "LShift"))
_ORDER = ("Lt", "LtE", "Gt", "GtE")
_EQUALITY = (("Eq", "NotEq"), ("NotEq", "Eq"), ("Is", "IsNot"), ("IsNot", "Is"))
_PLAIN = (
    "AddNot",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceTrueWithFalse",
    "ReplaceFalseWithTrue",
    "ReplaceUnaryOperator_Delete_Not",
    "ReplaceUnaryOperator_Delete_USub",
    "ReplaceUnaryOperator_Delete_Invert",
    "ReplaceContinueWithBreak",
    "ReplaceBreakWithContinue",
    "ExceptionReplacer",
    "ZeroIterationForLoop",
    "NumberReplacer",
)


class LeaveOut(Operator):  # type: ignore[misc]  # the library has no types
    """Leaves out one assignment or one call that stands alone, inside a function."""

    def mutation_positions(self, node: Any) -> Iterator[Position]:
        """Yield the place of such a statement."""
        if node.type == "simple_stmt" and node.search_ancestor("funcdef") is not None:
            statement = node.children[0]
            if statement.type in ("expr_stmt", "atom_expr"):
                yield statement.start_pos, statement.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        """Put `pass` in its place."""
        statement = node.children[0]
        node.children[0] = parso.python.tree.Keyword(
            "pass", statement.start_pos, statement.get_first_leaf().prefix
        )
        return node

    @classmethod
    def examples(cls) -> Iterable[Any]:
        """Show it."""
        return (Example("def f():\n    x = 1\n", "def f():\n    pass\n"),)


def _comparisons() -> Iterator[tuple[str, str]]:
    yield from _EQUALITY
    for old in _ORDER:
        for new in (*_ORDER, "Eq", "NotEq"):
            if new != old:
                yield old, new


def operators() -> dict[str, Any]:
    """Return every operator that is applied, by its name."""
    found: dict[str, Any] = {"LeaveOut": LeaveOut()}
    names = list(_PLAIN)
    for old, new in (*permutations(_ARITHMETIC, 2), *_BITS, *_SHIFTS):
        names.append(f"ReplaceBinaryOperator_{old}_{new}")
    names += [f"ReplaceComparisonOperator_{old}_{new}" for old, new in _comparisons()]
    for name in names:
        found[name] = get_operator(f"core/{name}")()
    return found
