"""Robust statistics of one series: level, spread, trend and sudden steps.

Sources: median and MAD: P. J. Huber, Robust Statistics (1981), the factor 1.4826 makes the MAD of a
normal distribution its standard deviation. Trend: H. Theil (1950) and P. K. Sen (1968), the median
of all slopes between two points, with Sen's confidence interval, as in scipy. Steps: PELT, R.
Killick, P. Fearnhead, I. A. Eckley (2012), as in ruptures, each judged again by medians.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import theilslopes

Numbers = NDArray[np.float64]

MAD_TO_SIGMA = 1.4826  # of a normal distribution
MEDIAN_ERROR = math.sqrt(math.pi / 2)  # standard error of a median over that of a mean
CONFIDENCE = 0.99  # several series are looked at each time: 0.95 would alarm too often
LEAST = 12  # points, below which nothing is said about trend or steps (common practice, no source)
SHORTEST = 5  # points between two steps: fewer are outliers, not a new level
WINDOW = 20  # points on each side by which a step is judged
CLEAR = 5.0  # standard errors that a step must measure
RELEVANT_STEP = 0.03  # of the level: smaller ones matter to nobody (common practice, no source)
RELEVANT_DRIFT = 0.03  # of the level over the whole series, likewise
CLIPPED = 8.0  # standard deviations at which one wild reading is cut before the search
PENALTY = 3.0  # times ln n, in variances; 2 is Schwarz's criterion for a place and a level


@dataclass(frozen=True, slots=True)
class Trend:
    """Theil-Sen line y = at_zero + slope x, and the bounds of its slope with CONFIDENCE.

    `clear`: the bounds leave 0 out and the drift over the series is RELEVANT_DRIFT or more.
    """

    slope: float
    low: float
    high: float
    at_zero: float
    clear: bool


@dataclass(frozen=True, slots=True)
class Step:
    """A sudden change: index of the first point after it, its size and its standard errors."""

    index: int
    size: float
    errors: float


def mad_sigma(values: Numbers) -> float:
    """Return the standard deviation by the median absolute deviation; 0 for an empty series."""
    if values.size == 0:
        return 0.0
    return float(MAD_TO_SIGMA * np.median(np.abs(values - np.median(values))))


def noise_sigma(values: Numbers) -> float:
    """Return the standard deviation from reading to reading, whatever trend or steps there are.

    By the median absolute difference of neighbours, which one step or outlier can't move.
    """
    if values.size < 2:
        return 0.0
    return float(MAD_TO_SIGMA * np.median(np.abs(np.diff(values))) / math.sqrt(2.0))


def trend(x: Numbers, y: Numbers) -> Trend | None:
    """Return the trend of y over x; None below LEAST points or where x does not change."""
    if y.size < LEAST or float(np.ptp(x)) <= 0.0:
        return None
    found = theilslopes(y, x, alpha=CONFIDENCE, method="separate")
    slope, low, high = (float(found[i]) for i in (0, 2, 3))
    level = float(np.median(y))
    relevant = abs(slope) * float(np.ptp(x)) >= RELEVANT_DRIFT * abs(level)
    return Trend(slope, low, high, float(found[1]), bool((low > 0.0 or high < 0.0) and relevant))


def steps(values: Numbers, resolution: float = 0.0) -> tuple[Step, ...]:
    """Return the sudden changes of a series, in order; a drift or single outliers are none.

    Candidates come from PELT on the scaled series. Each is then measured as the difference of both
    sides at that place with a common slope, the clearest first, so that a drift, which PELT cuts
    into stairs, has none.

    Args:
        values: the readings in order.
        resolution: smallest difference that they can show; no noise is taken for less.
    """
    if values.size < LEAST:
        return ()
    sigma = max(noise_sigma(values), resolution)
    if sigma <= 0.0:
        sigma = max(1e-9, 1e-3 * abs(float(np.median(values))))
    candidates = _candidates(values, sigma)
    bounds = [0, int(values.size)]
    found: list[Step] = []
    while candidates:
        judged = [_judged(values, sigma, index, bounds) for index in candidates]
        best = max(judged, key=lambda step: step.errors)
        level = RELEVANT_STEP * abs(float(np.median(values)))
        if best.errors < CLEAR or abs(best.size) < level:
            break
        found.append(best)
        bounds = sorted([*bounds, best.index])
        candidates = [
            index for index in candidates if all(abs(index - b) >= SHORTEST for b in bounds)
        ]
    return tuple(sorted(found, key=lambda step: step.index))


def _candidates(values: Numbers, sigma: float) -> list[int]:
    from ruptures import KernelCPD  # slow to load

    scaled = np.clip((values - np.median(values)) / sigma, -CLIPPED, CLIPPED)
    penalty = PENALTY * math.log(values.size)
    ends = KernelCPD(kernel="linear", min_size=SHORTEST).fit(scaled).predict(pen=penalty)
    return [int(end) for end in ends[:-1]]


def _judged(values: Numbers, sigma: float, index: int, bounds: list[int]) -> Step:
    """Measure a step as in an analysis of covariance: two levels, one slope, both robust."""
    first = max(max(b for b in bounds if b <= index), index - WINDOW)
    end = min(min(b for b in bounds if b > index), index + WINDOW)
    left, right = values[first:index], values[index:end]
    if min(left.size, right.size) < SHORTEST:
        return Step(index, 0.0, 0.0)
    left_x = np.arange(first - index, 0, dtype=np.float64) + 0.5
    right_x = np.arange(0, end - index, dtype=np.float64) + 0.5
    slopes = np.concatenate([_slopes(left_x, left), _slopes(right_x, right)])
    slope = float(np.median(slopes))
    size = float(np.median(right - slope * right_x) - np.median(left - slope * left_x))
    apart = float(right_x.mean() - left_x.mean())
    squares = float(left_x.var() * left.size + right_x.var() * right.size)
    variance = 1.0 / left.size + 1.0 / right.size + apart * apart / squares
    error = MEDIAN_ERROR * sigma * math.sqrt(variance)
    return Step(index, size, abs(size) / error)


def _slopes(x: Numbers, y: Numbers) -> Numbers:
    i, j = np.triu_indices(x.size, 1)
    return np.asarray((y[j] - y[i]) / (x[j] - x[i]), dtype=np.float64)
