"""Trend, spread and sudden steps against scipy and statsmodels, and how often they alarm."""

import numpy as np
import pytest
import statsmodels.api as sm  # type: ignore[import-untyped]
from numpy.typing import NDArray
from scipy import stats
from statsmodels.robust.scale import mad  # type: ignore[import-untyped]

from leafwinch_host.upkeep.statistics import (
    LEAST,
    mad_sigma,
    noise_sigma,
    steps,
    trend,
)

Numbers = NDArray[np.float64]


def healthy(seed: int, count: int, spread: float = 0.01, level: float = 1.5) -> Numbers:
    """Return readings around a level, three of them wild, as a person on the deck would make."""
    rng = np.random.default_rng(seed)
    values = level * (1.0 + spread * rng.standard_normal(count))
    values[rng.integers(0, count, 3)] *= 1.1
    return values


def test_the_spread_is_that_of_two_libraries() -> None:
    values = healthy(1, 200)
    assert mad_sigma(values) == pytest.approx(float(mad(values)), rel=1e-4)
    scaled = float(stats.median_abs_deviation(values, scale="normal"))
    assert mad_sigma(values) == pytest.approx(scaled, rel=1e-4)
    assert mad_sigma(values) == pytest.approx(0.015, rel=0.2)
    assert mad_sigma(np.array([])) == 0.0


def test_the_noise_is_not_moved_by_trend_or_step() -> None:
    rng = np.random.default_rng(7)
    noise = rng.standard_normal(2000)
    line = np.linspace(0.0, 30.0, 2000)
    step = np.where(np.arange(2000) < 900, 0.0, 40.0)
    for values in (noise, noise + line, noise + step):
        assert noise_sigma(values) == pytest.approx(1.0, rel=0.06)


@pytest.mark.parametrize("seed", range(12))
def test_the_slope_agrees_with_robust_and_least_squares_regression(seed: int) -> None:
    """Against statsmodels: RLM with Huber's norm on soiled data, OLS on clean data."""
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0.0, 180.0, 80))
    clean = 1.2 + 0.002 * x + 0.01 * rng.standard_normal(80)
    soiled = clean.copy()
    soiled[rng.integers(0, 80, 6)] += 0.5
    for y, model in (
        (clean, sm.OLS(clean, sm.add_constant(x))),
        (soiled, sm.RLM(soiled, sm.add_constant(x), M=sm.robust.norms.HuberT())),
    ):
        fitted = model.fit()
        found = trend(x, y)
        assert found is not None
        assert found.low <= float(fitted.params[1]) <= found.high
        error = float(fitted.bse[1])
        assert abs(found.slope - float(fitted.params[1])) < 3.0 * error
        assert found.low < 0.002 < found.high
        assert found.clear


def test_the_slope_bounds_hold_as_often_as_they_promise() -> None:
    """0.99 is promised (Sen, 1968): at most 6 misses in 200, binomial with p = 0.01, 0.999."""
    rng = np.random.default_rng(3)
    x = np.arange(60.0)
    assert float(stats.binom.cdf(6, 200, 0.01)) > 0.99
    missed = 0
    for _ in range(200):
        found = trend(x, 5.0 - 0.03 * x + 0.2 * rng.standard_normal(60))
        assert found is not None
        missed += not found.low <= -0.03 <= found.high
    assert missed <= 6


def test_few_readings_say_nothing() -> None:
    few = healthy(1, LEAST - 1)
    assert trend(np.arange(few.size, dtype=np.float64), few) is None
    assert steps(few) == ()
    assert trend(np.zeros(20), healthy(1, 20)) is None
    assert steps(np.full(50, 1.5)) == ()


@pytest.mark.parametrize("count", [30, 52, 250])
def test_healthy_series_raise_no_alarm(count: int) -> None:
    """At least 95 of 100 healthy series are left alone, each with three wild readings."""
    alarms = 0
    for seed in range(100):
        values = healthy(seed, count)
        found = trend(np.arange(count, dtype=np.float64), values)
        assert found is not None
        alarms += bool(steps(values)) or found.clear
    assert alarms <= 5


@pytest.mark.parametrize("size", [0.08, 0.18, -0.1])
def test_a_sudden_step_is_found_where_it_is(size: float) -> None:
    found_near = 0
    for seed in range(50):
        count = (52, 250)[seed % 2]
        at = int(count * (0.3 + 0.4 * seed / 50))
        values = healthy(seed, count)
        values[at:] *= 1.0 + size
        found = steps(values)
        near = [step for step in found if abs(step.index - at) <= 3]
        found_near += len(found) == 1 and bool(near)
        for step in near:
            assert step.size == pytest.approx(1.5 * size, abs=0.04)
    assert found_near >= 48


def test_two_steps_are_found() -> None:
    values = healthy(4, 120)
    values[40:] *= 1.1
    values[80:] *= 1.1
    assert [step.index for step in steps(values)] == [40, 80]


def test_a_creeping_rise_is_a_trend_and_no_step() -> None:
    for seed in range(50):
        count = (52, 250)[seed % 2]
        values = healthy(seed, count) * np.linspace(1.0, 1.25, count)
        assert steps(values) == (), seed
        found = trend(np.arange(count, dtype=np.float64), values)
        assert found is not None
        assert found.clear
        assert found.slope * count == pytest.approx(1.5 * 0.25, rel=0.25)


def test_readings_that_only_flicker_between_two_values_have_no_steps() -> None:
    """A time read off lines 20 ms apart: its median deviation is 0 although it is noisy."""
    rng = np.random.default_rng(5)
    values = np.round((0.15 + 0.006 * rng.standard_normal(60)) / 0.02) * 0.02
    assert mad_sigma(values) == 0.0
    assert steps(values, resolution=0.02) == ()
