"""Every scenario of the tables, and that the tables miss nothing."""

from typing import ClassVar

import pytest

from leafwinch.fault_texts import FAULTS
from leafwinch.state_texts import ENDINGS, HELD_REASONS, REFUSALS, WARNINGS
from leafwinch.states import ALLOWED, FAULT, HELD, STATE_NAMES
from tests.firmware import scenarios_states as states
from tests.firmware.drive import Drive
from tests.firmware.scenarios_edges import EDGE_SCENARIOS
from tests.firmware.scenarios_faults import CAUSES, FAULT_SCENARIOS, QUICK, READY, READY_TOP
from tests.firmware.scenarios_traps import TRAP_SCENARIOS

Scenario = tuple[str, dict[str, int], str]
ALL: tuple[Scenario, ...] = (
    *FAULT_SCENARIOS,
    *states.STATE_SCENARIOS,
    *TRAP_SCENARIOS,
    *EDGE_SCENARIOS,
)


@pytest.mark.parametrize("scenario", ALL, ids=[row[0] for row in ALL])
def test_scenario(scenario: Scenario) -> None:
    _, values, script = scenario
    Drive(values).play(script)


def test_a_wrong_expectation_fails() -> None:
    with pytest.raises(ValueError, match=r"expected state: raising, found idle"):
        Drive(QUICK).play(READY + "state: raising")
    with pytest.raises(ValueError, match=r"expected reason: pause, found actuated"):
        Drive(QUICK).play(READY + "ask lower; run 50; reason: pause")


def test_scenario_names_are_unique() -> None:
    names = [row[0] for row in ALL]
    assert len(set(names)) == len(names)


def test_every_fault_has_its_scenario() -> None:
    assert [row[0] for row in CAUSES] == [row[0] for row in FAULTS]


def test_every_reason_refusal_ending_and_warning_has_its_scenario() -> None:
    assert {row[0] for row in states.REASONS} == {row[0] for row in HELD_REASONS}
    assert {row[0] for row in states.REFUSED} == {row[0] for row in REFUSALS}
    assert {row[0] for row in states.ENDED} == {row[0] for row in ENDINGS}
    assert {row[0] for row in states.WARNED} == {row[0] for row in WARNINGS}


def test_a_tap_of_any_length_is_no_fault() -> None:
    for way, ready in (("raise", READY), ("lower", READY_TOP)):
        for tap_ms in range(5, 400, 5):
            drive = Drive(QUICK)
            drive.play(ready + f"ask {way}; run {tap_ms}; ask nothing; settle")
            assert (drive.state(), drive.fault()) == ("idle", "none"), (way, tap_ms)


class Watched(Drive):
    """Notes every transition of the state."""

    seen: ClassVar[set[tuple[int, int]]] = set()

    def tick(self) -> int:
        before = self.core.state
        out = super().tick()
        if self.core.state != before:
            self.seen.add((before, self.core.state))
        return out


def test_every_transition_that_is_allowed_happens_and_no_other() -> None:
    for _, values, script in ALL:
        Watched(values).play(script)
    numbers = range(len(STATE_NAMES))
    allowed = {(a, b) for a in numbers for b in numbers if ALLOWED[a] >> b & 1}
    # Only held turns into fault in one pass: what runs or is ready stops first, and the
    # cause is sought then. The table allows it elsewhere for a program error.
    straight = {(a, b) for a, b in allowed if b == FAULT and a != HELD}
    assert Watched.seen == allowed - straight
