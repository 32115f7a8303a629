"""The whole program on a played board: only where there is a desktop MicroPython."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from leafwinch_sim.lockstep import micropython_command
from leafwinch_wiring.errors import BadInput
from tests.virtual.desk import Desk


@pytest.fixture(autouse=True)
def _micropython() -> None:
    try:
        micropython_command()
    except BadInput as error:
        pytest.skip(str(error))


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """A commissioned board of the workshop pit."""
    made = Desk("workshop-pit", tmp_path / "flash")
    yield made
    made.close()
