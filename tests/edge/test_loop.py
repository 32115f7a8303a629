"""The loop on a desk: order, deadlines, late passes, rest, and the outputs that the pins show."""

import itertools
from collections.abc import Callable

import pytest

from leafwinch.edge.loop import PASS_US, REST_TURNS, TRIAL_RESTS
from leafwinch.edge.meter import MIDDLE, ZERO
from leafwinch.edge.sampling import SUPPLY
from leafwinch.faults import LOOP_LATE
from leafwinch.signals import ALL_CONTACTS
from leafwinch.states import FAULT, HELD, IDLE, RAISING
from tests.edge.desk import EdgeCore, supply_reading
from tests.edge.rig import NEAR_WRAP_US, Rig
from tests.firmware.drive import Drive, make_controller
from tests.firmware.test_int_bounds import Bounded
from tests.firmware.test_scenarios import ALL, Scenario


@pytest.mark.parametrize("scenario", ALL, ids=[row[0] for row in ALL])
def test_pins_show_what_the_core_decides_in_every_scenario(scenario: Scenario) -> None:
    _, values, script = scenario
    plain = Drive(values)
    plain.play(script)
    through = Drive(values, lambda given, kept, boot: EdgeCore(make_controller(given, kept, boot)))
    through.play(script)
    assert through.hash == plain.hash
    assert through.core.snapshot() == plain.core.snapshot()


def test_the_order_of_a_pass() -> None:
    rig = Rig()
    rig.to_running()
    rig.desk.noting = True
    rig.loop.run(8)
    calls = " ".join(rig.desk.calls)
    once = "sleep inputs step line watch trace{} beat feed"
    assert calls.count("console") == 2
    assert calls.replace(" console", "") == " ".join([once.format("")] * 8)


def test_the_heartbeat_and_the_watchdog_only_after_complete_passes() -> None:
    rig = Rig()
    rig.loop.run(37)
    assert rig.desk.feeds == rig.desk.beats == 37


def raising_after(calls: int, error: BaseException) -> Callable[[str], None]:
    left = [calls]

    def note(_name: str) -> None:
        left[0] -= 1
        if left[0] < 0:
            raise error

    return note


@pytest.mark.parametrize("error", [ValueError("x"), KeyboardInterrupt(), MemoryError()])
def test_what_is_raised_anywhere_in_a_pass_ends_the_loop_unfed(error: BaseException) -> None:
    # 2 passes of motion are up to 20 calls of the board or of the edge's other parts.
    for calls in range(18):
        rig = Rig()
        rig.to_running()
        feeds = rig.desk.feeds
        rig.desk.note = raising_after(calls, error)  # type: ignore[assignment, method-assign]
        with pytest.raises(type(error)):
            rig.loop.run(4)
        assert rig.desk.feeds - feeds <= 2


@pytest.mark.parametrize("mask", [(1 << 30) - 1, (1 << 32) - 1, (1 << 62) - 1])
def test_deadlines_are_kept_over_the_wrap_of_any_port(mask: int) -> None:
    rig = Rig(NEAR_WRAP_US, mask)
    rig.quiet.watch_us = 700
    seen: list[int] = []
    step = rig.core.step

    def timed(now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        seen.append(rig.desk.now_us)
        assert now_ms == (rig.desk.now_us // 1000) & mask & ((1 << 30) - 1)
        return step(now_ms, contacts, current_ma, supply_mv)

    rig.core.step = timed  # type: ignore[method-assign]
    rig.loop.run(1200)
    assert rig.desk.now_us > (1 << 30) + 2_000_000
    gaps = {after - before for before, after in itertools.pairwise(seen)}
    assert gaps <= set(range(PASS_US - 8, PASS_US + 9))
    assert rig.quiet.late == rig.loop.late == 0


@pytest.mark.parametrize("mask", [(1 << 30) - 1, (1 << 62) - 1])
@pytest.mark.parametrize("busy_us", [3_000, 5_500, 9_000, 14_000, 700_000])
def test_one_slow_pass_is_caught_up_without_a_burst(busy_us: int, mask: int) -> None:
    for start_us in (5_000, NEAR_WRAP_US + 2_000_000):
        rig = Rig(start_us, mask)
        starts: list[int] = []
        step = rig.core.step

        def timed(
            now_ms: int,
            contacts: int,
            current_ma: int,
            supply_mv: int,
            step: Callable[[int, int, int, int], int] = step,
            rig: Rig = rig,
            starts: list[int] = starts,
        ) -> int:
            starts.append(rig.desk.now_us)
            rig.core.step_us = busy_us if len(starts) == 200 else 800
            return step(now_ms, contacts, current_ma, supply_mv)

        rig.core.step = timed  # type: ignore[method-assign]
        rig.loop.run(500)
        gaps = [after - before for before, after in itertools.pairwise(starts)]
        # After a short delay the next pass comes at its own deadline; never two in a row at once.
        late_us = max(0, busy_us + 800 - PASS_US)
        assert min(gaps[100:]) >= PASS_US - (late_us if late_us < PASS_US else 0) - 30
        assert sum(gap > PASS_US + 20 for gap in gaps[100:]) <= 1
        assert rig.loop.late == (0 if busy_us < 6_000 else 1)
        assert rig.quiet.late == rig.loop.late


def test_a_pass_that_is_always_too_long_counts_every_time_and_still_runs() -> None:
    rig = Rig()
    rig.core.step_us = 7_000
    rig.loop.run(100)
    assert rig.loop.late >= 66
    assert rig.desk.feeds == 100


def test_a_loop_blocked_in_motion_takes_the_outputs_off_in_its_next_pass() -> None:
    rig = Rig()
    rig.to_running()
    rig.quiet.trace_us = 500_000
    rig.loop.run(1)
    rig.quiet.trace_us = 0
    assert rig.desk.pins[1] == 1
    rig.loop.run(1)
    assert rig.desk.pins[1] == 0
    rig.loop.run(12)
    assert rig.core.state == FAULT
    assert rig.core.fault == LOOP_LATE


def test_files_are_written_at_rest_only_and_time_is_taken_anew() -> None:
    rig = Rig()
    rig.to_running()
    rig.quiet.files = 3
    rig.loop.run(100)
    assert rig.quiet.written == []
    rig.let_go()
    rig.loop.run(60)
    assert len(rig.quiet.written) == 3
    assert rig.quiet.wanted_while_writing == 0
    # All three in one go, each with the watchdog fed before; then every proof starts again.
    assert rig.quiet.written[2] - rig.quiet.written[0] < 2 * rig.quiet.write_us + 100
    assert rig.loop.late == 0
    assert rig.core.state == HELD
    assert rig.core.inputs.settle_ms < 300
    rig.loop.run(200)
    assert rig.core.state == HELD  # the record of the travel is still due
    assert rig.core.fault == 0


def test_a_stored_record_is_told_to_the_core() -> None:
    rig = Rig()
    rig.to_running()
    rig.quiet.follow_record = True
    rig.let_go()
    off = rig.desk.now_us
    rig.loop.run(200)
    assert rig.core.record_due == 0
    assert len(rig.quiet.written) == 1
    assert rig.quiet.written[0] - off < 1_000_000  # a second after the outputs went off, at most
    rig.loop.run(200)
    assert rig.core.state == IDLE


def test_the_watchdog_is_fed_right_before_each_file() -> None:
    rig = Rig()
    rig.to_idle()
    rig.quiet.files = 4
    rig.desk.noting = True
    rig.loop.run(4)
    names = [name for name in rig.desk.calls if name in ("feed", "write", "collect")]
    at = names.index("write")
    assert names[at - 1 : at + 8] == ["feed", "write"] * 4 + ["collect"]


def test_a_file_that_never_gets_written_does_not_stop_the_loop() -> None:
    rig = Rig()
    rig.to_idle()
    rig.quiet.files = 1 << 20
    rig.quiet.write_us = 1_000
    rig.loop.run(400)
    assert rig.desk.feeds > 400
    assert len(rig.quiet.written) < 400


def test_garbage_is_collected_at_rest_once_a_second_and_never_in_motion() -> None:
    rig = Rig()
    rig.to_idle()
    before = rig.desk.collected
    rig.loop.run(200 * 5)
    assert rig.desk.collected - before == 5
    assert rig.loop.late == 0
    rig.to_running()
    before = rig.desk.collected
    rig.loop.run(300)
    assert rig.core.state == RAISING
    assert rig.desk.collected == before


def test_garbage_is_collected_without_the_24_v_too_and_nothing_is_written() -> None:
    rig = Rig()
    rig.to_idle()
    rig.loop.run(200)
    rig.desk.slots[SUPPLY] = supply_reading(0)
    rig.desk.closed = 0
    rig.loop.run(200)
    before = rig.desk.collected
    rig.loop.run(200 * 5)
    assert not rig.core.at_rest()
    assert rig.desk.collected - before == 5


def test_a_collection_in_a_pass_is_no_late_pass() -> None:
    rig = Rig()
    rig.to_idle()
    collect = rig.desk.collect

    def slow() -> None:
        rig.desk.spend(4_500)
        collect()

    rig.desk.collect = slow  # type: ignore[method-assign]
    rig.loop.run(1000)
    assert rig.desk.collected >= 4
    assert rig.loop.late == 0
    assert rig.core.state == IDLE


def test_the_zero_follows_at_rest_only() -> None:
    rig = Rig()
    rig.to_idle()
    rig.desk.code = MIDDLE + 3
    rig.loop.run(REST_TURNS * 4 * 3 + 8)
    followed = rig.loop.meter.state[ZERO] - 8 * MIDDLE
    assert 2 <= followed <= 3
    rig.to_running()
    before = rig.loop.meter.state[ZERO]
    rig.loop.run(50)
    assert rig.loop.meter.state[ZERO] == before


class TrialFile:
    def __init__(self) -> None:
        self.removed: list[str] = []

    def remove(self, name: str) -> None:
        self.removed.append(name)


def test_a_new_program_proves_itself_in_ten_seconds_at_rest() -> None:
    rig = Rig()
    files = TrialFile()
    rig.loop.on_trial(files, "trial")
    rig.loop.run(200 * (TRIAL_RESTS - 1))
    assert files.removed == []
    rig.loop.run(200 * 3)
    assert files.removed == ["trial"]
    rig.loop.run(200 * 20)
    assert files.removed == ["trial"]


def test_the_pulse_pin_parks_where_the_core_says() -> None:
    rig = Rig()
    parked = []
    for _ in range(4):
        rig.to_running()
        levels = set()
        for _ in range(6):
            rig.loop.run(1)
            levels.add(rig.desk.pins[0])
        assert levels == {0, 1}
        rig.let_go()
        rig.loop.run(30)
        level = rig.desk.pins[0]
        parked.append(level)
        for _ in range(20):
            rig.loop.run(1)
            assert rig.desk.pins[0] == level == rig.core.contactors.park_high
        rig.core.stored(rig.core.last_ms)
    assert parked in ([0, 1, 0, 1], [1, 0, 1, 0])


def test_a_request_ends_the_loop_after_its_pass() -> None:
    rig = Rig()
    rig.loop.run(10)
    rig.quiet.request = 2
    assert rig.loop.run(-1) == 2
    assert rig.desk.feeds == rig.desk.beats


def test_a_board_without_a_heartbeat_pin_runs_too() -> None:
    rig = Rig()
    rig.desk.beat = None
    rig.loop.run(10)
    assert rig.desk.feeds == 10
    assert rig.desk.beats == 0


def test_no_number_of_the_loop_leaves_the_board_s_integers(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = Rig(NEAR_WRAP_US)
    desk = rig.desk
    for name in ("ticks_us", "ticks_ms"):
        plain = getattr(desk, name)
        monkeypatch.setattr(desk, name, lambda plain=plain: Bounded(plain()))
    plain_levels = desk.__class__.__getitem__
    monkeypatch.setattr(
        desk.__class__, "__getitem__", lambda self, at: Bounded(plain_levels(self, at))
    )
    desk.slots = [Bounded(desk.slots[0]), Bounded(0xFFF0)]  # type: ignore[assignment]
    rig.loop.supply_full_mv = Bounded(60_000)
    rig.quiet.watch_us = 900
    rig.loop.run(400)
    rig.core.step_us = 6_500
    rig.loop.run(400)
    assert desk.now_us > 1 << 30
    assert rig.loop.late > 100


def test_contacts_and_supply_reach_the_core_as_read() -> None:
    rig = Rig()
    given: list[tuple[int, int]] = []

    def step(now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        given.append((contacts, supply_mv))
        return 1

    rig.core.step = step  # type: ignore[method-assign]
    for bit in range(17):
        rig.desk.closed = 1 << bit
        rig.loop.run(1)
        rig.desk.closed = ALL_CONTACTS & ~(1 << bit)
        rig.loop.run(1)
    assert [row[0] for row in given[0::2]] == [1 << bit for bit in range(17)]
    assert [row[0] for row in given[1::2]] == [ALL_CONTACTS & ~(1 << bit) for bit in range(17)]
    assert {row[1] for row in given} == {24_003}
