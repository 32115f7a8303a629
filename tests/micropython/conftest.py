"""These tests need the desktop MicroPython; where there is none they say so and skip."""

from pathlib import Path

import pytest

from leafwinch_host.firmware_build import build_program
from leafwinch_host.firmware_build.closure import firmware_folder
from leafwinch_sim.lockstep import micropython_command
from leafwinch_wiring.errors import BadInput


@pytest.fixture(autouse=True, scope="session")
def desktop_micropython() -> None:
    """Skip all tests of this folder with one sentence on a platform without MicroPython."""
    try:
        micropython_command()
    except BadInput as error:
        pytest.skip(str(error))


@pytest.fixture(scope="session", params=["sources", "compiled", "machine code"])
def firmware(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the firmware: its sources, and what a board is loaded with.

    The compiled ones keep what only tests look up: names of constants, words for people.
    """
    if request.param == "sources":
        return firmware_folder()
    folder = tmp_path_factory.mktemp("program")
    words = ("leafwinch.fault_texts", "leafwinch.state_texts")
    hot = () if request.param == "compiled" else None
    if hot is None:
        build_program("desktop", keep_names=True, also=words).write(folder)
    else:
        build_program("desktop", keep_names=True, also=words, hot=hot).write(folder)
    return folder
