"""Filter, lamps, reset button, cause window, stored record, program errors."""

import pytest

from leafwinch.cause import WINDOW_MS, Cause
from leafwinch.control import Control
from leafwinch.controller import Controller
from leafwinch.fault_texts import FAULTS
from leafwinch.faults import NO_FAULT, PROGRAM_ERROR
from leafwinch.indicator import Indicator
from leafwinch.inputs import SETTLE_MS, Inputs
from leafwinch.kept import KEPT_NAMES
from leafwinch.numbers import LOWER, RAISE
from leafwinch.reset_button import NOTHING, PRESSED, STUCK, ResetButton
from leafwinch.settings_schema import settings_from
from leafwinch.signals import (
    ALL_CONTACTS,
    CHAIN_OK,
    OUT_BUZZER,
    OUT_LAMP_RED,
    OUT_LAMP_WHITE,
    RAISE_OFF,
    RAISE_PATH,
    RESET,
    STOP_OK,
)
from leafwinch.states import FAULT, HELD, IDLE, RAISING
from tests.firmware.drive import Drive, cold_record
from tests.firmware.scenarios_faults import QUICK, READY, UP

TICK_MS = 5


def settled() -> Inputs:
    inputs = Inputs(settings_from({}))
    for _ in range(SETTLE_MS // TICK_MS):
        inputs.step(TICK_MS, ALL_CONTACTS, 24000)
    return inputs


def test_a_contact_opens_after_two_samples_and_closes_after_three() -> None:
    inputs = settled()
    assert inputs.ready()
    pattern = [0, 1, 0, 0, 1, 1, 0, 1, 1, 1, 0, 0]
    wanted = [1, 1, 1, 0, 0, 0, 0, 0, 0, 1, 1, 0]
    seen = []
    for closed in pattern:
        inputs.step(TICK_MS, ALL_CONTACTS if closed else ALL_CONTACTS & ~STOP_OK, 24000)
        seen.append(1 if inputs.seen & STOP_OK else 0)
    assert seen == wanted


def test_supply_is_lost_after_two_low_samples() -> None:
    inputs = settled()
    inputs.step(TICK_MS, ALL_CONTACTS, 0)
    assert inputs.supplied()
    assert inputs.ready()
    inputs.step(TICK_MS, ALL_CONTACTS, 24000)
    assert inputs.supplied()
    for _ in range(3):
        inputs.step(TICK_MS, ALL_CONTACTS, 17999)
    assert not inputs.supplied()
    assert inputs.seen == 0
    inputs.step(TICK_MS, ALL_CONTACTS, 18000)
    assert inputs.supplied()
    assert not inputs.ready()


def lit(indicator: Indicator, state: int, fault: int, ms: int) -> list[tuple[int, int]]:
    """Return (level, length in ms) of the red lamp over a time."""
    runs: list[tuple[int, int]] = []
    for _ in range(ms // TICK_MS):
        level = 1 if indicator.step(TICK_MS, state, fault) & OUT_LAMP_RED else 0
        if runs and runs[-1][0] == level:
            runs[-1] = (level, runs[-1][1] + TICK_MS)
        else:
            runs.append((level, TICK_MS))
    return runs


@pytest.mark.parametrize("fault", range(1, len(FAULTS) + 1))
def test_red_flashes_count_group_and_item(fault: int) -> None:
    _, _, group, item = FAULTS[fault - 1]
    flashes = [ms for level, ms in lit(Indicator(), FAULT, fault, 40000) if level]
    cycle = [700] * group + [200] * item
    assert flashes[: 2 * len(cycle)] == cycle * 2


def test_white_lamp_tells_ready_moving_and_locked() -> None:
    def share(state: int) -> float:
        indicator = Indicator()
        on = [bool(indicator.step(TICK_MS, state, 0) & OUT_LAMP_WHITE) for _ in range(400)]
        return sum(on) / len(on)

    assert share(IDLE) == pytest.approx(0.25, abs=0.01)
    assert share(RAISING) == 1
    assert share(HELD) == pytest.approx(0.625, abs=0.02)  # bright and dim by turns


def test_buzzer_sounds_a_second_at_a_fault_and_chirps_at_a_warning() -> None:
    indicator = Indicator()
    tone = [bool(indicator.step(TICK_MS, FAULT, 1) & OUT_BUZZER) for _ in range(400)]
    assert sum(tone) * TICK_MS == 1000
    indicator.chirp()
    indicator.chirp()
    tone = [bool(indicator.step(TICK_MS, FAULT, 1) & OUT_BUZZER) for _ in range(400)]
    assert sum(tone) * TICK_MS == 100


def press(button: ResetButton, ms: int) -> list[int]:
    answers = [button.step(TICK_MS, RESET) for _ in range(ms // TICK_MS)]
    return [*answers, button.step(TICK_MS, 0)]


@pytest.mark.parametrize(
    ("ms", "answer"), [(5, 0), (1995, 0), (2000, 1), (10000, 1), (10005, 0), (60000, 0)]
)
def test_reset_button_acts_on_the_release_of_a_deliberate_press(ms: int, answer: int) -> None:
    button = ResetButton()
    button.step(TICK_MS, 0)
    answers = press(button, ms)
    assert answers[-1] == (PRESSED if answer else NOTHING)
    assert answers.count(STUCK) == (1 if ms > 10000 else 0)
    assert PRESSED not in answers[:-1]


def test_reset_button_pressed_before_it_was_seen_released_does_not_count() -> None:
    button = ResetButton()
    assert PRESSED not in press(button, 3000)
    assert press(button, 3000)[-1] == PRESSED
    button.forget()
    assert PRESSED not in press(button, 3000)


def test_cause_window() -> None:
    cause = Cause()
    assert not cause.due(TICK_MS)
    cause.add(7)
    cause.add(3)
    cause.add(5)
    waited_ms = 0
    while not cause.due(TICK_MS) and waited_ms < 1000:
        waited_ms += TICK_MS
    assert waited_ms == WINDOW_MS
    assert 30 <= WINDOW_MS <= 50
    assert cause.candidate == 3
    cause.close()
    assert cause.candidate == NO_FAULT


def test_record_of_another_version_or_length_is_refused() -> None:
    record = cold_record(QUICK)
    for bad in (record[:-1], (record[0] + 1, *record[1:]), ()):
        with pytest.raises(ValueError, match="another version"):
            Controller(settings_from(QUICK), bad)


def test_record_with_an_impossible_fault_carries_none() -> None:
    for fault in (-1, len(FAULTS) + 1, 99999):
        record = list(cold_record(QUICK))
        record[KEPT_NAMES.index("fault")] = fault
        assert Controller(settings_from(QUICK), tuple(record)).fault == NO_FAULT


def test_record_round_trip_keeps_every_entry() -> None:
    drive = Drive(QUICK)
    drive.play(UP + "ask nothing; settle")
    record = drive.core.record()
    again = Controller(settings_from(QUICK), record).record()
    for name, before, after in zip(KEPT_NAMES, record, again, strict=True):
        if name in ("thermal_level", "blocked_ms"):
            assert after >= before  # the worst that one unseen travel could have added
        else:
            assert after == before, name


def test_an_end_is_not_doubted_with_the_chain_dead() -> None:
    control = Control()
    halfway = ALL_CONTACTS & ~(RAISE_OFF | RAISE_PATH)
    assert not control.ended_by_path_alone(RAISE, halfway & ~CHAIN_OK)
    assert control.ended_by_path_alone(RAISE, halfway)
    assert not control.ended_by_path_alone(LOWER, ALL_CONTACTS)


def test_blocked_account_in_a_record_never_exceeds_its_trip() -> None:
    record = list(cold_record(QUICK))
    record[KEPT_NAMES.index("blocked_ms")] = 5000
    core = Controller(settings_from(QUICK), tuple(record))
    assert core.record()[KEPT_NAMES.index("blocked_ms")] == 2000
    assert Controller(settings_from({"inrush_ms": 2000})).current.blocked_ms == 0


def test_a_transition_that_is_not_allowed_is_a_program_error() -> None:
    drive = Drive(QUICK)
    drive.play(READY)
    core = drive.core
    assert isinstance(core, Controller)
    core._enter(HELD)
    core._enter(HELD)
    assert (core.state, core.fault) == (HELD, NO_FAULT)
    core._enter(RAISING)
    assert (core.state, core.fault) == (FAULT, PROGRAM_ERROR)
    drive.play("run 100; resting: yes; fault: program_error")
