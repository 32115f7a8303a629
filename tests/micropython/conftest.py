"""These tests need the desktop MicroPython; where there is none they say so and skip."""

import pytest

from leafwinch_sim.lockstep import micropython_command
from leafwinch_wiring.errors import BadInput


@pytest.fixture(autouse=True, scope="session")
def desktop_micropython() -> None:
    """Skip all tests of this folder with one sentence on a platform without MicroPython."""
    try:
        micropython_command()
    except BadInput as error:
        pytest.skip(str(error))
