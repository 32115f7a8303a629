"""The written-out snapshots hold exactly what the parts' FIELDS say."""

import random

import pytest

from leafwinch.controller import Controller
from leafwinch.settings_schema import settings_from
from leafwinch_sim.controller_state import canonical, put, take
from leafwinch_sim.state_maker import FILES, HERE
from tests.firmware.drive import Drive
from tests.firmware.random_walk import wander
from tests.firmware.scenarios_faults import QUICK


@pytest.mark.parametrize("file", FILES)
def test_a_written_file_is_up_to_date(file: str) -> None:
    # Renew it with: python -m leafwinch_sim.state_maker
    assert (HERE / file).read_text(encoding="utf-8") == FILES[file]()


def flat(state: tuple[tuple[int, ...], ...]) -> tuple[int, ...]:
    return tuple(value for part in state for value in part)


def test_it_takes_and_puts_what_the_firmware_itself_does() -> None:
    drive = Drive(QUICK)
    core = drive.core
    assert isinstance(core, Controller)
    for seed in range(3):
        wander(drive, random.Random(seed), 20)
        assert flat(take(core)) == core.snapshot()
        assert flat(canonical(core)) == core.canonical()
        other = Controller(settings_from(QUICK))
        assert take(other) != take(core)
        put(other, take(core))
        assert other.snapshot() == core.snapshot()
