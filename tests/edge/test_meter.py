"""RMS and signed mean against numpy, through a modelled converter.

The tolerance everywhere: 2 % of the reading and 0.5 % of the range, the accuracy that the
project asks of its meter. The reference is numpy over the continuous waveform.
"""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leafwinch.edge import meter as meter_module
from leafwinch.edge import sampling
from leafwinch.edge.meter import FRESH, TRACK_BELOW, TRACK_LIMIT, ZERO, ZERO_LIMIT, root
from leafwinch.signals import NO_SAMPLE
from tests.edge.waveform import (
    IDEAL,
    RP2040,
    RP2350,
    Converter,
    Rig,
    Samples,
    fresh,
    times,
)
from tests.firmware.test_int_bounds import Bounded

RANGES = (20_000, 200_000, 500_000)
CONVERTERS = (IDEAL, RP2040, RP2350)
Wave = Callable[[Samples], Samples]


def tolerance(value: float, range_ma: int) -> float:
    return 0.02 * abs(value) + 0.005 * range_ma


def sine(range_ma: int, level: float, hertz: float, third: float = 0.0) -> Wave:
    """Return a sine of an amplitude relative to the range, and its third harmonic."""

    def wave(t: Samples) -> Samples:
        w = 2.0 * np.pi * hertz * t
        made: Samples = range_ma * level * (np.sin(w + 0.3) + third * np.sin(3.0 * w + 1.0))
        return made

    return wave


def true_rms(wave: Wave, hertz: float, range_ma: int, offset_code: float = 0.0) -> float:
    """Return numpy's RMS over one period, clipped where the converter ends."""
    cycle = wave(np.linspace(0.0, 1.0 / hertz, 20_000, endpoint=False))
    low = -range_ma * (1.0 + offset_code / 2048.0)
    high = range_ma * (2047.0 - offset_code) / 2048.0
    return float(np.sqrt(np.mean(np.clip(cycle, low, high) ** 2)))


def readings(
    rig: Rig, wave: Wave, converter: Converter, offset: float, jitter_us: float, seed: int
) -> list[int]:
    """Learn the zero, then return the values of half a second once the period is known."""
    rng = np.random.default_rng(seed)
    rig.feed(converter.convert(rig.codes(np.zeros(120), offset), rng))
    assert rig.meter.learn_zero()
    codes = rig.codes(wave(times(0.6, jitter_us, rng)), offset)
    return fresh(rig.play(converter.convert(codes, rng)), 16)


@pytest.mark.parametrize("converter", CONVERTERS, ids=["ideal", "rp2040", "rp2350"])
@pytest.mark.parametrize("range_ma", RANGES)
def test_rms_over_mains_frequencies_levels_harmonics_and_offsets(
    converter: Converter, range_ma: int
) -> None:
    for number, hertz in enumerate((45.0, 47.3, 50.0, 52.1, 57.9, 60.0, 62.2, 65.0)):
        for level in (0.0, 0.005, 0.015, 0.05, 0.24, 0.26, 0.5, 0.76, 0.95):
            third, offset = ((0.0, 0.0), (0.25, 20.0), (0.1, -60.0))[number % 3]
            wave = sine(range_ma, level, hertz, third)
            truth = true_rms(wave, hertz, range_ma, offset)
            found = readings(Rig(0, range_ma), wave, converter, offset, 20.0, number)
            assert len(found) > 90
            worst = max(abs(value - truth) for value in found)
            assert worst <= tolerance(truth, range_ma), (hertz, level, third, offset, truth)


@pytest.mark.parametrize("hertz", [45.0, 50.0, 61.3])
@pytest.mark.parametrize("level", [1.1, 1.5, 4.0])
def test_rms_of_a_clipped_current_is_that_of_the_clipped_signal(hertz: float, level: float) -> None:
    wave = sine(20_000, level, hertz)
    truth = true_rms(wave, hertz, 20_000)
    found = readings(Rig(0, 20_000), wave, RP2040, 0.0, 20.0, 5)
    assert max(abs(value - truth) for value in found) <= tolerance(truth, 20_000)


@pytest.mark.parametrize("hertz", [45.0, 50.0, 60.0, 65.0])
def test_rms_with_samples_that_jitter(hertz: float) -> None:
    wave = sine(20_000, 0.6, hertz)
    truth = true_rms(wave, hertz, 20_000)
    found = readings(Rig(0, 20_000), wave, RP2040, 0.0, 100.0, 8)
    assert max(abs(value - truth) for value in found) <= tolerance(truth, 20_000)


@given(
    hertz=st.floats(45.0, 65.0),
    level=st.floats(0.0, 2.0),
    third=st.floats(0.0, 0.3),
    offset=st.integers(-80, 80),
    range_ma=st.sampled_from(RANGES),
    converter=st.sampled_from(CONVERTERS),
    jitter_us=st.floats(0.0, 50.0),
    seed=st.integers(0, 1000),
)
def test_rms_of_any_such_current(
    hertz: float,
    level: float,
    third: float,
    offset: int,
    range_ma: int,
    converter: Converter,
    jitter_us: float,
    seed: int,
) -> None:
    wave = sine(range_ma, level, hertz, third)
    truth = true_rms(wave, hertz, range_ma, offset)
    found = readings(Rig(0, range_ma), wave, converter, offset, jitter_us, seed)
    assert max(abs(value - truth) for value in found) <= tolerance(truth, range_ma)


@given(
    level=st.floats(-1.0, 1.0),
    ripple=st.floats(0.0, 0.2),
    hertz=st.sampled_from((100.0, 120.0, 300.0, 360.0)) | st.floats(110.0, 450.0),
    offset=st.integers(-80, 80),
    range_ma=st.sampled_from(RANGES),
    converter=st.sampled_from(CONVERTERS),
    seed=st.integers(0, 1000),
)
def test_signed_mean_with_ripple(
    level: float,
    ripple: float,
    hertz: float,
    offset: int,
    range_ma: int,
    converter: Converter,
    seed: int,
) -> None:
    # The mean of a clipped ripple is another one: stay within the converter.
    level *= (1.0 - abs(offset) / 2048.0) / (1.0 + ripple)

    def wave(t: Samples) -> Samples:
        made: Samples = range_ma * level * (1.0 + ripple * np.sin(2.0 * np.pi * hertz * t + 0.7))
        return made

    period = 10.0 / hertz
    truth = float(np.mean(wave(np.linspace(0.0, period, 20_000, endpoint=False))))
    found = readings(Rig(1, range_ma), wave, converter, offset, 20.0, seed)
    assert max(abs(value - truth) for value in found) <= tolerance(truth, range_ma)


def passes_until(found: list[int], reached: Callable[[int], bool]) -> int:
    """Return after how many passes the values have come there, for good."""
    return max((at + 1 for at, value in enumerate(found) if not reached(value)), default=0)


@pytest.mark.parametrize("hertz", [45.0, 50.0, 65.0])
def test_a_step_of_alternating_current_is_seen_within_a_cycle(hertz: float) -> None:
    rng = np.random.default_rng(3)
    for shift in range(20):
        rig = Rig(0, 20_000)
        before = sine(20_000, 0.2, hertz)(times(0.5 + shift / 1000.0))
        after = sine(20_000, 0.8, hertz)(times(0.1) + shift / 700.0)
        rig.play(RP2040.convert(rig.codes(before), rng))
        found = rig.play(RP2040.convert(rig.codes(after), rng))
        truth = 0.8 * 20_000 / math.sqrt(2.0)
        late = passes_until(found, lambda value, truth=truth: abs(value - truth) < 0.05 * truth)  # type: ignore[misc]
        assert late * 5 <= 1000.0 / hertz + 5.0


def test_a_step_of_direct_current_is_seen_within_twenty_milliseconds() -> None:
    rig = Rig(1, 200_000)
    rig.play(IDEAL.convert(rig.codes(np.full(100, 20_000.0)), np.random.default_rng(0)))
    found = rig.play(IDEAL.convert(rig.codes(np.full(100, -150_000.0)), np.random.default_rng(0)))
    assert passes_until(found, lambda value: abs(value + 150_000) < 1000) * 5 <= 20


def test_every_pass_has_a_value_soon_after_a_restart_and_none_without_samples() -> None:
    for signed in (0, 1):
        rig = Rig(signed, 20_000)
        codes = IDEAL.convert(rig.codes(np.zeros(200)), np.random.default_rng(0))
        values = rig.play(codes)
        first = values.index(0)
        assert first * 5 < FRESH <= (first + 1) * 5
        assert NO_SAMPLE not in values[first:]
        assert rig.meter.read() == NO_SAMPLE
        rig.meter.restart()
        assert rig.play(codes[:50]) == [NO_SAMPLE] * first + [0] * (10 - first)


def test_samples_lost_over_a_long_pass_do_not_make_a_period() -> None:
    rig = Rig(0, 20_000)
    wave = sine(20_000, 0.5, 50.0)(times(3.0))
    codes = IDEAL.convert(rig.codes(wave), np.random.default_rng(0))
    rig.play(codes[:500])
    truth = 0.5 * 20_000 / math.sqrt(2.0)
    for lost in (100, 125, 126, 127, 128, 131, 300, 444):
        rig.feed(codes[500 : 500 + lost])
        assert abs(rig.meter.read() - truth) < 0.02 * truth
        found = rig.play(codes[500 + lost : 700 + lost])
        assert max(abs(value - truth) for value in found) < 0.02 * truth


def test_a_current_of_one_sign_is_not_taken_for_an_offset() -> None:
    # Half-wave rectified: RMS = amplitude / 2, mean = amplitude / pi (textbooks, from memory).
    rig = Rig(0, 20_000)
    t = times(0.5)
    wave = 18_000.0 * np.maximum(0.0, np.sin(2.0 * np.pi * 50.0 * t))
    found = fresh(rig.play(IDEAL.convert(rig.codes(wave), np.random.default_rng(0))), 8)
    assert max(abs(value - 9_000.0) for value in found) <= tolerance(9_000.0, 20_000)


def test_a_drift_of_the_zero_while_running_is_taken_off() -> None:
    rig = Rig(0, 20_000)
    wave = sine(20_000, 0.02, 50.0)(times(0.5))
    for drift in (-30.0, 30.0):
        codes = IDEAL.convert(rig.codes(wave, drift), np.random.default_rng(0))
        found = fresh(rig.play(codes), 8)
        truth = 0.02 * 20_000 / math.sqrt(2.0)
        assert max(abs(value - truth) for value in found) <= 0.05 * truth


def test_the_zero_is_learned_within_its_limits_only() -> None:
    for offset in (-2048, -ZERO_LIMIT - 1, -ZERO_LIMIT, 0, ZERO_LIMIT, ZERO_LIMIT + 1, 2047):
        rig = Rig(1, 20_000)
        rig.feed(np.full(128, 2048 + offset, dtype=np.int64))
        learned = rig.meter.learn_zero()
        assert learned == (abs(offset) <= ZERO_LIMIT)
        assert rig.meter.state[ZERO] == 8 * (2048 + (offset if learned else 0))


@pytest.mark.parametrize("signed", [0, 1])
@pytest.mark.parametrize("sign", [-1, 1])
def test_the_zero_follows_slowly_and_not_far(signed: int, sign: int) -> None:
    rig = Rig(signed, 20_000)
    rig.feed(np.full(128, 2048, dtype=np.int64))
    assert rig.meter.learn_zero()
    rig.meter.track_zero()
    for step in range(400):
        off = min(sign * (step // 8), 3 * TRACK_LIMIT, key=abs)
        rig.play(np.full(30, 2048 + off, dtype=np.int64))
        before = rig.meter.state[ZERO]
        rig.meter.track_zero()
        assert abs(rig.meter.state[ZERO] - before) <= 1
    assert rig.meter.state[ZERO] == 8 * (2048 + sign * TRACK_LIMIT)
    # A reading that came at once is a current and not a zero that drifted.
    rig = Rig(signed, 20_000)
    rig.play(np.full(100, 2048 + sign * (TRACK_BELOW + 1), dtype=np.int64))
    rig.meter.track_zero()
    assert rig.meter.state[ZERO] == 8 * 2048


@given(st.integers(0, (1 << 30) - 1))
def test_root_is_the_integer_square_root(value: int) -> None:
    assert root(value) == math.isqrt(value)


@pytest.mark.parametrize("signed", [0, 1])
@pytest.mark.parametrize("range_ma", [1000, 16_384, 32_767, 200_000, 1_000_000])
def test_no_number_leaves_the_board_s_integers(
    monkeypatch: pytest.MonkeyPatch, signed: int, range_ma: int
) -> None:
    monkeypatch.setattr(meter_module, "int", Bounded, raising=False)
    rng = np.random.default_rng(2)
    for zero in (2048 - ZERO_LIMIT, 2048 + ZERO_LIMIT):
        for low, high in ((0, 4095), (0, 0), (4095, 4095), (1800, 2300)):
            rig = Rig(signed, range_ma)
            rig.meter.gain = Bounded(rig.meter.gain)
            rig.feed(np.full(100, zero, dtype=np.int64))
            assert rig.meter.learn_zero()
            square = np.where(np.arange(400) // 11 % 2, high, low)
            noise = rng.integers(low, high + 1, 400)
            for codes in (square, noise):
                values = fresh(rig.play(codes.astype(np.int64)))
                assert max(abs(value) for value in values) <= range_ma * 1.05


def test_what_fast_functions_repeat_is_the_same() -> None:
    assert meter_module.RING_MASK == sampling.RING - 1
    assert meter_module.COUNT_MASK == sampling.COUNT_MASK
