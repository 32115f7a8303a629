"""Every time of the small parts to the millisecond, and what each part forgets.

The numbers are the documented ones, written out, so that a changed constant is noticed.
"""

import pytest

from leafwinch.cause import Cause
from leafwinch.chain import Chain
from leafwinch.contactors import OFF, RUNNING, Contactors
from leafwinch.controller import Controller
from leafwinch.ends import Ends
from leafwinch.faults import (
    BOTH_ENDS,
    END_WRONG_WAY,
    NO_FAULT,
    RECOVERY_KEY_TURNED,
    ROPE_SLACK,
)
from leafwinch.inputs import Inputs
from leafwinch.numbers import LOWER, NO_DIRECTION, RAISE
from leafwinch.reset_button import NOTHING, PRESSED, STUCK, ResetButton
from leafwinch.settings_schema import settings_from
from leafwinch.signals import (
    ALL_CONTACTS,
    BOTTOM_END,
    BOTTOM_FINAL,
    RECOVERY_OFF,
    RESET,
    ROPE_TAUT,
    TOP_END,
    TOP_FINAL,
)
from leafwinch.slack import Slack
from tests.firmware.drive import Drive
from tests.firmware.exact import NEUTRAL, first_ms
from tests.firmware.scenarios_faults import QUICK, quick


def test_cause_window_is_40_ms() -> None:
    cause = Cause()
    cause.open()
    assert first_ms(lambda: cause.due(1)) == 41
    cause.close()
    assert first_ms(lambda: cause.due(1), 100) == -1
    cause.add(5)
    for _ in range(20):
        assert not cause.due(1)
    cause.add(9)
    cause.open()
    assert first_ms(lambda: cause.due(1)) == 21
    assert cause.candidate == 5
    cause.close()
    assert (cause.is_open, cause.window_ms, cause.candidate) == (0, 0, NO_FAULT)


@pytest.mark.parametrize(
    ("ms", "answer"), [(1999, NOTHING), (2000, PRESSED), (10000, PRESSED), (10001, NOTHING)]
)
def test_reset_is_pressed_2_to_10_s(ms: int, answer: int) -> None:
    button = ResetButton()
    assert button.step(1, 0) == NOTHING
    answers = [button.step(1, RESET) for _ in range(ms)]
    assert answers == [NOTHING] * min(ms, 10000) + [STUCK] * (ms - 10000)
    assert button.step(1, 0) == answer
    assert button.pressed_ms == 0


def test_inputs_settle_in_100_ms() -> None:
    inputs = Inputs(settings_from({}))
    assert not inputs.supplied()
    assert not inputs.ready()
    inputs.step(0, ALL_CONTACTS, 24000)
    assert inputs.supplied()

    def step() -> bool:
        inputs.step(1, ALL_CONTACTS, 24000)
        return inputs.ready()

    assert first_ms(step) == 100
    inputs.forget()
    assert not inputs.ready()
    assert (inputs.one, inputs.two, inputs.seen) == (0, 0, 0)
    assert first_ms(step) == 100


def test_a_late_pass_settles_for_30_ms_at_most() -> None:
    inputs = Inputs(settings_from({}))
    inputs.step(0, ALL_CONTACTS, 24000)
    for pass_ms, settled_ms in ((29, 29), (30, 59), (31, 89), (1000, 119)):
        assert not inputs.ready()
        inputs.step(pass_ms, ALL_CONTACTS, 24000)
        assert inputs.settle_ms == settled_ms
    assert inputs.ready()


def test_ends_both_actuated_for_50_ms() -> None:
    ends = Ends()
    both = NEUTRAL & ~(TOP_END | BOTTOM_END)
    assert first_ms(lambda: ends.step(1, both, False, NO_DIRECTION)) == 51
    assert ends.step(1, both, False, NO_DIRECTION) == BOTH_ENDS
    assert ends.step(1, NEUTRAL & ~TOP_END, True, NO_DIRECTION) == NO_FAULT
    assert first_ms(lambda: ends.step(1, both, True, NO_DIRECTION)) == 51


@pytest.mark.parametrize(
    ("end", "wrong", "right"), [(TOP_END, LOWER, RAISE), (BOTTOM_END, RAISE, LOWER)]
)
def test_an_end_is_left_after_200_ms(end: int, wrong: int, right: int) -> None:
    for left_ms, way, fault in (
        (199, wrong, NO_FAULT),
        (200, wrong, END_WRONG_WAY),
        (900, wrong, END_WRONG_WAY),
        (900, right, NO_FAULT),
        (900, NO_DIRECTION, NO_FAULT),
    ):
        ends = Ends()
        for _ in range(left_ms):
            assert ends.step(1, NEUTRAL, True, way) == NO_FAULT
        assert ends.step(1, NEUTRAL & ~end, True, way) == fault, (left_ms, way)
        assert ends.step(1, NEUTRAL & ~end, True, way) == NO_FAULT  # only once that it was left


def test_a_limit_moves_at_rest_after_1000_ms() -> None:
    for rest_ms, drifted in ((1000, 1), (999, 0)):
        ends = Ends()
        for _ in range(rest_ms):
            assert ends.step(1, NEUTRAL, False, NO_DIRECTION) == NO_FAULT
        ends.step(1, NEUTRAL & ~TOP_END, False, NO_DIRECTION)
        assert (ends.drifted, ends.drifts) == (drifted, drifted)
        ends.step(1, NEUTRAL & ~TOP_END, False, NO_DIRECTION)
        assert ends.drifted == 0
    ends.forget()
    assert (ends.rest_ms, ends.both_ms, ends.top_left_ms, ends.bottom_left_ms) == (0, 0, 0, 0)


@pytest.mark.parametrize("limit", [TOP_END, BOTTOM_END, TOP_FINAL, BOTTOM_FINAL])
def test_each_limit_that_moves_at_rest_is_a_drift(limit: int) -> None:
    ends = Ends()
    for _ in range(1000):
        ends.step(1, NEUTRAL, False, NO_DIRECTION)
    ends.step(1, NEUTRAL & ~ROPE_TAUT, False, NO_DIRECTION)
    assert ends.drifted == 0
    ends.step(1, NEUTRAL & ~limit, False, NO_DIRECTION)
    assert ends.drifted == 1
    ends.step(1, NEUTRAL & ~limit, True, NO_DIRECTION)
    assert ends.drifted == 0


@pytest.mark.parametrize(("end", "wrong"), [(TOP_END, LOWER), (BOTTOM_END, RAISE)])
def test_an_end_must_be_left_for_its_whole_time_again(end: int, wrong: int) -> None:
    ends = Ends()
    for left_ms, pass_ms, fault in ((300, 1, END_WRONG_WAY), (199, 1, 0), (203, 7, END_WRONG_WAY)):
        for _ in range(left_ms // pass_ms):
            assert ends.step(pass_ms, NEUTRAL, True, wrong) == NO_FAULT
        assert ends.step(pass_ms, NEUTRAL & ~end, True, wrong) == fault


def test_what_the_ends_forget_after_a_lost_supply() -> None:
    ends = Ends()
    for name in Ends.FIELDS:
        setattr(ends, name, 1)
    ends.forget()
    assert {name for name in Ends.FIELDS if getattr(ends, name)} == {"rest_limits", "drifts"}


def test_the_second_drift_is_a_fault_until_a_travel_completes() -> None:
    ends = Ends()
    answers = []
    for place in (NEUTRAL, NEUTRAL & ~TOP_END, NEUTRAL, NEUTRAL & ~TOP_END):
        answers.append([ends.step(1, place, False, NO_DIRECTION) for _ in range(1100)])
    faults = [sum(1 for fault in row if fault) for row in answers]
    assert faults == [0, 0, 1, 1]
    assert ends.drifts == 2
    ends.step(1, NEUTRAL, True, RAISE)
    assert (ends.rest_ms, ends.drifted) == (0, 0)
    ends.travel_completed()
    assert ends.drifts == 0


def test_recovery_key_without_a_final_is_a_fault_after_100_ms() -> None:
    chain = Chain()
    turned = NEUTRAL & ~RECOVERY_OFF
    assert first_ms(lambda: chain.step(1, turned, 0, 0, False)) == 101
    assert chain.step(1, turned, 0, 0, False) == RECOVERY_KEY_TURNED
    assert chain.step(1, turned, 0, 0, True) == NO_FAULT
    assert first_ms(lambda: chain.step(1, turned, 0, 0, False)) == 101
    chain.forget()
    assert first_ms(lambda: chain.step(1, turned, 0, 0, False)) == 101
    assert chain.step(1, NEUTRAL, 0, 0, False) == NO_FAULT
    assert first_ms(lambda: chain.step(1, turned, 0, 0, False)) == 101


def taut_again(slack: Slack, ms: int) -> None:
    for _ in range(ms):
        assert slack.step(1, NEUTRAL, LOWER, 3000, 1) == NO_FAULT


def test_slack_rope_is_cleared_after_100_ms_taut() -> None:
    slack = Slack(settings_from(QUICK))
    slack.slack_ms = 300
    taut_again(slack, 100)
    assert slack.slack_ms == 300
    slack.step(1, NEUTRAL & ~ROPE_TAUT, RAISE, 3000, 1)
    taut_again(slack, 100)
    assert slack.slack_ms == 300
    taut_again(slack, 1)
    assert slack.slack_ms == 0


@pytest.mark.parametrize(
    ("down_ms", "known", "allowed"),
    [(0, 1, 3000), (999, 1, 3000), (1000, 1, 600), (0, 0, 600), (4000, 1, 600)],
)
def test_slack_rope_is_allowed_for_its_time(down_ms: int, known: int, allowed: int) -> None:
    slack = Slack(settings_from(QUICK))
    loose = NEUTRAL & ~ROPE_TAUT
    for _ in range(50):
        assert slack.step(1, loose, RAISE, down_ms, known) == NO_FAULT
        assert slack.step(1, loose & ~BOTTOM_END, LOWER, down_ms, known) == NO_FAULT
    assert slack.slack_ms == 0
    for _ in range(allowed - 1):
        assert slack.step(1, loose, LOWER, down_ms, known) == NO_FAULT
    assert not slack.refuses_lowering(loose, down_ms, known)
    assert slack.step(1, loose, LOWER, down_ms, known) == NO_FAULT
    assert slack.refuses_lowering(loose, down_ms, known)
    assert not slack.refuses_lowering(NEUTRAL, down_ms, known)
    assert not slack.refuses_lowering(loose & ~BOTTOM_END, down_ms, known)
    assert slack.step(1, loose, LOWER, down_ms, known) == ROPE_SLACK
    assert slack.slack_ms == allowed
    bare = Slack(settings_from(quick(slack_fitted=0)))
    bare.slack_ms = 5000
    assert bare.step(1, loose, LOWER, down_ms, known) == NO_FAULT
    assert not bare.refuses_lowering(loose, down_ms, known)


# --- a fresh core -------------------------------------------------------------------


def test_times_stop_growing_in_passes_of_any_length() -> None:
    ends = Ends()
    loose = Slack(settings_from(QUICK))
    inputs = Inputs(settings_from({}))
    button = ResetButton()
    cause = Cause()
    cause.open()
    for _ in range(2000):
        ends.step(7, NEUTRAL, False, NO_DIRECTION)
        loose.step(7, NEUTRAL & ~ROPE_TAUT, LOWER, 2000, 1)
        inputs.step(7, ALL_CONTACTS, 24000)
        button.step(7, RESET)
        cause.due(7)
    assert (ends.top_left_ms, ends.bottom_left_ms, ends.rest_ms) == (203, 203, 1001)
    assert loose.slack_ms == 602
    assert loose.refuses_lowering(NEUTRAL & ~ROPE_TAUT, 2000, 1)
    for _ in range(2000):
        ends.step(7, NEUTRAL & ~(TOP_END | BOTTOM_END), False, NO_DIRECTION)
        loose.step(7, NEUTRAL, LOWER, 2000, 1)
    assert (ends.both_ms, ends.drifts) == (56, 1)
    assert (loose.taut_ms, loose.slack_ms) == (105, 0)
    assert inputs.settle_ms == 105
    assert inputs.ready()
    for _ in range(5):
        inputs.step(7, ALL_CONTACTS, 0)
    assert inputs.low_ticks == 2
    assert button.pressed_ms == 10003
    assert cause.window_ms == 42


def test_a_fresh_core_knows_nothing() -> None:
    """What power-up starts with; everything else is zero."""
    core = Controller(settings_from(QUICK))
    wanted = {
        "held_reasons": 2,  # the inputs are settling
        "low_ticks": 2,  # the supply is not there yet
        "blocked_ms": 1400,
        "up_ms": 4800,  # both budgets count as spent
        "down_ms": 4800,
        "up_free_ms": 2000,
        "down_free_ms": 2000,
        "level": 1 << 23,
    }
    for part in core.parts():
        for name in part.FIELDS:
            assert getattr(part, name) == wanted.get(name, 0), name


def test_a_fresh_contactor_is_off() -> None:
    drive = Drive(QUICK)
    core = drive.core
    assert isinstance(core, Controller)
    assert core.contactors.phase == OFF
    assert isinstance(core.contactors, Contactors)
    assert RUNNING == 4
