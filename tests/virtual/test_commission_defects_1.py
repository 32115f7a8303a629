"""Each built-in defect fails the right step of commissioning with the right words, part 1."""

from pathlib import Path

import pytest

from tests.virtual.commission_defects import BEFORE, INPUTS_1, Built, assert_fails


@pytest.mark.parametrize(
    "built",
    [
        *BEFORE,
        *INPUTS_1,
    ],
    ids=lambda built: built.name,
)
def test_it_fails_the_right_step(built: Built, tmp_path: Path) -> None:
    assert_fails(built, tmp_path)
