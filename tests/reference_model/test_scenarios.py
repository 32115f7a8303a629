"""The reference model agrees with the core in every scenario, and can disagree."""

import pytest

from leafwinch.fault_texts import FAULTS
from leafwinch.faults import is_serious
from leafwinch.states import STATE_NAMES
from leafwinch_sim.reference_model.machine import NUMBER_OF
from leafwinch_sim.reference_model.memory import SERIOUS
from tests.firmware.drive import Drive
from tests.firmware.scenarios_faults import QUICK, READY, UP
from tests.firmware.test_scenarios import ALL, Scenario
from tests.reference_model.pair import Disagreement, Pair


@pytest.mark.parametrize("scenario", ALL, ids=[row[0] for row in ALL])
def test_scenario(scenario: Scenario) -> None:
    _, values, script = scenario
    drive = Drive(values, Pair)
    drive.play(script)
    assert isinstance(drive.core, Pair)
    assert not drive.core.unsure


def test_the_two_lists_of_serious_faults_agree() -> None:
    # Each side has its own list, so this is the one place where they meet.
    assert {number for number in range(1, len(FAULTS) + 1) if is_serious(number)} == SERIOUS
    assert list(NUMBER_OF.values()) == [STATE_NAMES.index(name) for name in NUMBER_OF]


@pytest.mark.parametrize(
    ("attribute", "script"),
    [("fault", UP), ("state", READY), ("record_due", UP)],
)
def test_any_difference_is_seen(attribute: str, script: str) -> None:
    drive = Drive(QUICK, Pair)
    drive.play(script)
    pair = drive.core
    assert isinstance(pair, Pair)
    setattr(pair.core, attribute, 4)
    with pytest.raises(Disagreement, match=r"^pass \d+: core .*, model "):
        drive.run(20)


def test_a_different_temperature_is_seen() -> None:
    drive = Drive(QUICK, Pair)
    drive.play(READY)
    pair = drive.core
    assert isinstance(pair, Pair)
    pair.model.heat.level += 0.01
    with pytest.raises(Disagreement, match="heat"):
        drive.run(5)
