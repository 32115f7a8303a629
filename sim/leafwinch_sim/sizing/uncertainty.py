"""What is not known exactly: bands of the results over the healthy spread, and what matters most.

Friction, mass, supply, gear efficiency and cold drag are drawn together by scrambled Sobol
sequences; the shares are first-order and total Sobol indices (Saltelli's estimators, as in SciPy).
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.stats import qmc, sobol_indices, uniform

from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.conditions import NAMES, RANGES, Conditions, Floats, from_columns
from leafwinch_sim.sizing.drive import drive_of, stall
from leafwinch_sim.sizing.statics import (
    Geometry,
    angles_of,
    end_angles_deg,
    geometry_of,
    tension_of,
)

DRAWS_LOG2 = 8  # 256 draws for the bands
SHARE_DRAWS = 64  # for the shares, seven times as many evaluations
COARSE_DEG = 2.0  # is fine enough here
LOW, HIGH = 0.05, 0.95


@dataclass(frozen=True, slots=True)
class Band:
    """One result over all draws: its 5 %, 50 % and 95 % quantiles, extremes, what matters.

    Attributes:
        key, words, unit: what it is.
        low, middle, high: 5 %, 50 % and 95 %.
        least, greatest: of all draws.
        shares: for each input its part of the variance, with interactions (total index).
    """

    key: str
    words: str
    unit: str
    low: float
    middle: float
    high: float
    least: float
    greatest: float
    shares: dict[str, float]

    @property
    def matters_most(self) -> str:
        """The input with the greatest share."""
        return max(self.shares, key=lambda name: self.shares[name])


RESULTS = (
    ("peak_rope_n", "greatest line pull", "N"),
    ("peak_current_a", "greatest running current", "A"),
    ("raise_s", "time to raise", "s"),
    ("start_reserve", "starting torque over what the start needs", ""),
    ("slack_angle_deg", "angle from which it does not come down", "deg"),
)


def results_of(site: Site, geometry: Geometry, conditions: Conditions) -> dict[str, Floats]:
    """Return the uncertain results of each draw."""
    tension = tension_of(site, geometry, conditions)
    drive = drive_of(site, geometry, tension, conditions)
    top = end_angles_deg(site)[1]
    inside = geometry.angle_deg <= top + 1e-9
    standing = stall(site, conditions.supply)
    need = np.max(np.atleast_2d(drive.up.torque_nm)[:, inside], axis=1)
    amps = np.max(np.atleast_2d(np.abs(drive.up.current_a))[:, inside], axis=1)
    surplus = np.atleast_2d(tension.surplus_nm)
    return {
        "peak_rope_n": np.max(np.atleast_2d(tension.raise_n)[:, inside], axis=1),
        "peak_current_a": amps,
        "raise_s": np.atleast_1d(drive.raising.seconds),
        "start_reserve": np.ravel(standing.pull_up_nm) / need,
        "slack_angle_deg": _crossings(geometry.angle_deg, surplus),
    }


def _crossings(angle_deg: Floats, surplus: Floats) -> Floats:
    """Return for each row the first angle at which the surplus is gone, the last where never."""
    found = np.empty(len(surplus))
    for row, values in enumerate(surplus):
        gone = np.nonzero(values <= 0.0)[0]
        if len(gone) == 0:
            found[row] = angle_deg[-1]
        elif gone[0] == 0:
            found[row] = angle_deg[0]
        else:
            index = int(gone[0])
            part = values[index - 1] / (values[index - 1] - values[index])
            found[row] = angle_deg[index - 1] + part * (angle_deg[index] - angle_deg[index - 1])
    return found


def bands(site: Site, seed: int = 1) -> list[Band]:
    """Return the band of every uncertain result; the same seed gives the same bands.

    Results that are infinite in some draw, where the motor stalls, are counted as they are in
    the quantiles and leave no shares.
    """
    geometry = geometry_of(site, angles_of(site, COARSE_DEG))
    unit = qmc.Sobol(len(NAMES), rng=np.random.default_rng(seed)).random_base2(DRAWS_LOG2)
    lows, highs = np.array(RANGES).T
    drawn = results_of(site, geometry, from_columns(qmc.scale(unit, lows, highs)))
    shares = _shares(site, geometry, seed)
    found = []
    for key, words, unit_name in RESULTS:
        values = np.sort(drawn[key])
        found.append(
            Band(
                key,
                words,
                unit_name,
                low=_quantile(values, LOW),
                middle=_quantile(values, 0.5),
                high=_quantile(values, HIGH),
                least=float(values[0]),
                greatest=float(values[-1]),
                shares=shares[key],
            )
        )
    return found


def _quantile(ascending: Floats, share: float) -> float:
    """Return the value that this share of all does not exceed, without making infinities NaN."""
    return float(ascending[min(len(ascending) - 1, math.ceil(share * len(ascending)) - 1)])


def _shares(site: Site, geometry: Geometry, seed: int) -> dict[str, dict[str, float]]:
    def evaluate(x: Floats) -> Floats:
        drawn = results_of(site, geometry, from_columns(x.T))
        rows = np.array([drawn[key] for key, _, _ in RESULTS])
        # A stalled motor takes forever; a long time stands for it, so that shares exist.
        return np.asarray(np.nan_to_num(rows, posinf=1e6, neginf=-1e6), dtype=np.float64)

    distributions: list[Any] = [uniform(low, high - low) for low, high in RANGES]
    with np.errstate(divide="ignore", invalid="ignore"):
        found = sobol_indices(
            func=evaluate,
            n=SHARE_DRAWS,
            dists=distributions,
            rng=np.random.default_rng(seed),
        )
    total = np.nan_to_num(np.clip(np.atleast_2d(found.total_order), 0.0, None))
    return {
        key: {name: float(total[row, column]) for column, name in enumerate(NAMES)}
        for row, (key, _, _) in enumerate(RESULTS)
    }
