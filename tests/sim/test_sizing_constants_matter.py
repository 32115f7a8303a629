"""Every number in the tables of sizing is held by a published value.

Each is made 2 % smaller and 2 % greater, one after the other; then at least one row of
published values of its module no longer holds. A number that no row notices is one without
a source; there is none.
"""

import dataclasses
from collections.abc import Iterator
from types import ModuleType
from typing import Any

import pytest

from tests.external.sizing_values import ROWS


def varied(value: Any) -> Iterator[tuple[str, Any]]:
    """Yield where a number lies in a constant, and the constant with that number changed."""
    if isinstance(value, bool | str) or value is None:
        return
    if isinstance(value, int | float):
        for share in (0.98, 1.02):
            yield f" times {share}", value * share if value else share - 1.0
    elif isinstance(value, dict):
        items = list(value.items())
        for index, (key, inner) in enumerate(items):
            for place, other in varied(key):
                changed = [*items[:index], (other, inner), *items[index + 1 :]]
                yield f"[key {key}]{place}", dict(changed)
            for place, other in varied(inner):
                yield f"[{key}]{place}", {**value, key: other}
    elif isinstance(value, tuple):
        for index, inner in enumerate(value):
            for place, other in varied(inner):
                yield f"[{index}]{place}", (*value[:index], other, *value[index + 1 :])
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            for place, other in varied(getattr(value, field.name)):
                yield f".{field.name}{place}", dataclasses.replace(value, **{field.name: other})


def constants(module: ModuleType) -> Iterator[str]:
    for name in vars(module):
        if name.isupper():
            yield name


def noticed(module: ModuleType) -> bool:
    """Return whether a published value of the module no longer comes out."""
    for row in ROWS[module]:
        try:
            if not row.holds():
                return True
        except (KeyError, ValueError):
            return True
    return False


NAMES = [(module, name) for module in ROWS for name in constants(module)]


@pytest.mark.parametrize(
    ("module", "name"), NAMES, ids=[f"{module.__name__}.{name}" for module, name in NAMES]
)
def test_a_changed_number_is_noticed(
    module: ModuleType, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    unnoticed = []
    for place, changed in varied(getattr(module, name)):
        with monkeypatch.context() as patch:
            patch.setattr(module, name, changed)
            if not noticed(module):
                unnoticed.append(place or name)
    assert unnoticed == []


def test_unchanged_everything_holds() -> None:
    assert not any(noticed(module) for module in ROWS)


def test_the_numbers_are_found() -> None:
    """If the search for numbers broke, nothing would be changed at all."""
    numbers = sum(1 for module, name in NAMES for _ in varied(getattr(module, name)))
    assert numbers > 500
