"""The control to the millisecond: neutral, stuck, both ways, halfway, doubted ends."""

import pytest

from leafwinch.control import Control
from leafwinch.faults import (
    BOTTOM_END_DISAGREES,
    CONTROL_BOTH,
    LOWER_CONTACT_STUCK,
    NO_FAULT,
    RAISE_CONTACT_STUCK,
    TOP_END_DISAGREES,
)
from leafwinch.numbers import LOWER, NO_DIRECTION, RAISE
from leafwinch.signals import (
    BOTTOM_END,
    CHAIN_OK,
    LOWER_OFF,
    LOWER_PATH,
    RAISE_OFF,
    RAISE_PATH,
    TOP_END,
)
from tests.firmware.exact import ASKS, NEUTRAL, first_ms


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
    assert control.raise_stuck_ms + control.lower_stuck_ms == 50
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
    end, path, fault = END_OF[way]
    asks = ASKS[way] & ~end
    control = neutral_for(Control(), 300)
    assert first_ms(lambda: control.step(1, asks)) == 51
    assert control.step(1, asks) == fault
    assert control.disagree_ms == 50
    both = asks & ~(RAISE_OFF | LOWER_OFF)
    for other in (ASKS[way], asks & ~path, ASKS[way] & ~path, both):
        assert control.step(1, other) == NO_FAULT
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


def test_what_is_forgotten_after_a_lost_supply() -> None:
    control = Control()
    for name in Control.FIELDS:
        setattr(control, name, 1)
    control.forget()
    kept = {name for name in Control.FIELDS if getattr(control, name)}
    # The doubts, and what an actuation was told already, outlast it.
    assert kept == {"halfway_said", "new_demand", "top_doubted", "bottom_doubted", "eased_way"}


def test_times_stop_growing_in_passes_of_any_length() -> None:
    control = Control()
    for _ in range(1000):
        control.step(7, NEUTRAL)
    assert control.neutral_ms == 301
    assert control.neutral()
    assert control.new_demand == 1
    for _ in range(1000):
        fault = control.step(7, BOTH_OFF)
    assert (control.both_ms, fault) == (504, CONTROL_BOTH)
    for _ in range(1000):
        control.step(7, ASKS[RAISE] & ~RAISE_PATH)
    assert control.halfway_ms == 3003
    assert control.ended_by_path_alone(RAISE, ASKS[RAISE] & ~RAISE_PATH)
    for left in (93, 86, 79):
        control.step(7, ASKS[RAISE] & ~RAISE_PATH)
        assert control.eased_ms == left


def test_one_odd_thing_ends_the_proof_of_another() -> None:
    # No pass between them in which all contacts agree, which would clear everything by itself.
    halfway = ASKS[RAISE] & ~RAISE_PATH
    for stuck, off in ((RAISE_PATH, RAISE_OFF), (LOWER_PATH, LOWER_OFF)):
        control = Control()
        for _ in range(2):
            for _ in range(50):
                assert control.step(1, NEUTRAL & ~(RAISE_OFF | LOWER_OFF) | stuck | off) == NO_FAULT
            assert control.step(1, halfway) == NO_FAULT
    control = Control()
    for _ in range(499):
        assert control.step(1, BOTH_OFF) == NO_FAULT
    assert control.step(1, halfway) == NO_FAULT
    assert control.both_ms == 0


def test_both_paths_live_end_what_the_end_was_doubted_for() -> None:
    # With the other path live too the contacts do not agree, but path and end of this way do.
    for way, other, doubted in (
        (RAISE, LOWER_PATH, "top_doubted"),
        (LOWER, RAISE_PATH, "bottom_doubted"),
    ):
        control = Control()
        control.halfway_ms = control.disagree_ms = 40
        setattr(control, doubted, 1)
        assert control.step(1, ASKS[way] | other) == NO_FAULT
        assert (control.halfway_ms, control.disagree_ms, getattr(control, doubted)) == (0, 0, 0)
