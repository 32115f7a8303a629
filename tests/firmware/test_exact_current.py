"""The current to the millisecond: stalled, at rest, missing, wrong way, blocked."""

from collections.abc import Callable

import pytest

from leafwinch.current import Current
from leafwinch.faults import (
    BLOCKED,
    CURRENT_AT_REST,
    CURRENT_MISSING,
    CURRENT_TRIP,
    CURRENT_WRONG_WAY,
    NO_FAULT,
    SAMPLES_STALLED,
)
from leafwinch.numbers import LOWER, RAISE
from leafwinch.settings_schema import settings_from
from leafwinch.signals import (
    NO_SAMPLE,
)
from tests.firmware.exact import first_ms


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
    assert Current(settings_from({"inrush_ms": 1801})).blocked_ms == 0


def test_times_stop_growing_in_passes_of_any_length() -> None:
    values = {"current_signed": 1, "envelope_learned": 1, "trip_ms": 60, "missing_raise_ma": 0}
    # (current in mA, time that grows, where it stops)
    for amps, name, most in (
        (10_000, "over_ms", 60),
        (-3000, "wrong_ms", 100),
        (7000, "jam_ms", 200),
        (-1500, "under_ms", 400),
        (5000, "band_ms", 63),
        (8500, "blocked_ms", 2002),
    ):
        current = Current(settings_from(values))
        current.blocked_ms = 0
        current.sample(7, amps)
        for _ in range(1000):
            current.energised(7, RAISE, 500, -1)
        assert getattr(current, name) == most, name
        current.at_rest(7)
        if name != "blocked_ms":
            assert getattr(current, name) == 0, name
    current = Current(settings_from({}))
    current.sample(7, 100)
    for _ in range(1000):
        current.energised(7, RAISE, 500, -1)
    assert current.missing_ms == 200
    current.sample(7, 900)
    for _ in range(1000):
        current.at_rest(7)
    assert (current.rest_ms, current.rest_over_ms, current.missing_ms) == (504, 203, 0)
    for _ in range(1000):
        current.sample(7, NO_SAMPLE)
    assert current.stalled_ms == 63


def test_the_running_band_must_be_kept_without_a_break() -> None:
    current = Current(settings_from({}))
    current.blocked_ms = 500
    for amps, ms, blocked_ms in ((5000, 60, 560), (8500, 1, 561), (5000, 60, 621), (5000, 1, 0)):
        current.sample(1, amps)
        for _ in range(ms):
            current.energised(1, RAISE, 0, -1)
        assert current.blocked_ms == blocked_ms


def test_the_times_of_the_envelope_start_again() -> None:
    for amps, ms in ((7000, 200), (-1500, 400)):
        current = Current(settings_from({"envelope_learned": 1, "missing_raise_ma": 0}))
        for _ in range(2):
            current.sample(1, amps)
            for _ in range(ms - 1):
                current.blocked_ms = 0
                assert current.energised(1, RAISE, 500, -1) == NO_FAULT
            current.sample(1, 0)
            current.energised(1, RAISE, 500, -1)
            assert (current.jam_ms, current.under_ms) == (0, 0)


def test_what_is_forgotten_after_a_lost_supply() -> None:
    current = Current(settings_from({}))
    for name in Current.FIELDS:
        setattr(current, name, 1)
    current.forget()
    forgotten = {name for name in Current.FIELDS if not getattr(current, name)}
    assert forgotten == {"rest_ms", "rest_over_ms", "stalled_ms"}


def test_a_missing_current_is_named_before_the_blocked_motor() -> None:
    current = Current(settings_from({}))
    current.blocked_ms = 2000
    current.sample(1, 100)
    found = [current.energised(1, RAISE, 500, -1) for _ in range(201)]
    assert found == [BLOCKED] * 199 + [CURRENT_MISSING] * 2


def test_a_value_at_the_limit_ends_the_proof_of_a_missing_current() -> None:
    current = Current(settings_from({}))
    for value, passes in ((499, 199), (500, 1), (499, 199), (500, 1)):
        current.sample(1, value)
        for _ in range(passes):
            assert current.energised(1, RAISE, 500, -1) == NO_FAULT
    assert current.missing_ms == 0


@pytest.mark.parametrize(("run_ms", "trips"), [(0, False), (399, False), (400, False), (401, True)])
def test_the_inrush_level_applies_until_its_time_is_over(run_ms: int, trips: bool) -> None:
    step = running({"trip_ms": 5}, RAISE, 20_000, run_ms)
    found = [step() == CURRENT_TRIP for _ in range(10)]
    assert found == [False] * 4 + [trips] * 6


@pytest.mark.parametrize("bucket", [-1, 16, 17])
def test_a_place_outside_the_travel_takes_the_extremes_of_the_envelope(bucket: int) -> None:
    settings = settings_from({"envelope_learned": 1, "jam_margin_ma": 0})
    settings.raise_high_ma[3] = 6000
    settings.lower_high_ma[5] = 5000
    for way, high in ((RAISE, 6000), (LOWER, 5000)):
        for amps, jam_ms in ((high, 0), (high + 1, 1)):
            current = Current(settings)
            current.sample(1, amps)
            current.energised(1, way, 500, bucket)
            assert current.jam_ms == jam_ms
