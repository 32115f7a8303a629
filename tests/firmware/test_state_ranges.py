"""In every scenario every number of the state stays where it belongs."""

import pytest

from leafwinch.controller import Controller
from leafwinch.settings_schema import settings_from
from leafwinch.states import FAULT, HELD
from tests.firmware.drive import Drive
from tests.firmware.scenarios_faults import QUICK
from tests.firmware.state_ranges import out_of_range
from tests.firmware.test_scenarios import ALL


class Watched(Drive):
    """Remembers the longest pass, and wants a reason whenever it is held."""

    longest_ms = 5

    def tick(self) -> int:
        out = super().tick()
        state = self.core.state
        if state != FAULT and (state == HELD) != bool(self.core.held_reasons):
            raise ValueError(f"reasons {self.reasons()} in state {self.state()}")
        return out

    def gap(self, ms: int) -> None:
        self.longest_ms = max(self.longest_ms, ms)
        super().gap(ms)


@pytest.mark.parametrize("scenario", ALL, ids=[row[0] for row in ALL])
def test_scenario(scenario: tuple[str, dict[str, int], str]) -> None:
    _, values, script = scenario
    drive = Watched(values)
    for step in script.split(";"):
        drive.play(step)
        assert out_of_range(drive.core, max(drive.longest_ms, drive.tick_ms)) == "", step


@pytest.mark.parametrize(
    ("name", "value"), [("drifted", 2), ("key_ms", -1), ("way", 2), ("wrong_ms", 101)]
)
def test_each_kind_of_range_can_be_broken(name: str, value: int) -> None:
    core = Controller(settings_from(QUICK))
    assert out_of_range(core) == ""
    part = next(part for part in core.parts() if name in part.FIELDS)
    setattr(part, name, value)
    assert out_of_range(core) == f"{name} is {value}"
