"""Current rules near their limits: trip, inrush, envelope by bucket, direction, missing."""

import pytest

from leafwinch.controller import Controller
from leafwinch.current import Current
from leafwinch.faults import CURRENT_TRIP, JAM, NO_FAULT, UNDERLOAD
from leafwinch.numbers import LOWER, RAISE
from leafwinch.settings import BUCKETS
from leafwinch.settings_schema import settings_from
from tests.firmware.drive import Drive
from tests.firmware.scenarios_faults import DOWN, QUICK, READY, UP, quick

TICK_MS = 5


def tripped_after_ms(current: Current, way: int, value: int, run_ms: int, bucket: int) -> int:
    """Return the energised time to any fault, or -1 within 1.5 s."""
    for ms in range(TICK_MS, 1500, TICK_MS):
        current.sample(TICK_MS, value)
        if current.energised(TICK_MS, way, run_ms, bucket):
            return ms
    return -1


@pytest.mark.parametrize(("value", "ms"), [(9000, -1), (9001, 60), (-9001, 60), (500000, 60)])
def test_running_trip(value: int, ms: int) -> None:
    current = Current(settings_from({"missing_raise_ma": 0}))
    current.blocked_ms = 0
    assert tripped_after_ms(current, RAISE, value, 401, -1) == ms


@pytest.mark.parametrize(("value", "ms"), [(25000, -1), (25001, 60)])
def test_inrush_trip(value: int, ms: int) -> None:
    current = Current(settings_from({}))
    current.blocked_ms = 0
    assert tripped_after_ms(current, RAISE, value, 400, -1) == ms


def test_trip_time_starts_again_below_the_level() -> None:
    current = Current(settings_from({}))
    current.blocked_ms = 0
    for _ in range(20):
        for value in (9500,) * 11 + (8900,):
            current.sample(TICK_MS, value)
            assert current.energised(TICK_MS, RAISE, 500, -1) != CURRENT_TRIP


def learned(**changes: int) -> Current:
    """Return the rules with an envelope that rises from bucket to bucket."""
    settings = settings_from({"envelope_learned": 1, "missing_lower_ma": 0, **changes})
    for bucket in range(BUCKETS):
        settings.raise_low_ma[bucket] = 3000 + 100 * bucket
        settings.raise_high_ma[bucket] = 4000 + 100 * bucket
        settings.lower_low_ma[bucket] = 1500 + 50 * bucket
        settings.lower_high_ma[bucket] = 2000 + 50 * bucket
    current = Current(settings)
    current.blocked_ms = 0
    return current


@pytest.mark.parametrize("bucket", [0, 7, 15])
@pytest.mark.parametrize(
    ("way", "low", "high", "step"), [(RAISE, 3000, 4000, 100), (LOWER, 1500, 2000, 50)]
)
def test_envelope_by_bucket(way: int, low: int, high: int, step: int, bucket: int) -> None:
    low += step * bucket - 1000
    high += step * bucket + 1500
    for value, ms, fault in (
        (high, -1, NO_FAULT),
        (high + 1, 200, JAM),
        (low, -1, NO_FAULT),
        (low - 1, 400, UNDERLOAD),
    ):
        current = learned()
        assert tripped_after_ms(current, way, value, 500, bucket) == ms, value
        assert current.energised(TICK_MS, way, 500, bucket) == fault


@pytest.mark.parametrize(("way", "low", "high"), [(RAISE, 3000, 5500), (LOWER, 1500, 2750)])
def test_unknown_position_takes_the_extremes_of_all_buckets(way: int, low: int, high: int) -> None:
    assert tripped_after_ms(learned(), way, high + 1500, 500, -1) == -1
    assert tripped_after_ms(learned(), way, high + 1501, 500, -1) == 200
    assert tripped_after_ms(learned(), way, low - 1000, 500, -1) == -1
    assert tripped_after_ms(learned(), way, low - 1001, 500, -1) == 400


def test_envelope_is_judged_only_once_learned_and_after_the_inrush() -> None:
    assert tripped_after_ms(learned(envelope_learned=0), RAISE, 7000, 500, 0) == -1
    assert tripped_after_ms(learned(), RAISE, 7000, 400, 0) == -1


def test_signed_current_by_direction() -> None:
    # Lowering draws current of the other sign; braking by a load is allowed unless the
    # drive always has to push.
    signed = quick(current_signed=1)
    Drive(signed).play(DOWN.replace("ask lower", "amps -5000; ask lower") + "run 1000; fault: none")
    overhauled = quick(current_signed=1, lower_drives=0, missing_lower_ma=0)
    Drive(overhauled).play(DOWN + "run 1000; fault: none")
    Drive(signed).play(UP + "amps -1900; run 150; fault: none")


def test_missing_current_that_is_not_judged() -> None:
    values = quick(missing_raise_ma=0)
    Drive(values).play(UP + "amps 0; run 1000; state: raising")


def test_power_up_counts_the_longest_unseen_travel() -> None:
    # One more second of budget either way must count the same.
    raised = Controller(settings_from(quick(budget_raise_ms=60000)))
    lowered = Controller(settings_from(quick(budget_lower_ms=60000)))
    short = Controller(settings_from(QUICK))
    assert raised.thermal.unseen_rise == lowered.thermal.unseen_rise
    assert raised.thermal.unseen_rise > 10 * short.thermal.unseen_rise


def test_bucket_follows_the_travel() -> None:
    drive = Drive(QUICK)
    drive.play(READY)
    core = drive.core
    assert isinstance(core, Controller)
    buckets = []
    drive.play("ask raise; run 400; at middle")
    for _ in range(40):
        drive.run(100)
        buckets.append(core.budget.bucket(RAISE))
    assert buckets == sorted(buckets)
    assert set(buckets) == set(range(BUCKETS))
    before = core.budget.bucket(LOWER)
    assert 0 <= before < BUCKETS
    drive.play("run 800; ask nothing; run 500; power_up 0; run 300")
    again = drive.core
    assert isinstance(again, Controller)
    assert again.budget.bucket(RAISE) == -1
