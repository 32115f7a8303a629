"""Every time of the small parts to the millisecond, and what each part forgets.

The numbers are the documented ones, written out, so that a changed constant is noticed.
"""

from collections.abc import Callable

import pytest

from leafwinch.cause import Cause
from leafwinch.chain import Chain
from leafwinch.contactors import OFF, RUNNING, Contactors
from leafwinch.control import Control
from leafwinch.controller import Controller
from leafwinch.current import Current
from leafwinch.ends import Ends
from leafwinch.faults import (
    BOTH_ENDS,
    BOTTOM_END_DISAGREES,
    CONTROL_BOTH,
    CURRENT_AT_REST,
    CURRENT_MISSING,
    CURRENT_WRONG_WAY,
    END_WRONG_WAY,
    LOWER_CONTACT_STUCK,
    NO_FAULT,
    RAISE_CONTACT_STUCK,
    RECOVERY_KEY_TURNED,
    ROPE_SLACK,
    SAMPLES_STALLED,
    TOP_END_DISAGREES,
)
from leafwinch.inputs import Inputs
from leafwinch.numbers import LOWER, NO_DIRECTION, RAISE
from leafwinch.reset_button import NOTHING, PRESSED, STUCK, ResetButton
from leafwinch.settings import settings_from
from leafwinch.signals import (
    ALL_CONTACTS,
    BOTTOM_END,
    CHAIN_OK,
    LOWER_OFF,
    LOWER_PATH,
    NO_SAMPLE,
    RAISE_OFF,
    RAISE_PATH,
    RECOVERY_OFF,
    RESET,
    ROPE_TAUT,
    TOP_END,
)
from leafwinch.slack import Slack
from tests.firmware.drive import Drive
from tests.firmware.scenarios_faults import QUICK, quick

NEUTRAL = ALL_CONTACTS & ~(RAISE_PATH | LOWER_PATH | RESET)
ASKS = {RAISE: NEUTRAL & ~RAISE_OFF | RAISE_PATH, LOWER: NEUTRAL & ~LOWER_OFF | LOWER_PATH}


def first_ms(step: Callable[[], object], longest: int = 20_000) -> int:
    """Return after how many passes of a millisecond a step answers, or -1."""
    for ms in range(1, longest):
        if step():
            return ms
    return -1


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


# --- the control ------------------------------------------------------------------


def neutral_for(control: Control, ms: int) -> Control:
    for _ in range(ms):
        assert control.step(1, NEUTRAL) == NO_FAULT
    return control


def test_neutral_counts_after_300_ms() -> None:
    control = Control()
    assert not neutral_for(control, 299).neutral()
    assert control.new_demand == 0
    assert neutral_for(control, 1).neutral()
    assert control.new_demand == 1
    control.step(1, ASKS[RAISE])
    assert not control.neutral()
    assert control.asked == RAISE
    control.travel_ended()
    assert control.new_demand == 0
    control.step(1, ASKS[LOWER])
    assert control.asked == LOWER


@pytest.mark.parametrize(
    ("path", "off", "fault"),
    [(RAISE_PATH, RAISE_OFF, RAISE_CONTACT_STUCK), (LOWER_PATH, LOWER_OFF, LOWER_CONTACT_STUCK)],
)
def test_a_live_path_with_its_contact_closed_is_stuck_after_50_ms(
    path: int, off: int, fault: int
) -> None:
    control = neutral_for(Control(), 400)
    assert first_ms(lambda: control.step(1, NEUTRAL | path)) == 51
    for _ in range(3):
        assert control.step(1, NEUTRAL | path) == fault
    neutral_for(control, 1)
    assert first_ms(lambda: control.step(1, NEUTRAL | path)) == 51
    # The other direction asked for meanwhile starts the time again.
    control.step(1, NEUTRAL & ~off | path)
    assert first_ms(lambda: control.step(1, NEUTRAL | path)) == 51
    control.forget()
    assert first_ms(lambda: control.step(1, NEUTRAL | path)) == 51


BOTH_OFF = NEUTRAL & ~(RAISE_OFF | LOWER_OFF)
BOTH_PATHS = NEUTRAL & ~RAISE_OFF | RAISE_PATH | LOWER_PATH


def test_both_ways_for_500_ms() -> None:
    control = neutral_for(Control(), 400)
    assert first_ms(lambda: control.step(1, BOTH_OFF)) == 500
    assert control.step(1, BOTH_OFF) == CONTROL_BOTH
    control.step(1, ASKS[RAISE])
    assert first_ms(lambda: control.step(1, BOTH_OFF)) == 500
    neutral_for(control, 1)
    assert first_ms(lambda: control.step(1, BOTH_OFF)) == 500
    control.step(1, BOTH_OFF & ~CHAIN_OK)
    assert first_ms(lambda: control.step(1, BOTH_OFF)) == 500
    assert control.asked == NO_DIRECTION


def test_both_paths_live_count_as_both_ways() -> None:
    control = neutral_for(Control(), 400)
    seen = [control.step(1, BOTH_PATHS) for _ in range(600)]
    # The path that is live with its contact closed is found first, and named before.
    assert seen == [NO_FAULT] * 50 + [LOWER_CONTACT_STUCK] * 550
    assert control.both_ms == 500


END_OF = {
    RAISE: (TOP_END, RAISE_PATH, TOP_END_DISAGREES),
    LOWER: (BOTTOM_END, LOWER_PATH, BOTTOM_END_DISAGREES),
}
WAYS = (RAISE, LOWER)


@pytest.mark.parametrize("way", WAYS)
def test_an_end_open_with_its_path_live_disagrees_after_50_ms(way: int) -> None:
    end, _, fault = END_OF[way]
    asks = ASKS[way] & ~end
    control = neutral_for(Control(), 300)
    assert first_ms(lambda: control.step(1, asks)) == 51
    assert control.step(1, asks) == fault
    assert control.step(1, ASKS[way]) == NO_FAULT
    assert first_ms(lambda: control.step(1, asks)) == 51
    neutral_for(control, 1)
    assert first_ms(lambda: control.step(1, asks)) == 51
    # Creeping onto the limit is no new demand.
    control.travel_ended()
    assert first_ms(lambda: control.step(1, asks), 500) == -1
    neutral_for(control, 299)
    assert first_ms(lambda: control.step(1, asks), 500) == -1


@pytest.mark.parametrize("way", WAYS)
def test_a_dead_path_is_halfway_and_a_doubted_end_disagrees_after_1000_ms(way: int) -> None:
    end, path, fault = END_OF[way]
    half = ASKS[way] & ~path
    control = neutral_for(Control(), 400)
    for ms in range(1, 3400):
        assert control.step(1, half) == NO_FAULT
        assert control.halfway_ms == min(ms, 3000)
    for answer in (half & ~end, ASKS[way], NEUTRAL, half & ~(RAISE_OFF | LOWER_OFF)):
        control.step(1, half)
        assert control.halfway_ms > 0
        control.step(1, answer)
        assert control.halfway_ms == 0
    assert control.ended_by_path_alone(way, half)
    for _ in range(101):
        control.step(1, half)
    neutral_for(control, 400)
    assert first_ms(lambda: control.step(1, half)) == 1000
    assert control.step(1, half) == fault
    control.travel_ended()
    assert first_ms(lambda: control.step(1, half), 2000) == -1


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("settles", ["end reached", "path live"])
def test_a_doubt_ends_with_the_end_or_the_path(way: int, settles: str) -> None:
    end, path, _ = END_OF[way]
    half = ASKS[way] & ~path
    control = Control()
    assert control.ended_by_path_alone(way, half)
    assert (control.top_doubted, control.bottom_doubted) == ((1, 0) if way == RAISE else (0, 1))
    control.step(1, half & ~end if settles == "end reached" else ASKS[way])
    assert (control.top_doubted, control.bottom_doubted) == (0, 0)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(("ms", "doubted"), [(99, 0), (100, 1)])
def test_a_hand_may_let_go_within_100_ms(way: int, ms: int, doubted: int) -> None:
    half = ASKS[way] & ~END_OF[way][1]
    control = Control()
    assert control.ended_by_path_alone(way, half)
    for _ in range(ms):
        control.step(1, half)
    control.step(1, NEUTRAL)
    assert control.top_doubted + control.bottom_doubted == doubted
    assert control.eased_ms == 0
    control.ended_by_path_alone(way, half)
    control.step(1, ASKS[-way] & ~END_OF[-way][1] & ~RAISE_OFF & ~LOWER_OFF)
    assert control.top_doubted + control.bottom_doubted == 1
    control.step(150, half)
    assert control.eased_ms == 0


@pytest.mark.parametrize("way", WAYS)
def test_only_the_path_speaks_for_the_stop(way: int) -> None:
    end, path, _ = END_OF[way]
    off = RAISE_OFF if way == RAISE else LOWER_OFF
    half = ASKS[way] & ~path
    for c in (half & ~CHAIN_OK, half | off, half | path, half & ~end):
        control = Control()
        assert not control.ended_by_path_alone(way, c)
        assert (control.top_doubted, control.bottom_doubted, control.eased_ms) == (0, 0, 0)
    control = Control()
    assert control.ended_by_path_alone(way, half)
    assert (control.eased_ms, control.eased_way) == (100, way)
    control.forget()
    assert control.eased_ms == 0


# --- the current ------------------------------------------------------------------


def test_samples_are_stalled_after_60_ms() -> None:
    current = Current(settings_from({}))
    assert first_ms(lambda: current.sample(1, NO_SAMPLE)) == 61
    assert current.sample(1, NO_SAMPLE) == SAMPLES_STALLED
    assert current.stalled()
    assert current.sample(1, 700) == NO_FAULT
    assert (current.value_ma, current.stalled_ms) == (700, 0)
    current.sample(1, NO_SAMPLE)
    assert current.value_ma == 700


@pytest.mark.parametrize("value", [301, -301])
def test_current_at_rest_is_judged_500_ms_after_the_release_for_200_ms(value: int) -> None:
    current = Current(settings_from({}))
    current.sample(1, value)
    assert first_ms(lambda: current.at_rest(1)) == 701
    assert current.at_rest(1) == CURRENT_AT_REST
    current.sample(1, 300 if value > 0 else -300)
    assert current.at_rest(1) == NO_FAULT
    current.sample(1, value)
    assert first_ms(lambda: current.at_rest(1)) == 201
    current.energised(1, RAISE, 0, -1)
    assert first_ms(lambda: current.at_rest(1)) == 701
    current.forget()
    assert (current.rest_ms, current.rest_over_ms, current.stalled_ms) == (0, 0, 0)


def running(values: dict[str, int], way: int, amps: int, run_ms: int = 500) -> Callable[[], int]:
    """Return a step of a motor that runs with this current; the blocked account is empty."""
    current = Current(settings_from(values))
    current.blocked_ms = 0
    current.sample(1, amps)
    return lambda: current.energised(1, way, run_ms, -1)


@pytest.mark.parametrize(
    ("values", "way", "amps", "run_ms", "ms", "fault"),
    [
        ({}, RAISE, 499, 401, 200, CURRENT_MISSING),
        ({}, LOWER, 499, 401, 200, CURRENT_MISSING),
        ({}, RAISE, 500, 401, -1, 0),
        ({}, RAISE, 499, 400, -1, 0),
        ({"missing_lower_ma": 0}, LOWER, 0, 401, -1, 0),
        ({"missing_lower_ma": 0}, RAISE, 0, 401, 200, CURRENT_MISSING),
        ({"current_signed": 1, "missing_raise_ma": 0}, RAISE, -2001, 401, 100, CURRENT_WRONG_WAY),
        ({"current_signed": 1, "missing_raise_ma": 0}, RAISE, -2000, 401, -1, 0),
        ({"current_signed": 1, "missing_lower_ma": 0}, LOWER, 2001, 401, 100, CURRENT_WRONG_WAY),
        ({"current_signed": 1, "missing_lower_ma": 0}, LOWER, 2000, 401, -1, 0),
        (
            {"current_signed": 1, "missing_lower_ma": 0, "lower_drives": 0},
            LOWER,
            2001,
            401,
            -1,
            0,
        ),
        ({"current_signed": 1, "lower_drives": 0}, RAISE, -2001, 401, 100, CURRENT_WRONG_WAY),
        ({"missing_raise_ma": 0}, RAISE, -2001, 401, -1, 0),
    ],
)
def test_missing_and_wrong_way_currents(
    values: dict[str, int], way: int, amps: int, run_ms: int, ms: int, fault: int
) -> None:
    step = running(values, way, amps, run_ms)
    assert first_ms(step, 1000) == ms
    if fault:
        assert step() == fault


def test_a_current_that_returns_starts_the_times_again() -> None:
    for values, bad, good, ms in (
        ({}, 100, 5000, 200),
        ({"current_signed": 1, "missing_raise_ma": 0}, -3000, 5000, 100),
        ({}, 10000, 5000, 60),
    ):
        current = Current(settings_from(values))
        current.blocked_ms = 0

        def step(amps: int, current: Current = current) -> int:
            current.sample(1, amps)
            return current.energised(1, RAISE, 500, -1)

        for _ in range(2):
            assert first_ms(lambda bad=bad: step(bad)) == ms  # type: ignore[misc]
            assert step(good) == NO_FAULT
        for _ in range(ms - 1):
            step(bad)
        current.at_rest(1)
        assert first_ms(lambda bad=bad: step(bad)) == ms  # type: ignore[misc]


@pytest.mark.parametrize(
    ("values", "way", "amps", "blocked"),
    [
        ({}, RAISE, 8001, True),
        ({}, RAISE, 8000, False),
        ({}, RAISE, 500, False),
        ({}, RAISE, 499, True),
        ({"missing_raise_ma": 0}, RAISE, 0, False),
        ({"current_signed": 1}, LOWER, -8000, False),
        ({"current_signed": 1}, LOWER, -8001, True),
    ],
)
def test_blocked_account_and_the_running_band(
    values: dict[str, int], way: int, amps: int, blocked: bool
) -> None:
    current = Current(settings_from(values))
    current.blocked_ms = 1000
    current.sample(1, amps)
    for ms in range(1, 62):
        current.energised(1, way, 0, -1)
        # Inside the band for more than 60 ms clears it.
        assert current.blocked_ms == (0 if ms == 61 and not blocked else 1000 + ms)
    if blocked:
        assert current.band_ms == 0
        for _ in range(939):
            assert current.energised(1, way, 0, -1) == NO_FAULT
        assert current.energised(1, way, 0, -1)
        assert current.blocked_ms == 2000


def test_blocked_account_after_power_up_leaves_one_start() -> None:
    # 2 s in all, less the inrush of 400 ms and a margin of 200 ms.
    current = Current(settings_from({}))
    assert current.blocked_ms == 1400
    current.blocked_ms = 1399
    current.grant_start()
    assert current.blocked_ms == 1399
    current.blocked_ms = 2000
    current.grant_start()
    assert current.blocked_ms == 1400
    current.boot_blocked(1399)
    assert current.blocked_ms == 1400
    current.boot_blocked(1401)
    assert current.blocked_ms == 1401
    current.boot_blocked(2001)
    assert current.blocked_ms == 2000
    assert Current(settings_from({"inrush_ms": 1800})).blocked_ms == 0
    assert Current(settings_from({"inrush_ms": 1799})).blocked_ms == 1


# --- a fresh core -------------------------------------------------------------------


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
