"""Every number in the tables of sizing is held by a published value."""

from types import ModuleType

import pytest

from tests.external.changed_numbers import constants, contradicts, count, ids, unnoticed
from tests.external.sizing_values import ROWS


@pytest.mark.parametrize(("module", "name"), constants(ROWS), ids=ids(ROWS))
def test_a_changed_number_is_noticed(
    module: ModuleType, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each number 2 % smaller or greater contradicts at least one row of its module."""
    assert unnoticed(module, name, ROWS[module], monkeypatch) == []


def test_unchanged_everything_holds() -> None:
    assert not any(contradicts(row) for rows in ROWS.values() for row in rows)


def test_the_numbers_are_found() -> None:
    """If the search for numbers broke, nothing would be changed at all."""
    assert count(ROWS) > 500
