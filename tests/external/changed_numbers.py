"""Changes every number of a table by 2 % either way and asks whether a published value notices.

A number that no row notices is one without a source; there is none.
"""

import dataclasses
from collections.abc import Iterator, Mapping
from types import ModuleType
from typing import Any

import pytest

from tests.external.sizing_rows import Row

Rows = Mapping[ModuleType, list[Row]]


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


def constants(rows: Rows) -> list[tuple[ModuleType, str]]:
    """Return every constant of the modules that rows belong to."""
    return [(module, name) for module in rows for name in vars(module) if name.isupper()]


def ids(rows: Rows) -> list[str]:
    return [f"{module.__name__}.{name}" for module, name in constants(rows)]


def count(rows: Rows) -> int:
    """Return how many changes there are in all."""
    return sum(1 for module, name in constants(rows) for _ in varied(getattr(module, name)))


def contradicts(row: Row) -> bool:
    """Return whether a published value no longer comes out."""
    try:
        return not row.holds()
    except (KeyError, ValueError):
        return True


def unnoticed(
    module: ModuleType, name: str, rows: list[Row], monkeypatch: pytest.MonkeyPatch
) -> list[str]:
    """Return the places in a constant whose change contradicts none of the rows."""
    found = []
    last = 0
    for place, changed in varied(getattr(module, name)):
        with monkeypatch.context() as patch:
            patch.setattr(module, name, changed)
            # Neighbours are noticed by neighbours, so the row that noticed last is asked first.
            order = (*range(last, len(rows)), *range(last))
            hit = next((index for index in order if contradicts(rows[index])), None)
        if hit is None:
            found.append(place or name)
        else:
            last = hit
    return found
