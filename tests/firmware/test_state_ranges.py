"""In every scenario every number of the state stays where it belongs."""

import pytest

from leafwinch.controller import Controller
from leafwinch.settings import settings_from
from tests.firmware.drive import Drive
from tests.firmware.scenarios_faults import QUICK
from tests.firmware.state_ranges import out_of_range
from tests.firmware.test_scenarios import ALL


class Gaps(Drive):
    """Remembers the longest pass."""

    longest_ms = 5

    def gap(self, ms: int) -> None:
        self.longest_ms = max(self.longest_ms, ms)
        super().gap(ms)


@pytest.mark.parametrize("scenario", ALL, ids=[row[0] for row in ALL])
def test_scenario(scenario: tuple[str, dict[str, int], str]) -> None:
    _, values, script = scenario
    drive = Gaps(values)
    for step in script.split(";"):
        drive.play(step)
        assert out_of_range(drive.core, drive.longest_ms) == "", step


@pytest.mark.parametrize(
    ("name", "value"), [("drifted", 2), ("key_ms", -1), ("way", 2), ("wrong_ms", 101)]
)
def test_each_kind_of_range_can_be_broken(name: str, value: int) -> None:
    core = Controller(settings_from(QUICK))
    assert out_of_range(core) == ""
    part = next(part for part in core.parts() if name in part.FIELDS)
    setattr(part, name, value)
    assert out_of_range(core) == f"{name} is {value}"
