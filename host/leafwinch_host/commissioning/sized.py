"""What sizing says of measurements with voltmeter and scale: supply at a start, rope pull."""

import math
from dataclasses import dataclass

import numpy as np

from leafwinch_host.commissioning.table import Context
from leafwinch_sim.mechanism import GRAVITY
from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.conditions import Conditions
from leafwinch_sim.sizing.drive import sag_per_a
from leafwinch_sim.sizing.statics import end_angles_deg, geometry_of, tension_of
from leafwinch_sim.spread import FRICTION, MASS, SUPPLY

PULL_SHARE = 0.63  # of the angle of the top end: there friction shows best; own choice
PULL_STEP_DEG = 5.0
SCALE_SHARE = 0.02  # a hanging scale is off by so much; common practice, no source
SCALE_N = 1.0  # and by half of its last digit; common practice, no source


def rest_band_v(context: Context) -> tuple[float, float]:
    """Return lowest and highest sound supply voltage without load, in V: what sizing reckons with.

    IEC 60038 allows mains 10 % either way (from memory); a battery is held to the same.
    """
    nominal = context.site.supply.voltage
    return round(SUPPLY[0] * nominal, 1), round(SUPPLY[1] * nominal, 1)


def start_least_v(context: Context) -> float:
    """Return the lowest sound voltage at the motor while it starts, in V.

    It is the lowest supply that sizing reckons with, less what the greatest starting current
    takes in the resistance of mains and cable. That current is worked out for the highest
    supply, and is less in proportion on the lowest.
    """
    site = context.site
    start_a = context.worked.starting.peak_a * SUPPLY[0] / SUPPLY[1]
    return round(site.supply.voltage * SUPPLY[0] * (1.0 - sag_per_a(site) * start_a), 1)


def pull_deg(site: Site) -> float:
    """Return the angle of the wall leaf, in degrees, at which the rope's pull is compared."""
    top = end_angles_deg(site)[1]
    return round(PULL_SHARE * top / PULL_STEP_DEG) * PULL_STEP_DEG


def greatest_pull_kg(context: Context) -> float:
    """Return the mass, in kg, whose weight is the greatest pull of the rope in all that is sized.

    The jerk of a start is part of it.
    """
    return context.worked.starting.peak_line_n / GRAVITY


@dataclass(frozen=True, slots=True)
class Pull:
    """Pull at the rope's fixed end, in N: while raising, and the lowering one as a share of it."""

    raise_n: float
    share: float


def pull(context: Context, friction: float = 1.0, mass: float = 1.0) -> Pull:
    """Return the pull at the rope's fixed end while the deck passes `pull_deg`.

    friction, mass: factors on the site's. The moving sheave, with factor K between its two
    parts, leaves 2 / (1 + K) of their mean at the fixed end while raising and 2 K / (1 + K)
    while lowering (see `leafwinch_sim.rope`).
    """
    site = context.site
    geometry = geometry_of(site, np.array([pull_deg(site)]))
    tension = tension_of(site, geometry, Conditions(friction=friction, mass=mass))
    factor = 1.0 + (site.rope.sheave_factor - 1.0) * friction
    up = float(tension.raise_mean_n[0]) * 2.0 / (1.0 + factor)
    down = float(tension.lower_mean_n[0]) * 2.0 * factor / (1.0 + factor)
    return Pull(up, down / up)


def raise_band_n(context: Context) -> tuple[float, float]:
    """Return lowest and highest sound pull at the rope's fixed end while raising, in N."""
    low = pull(context, FRICTION[0], MASS[0]).raise_n
    high = pull(context, FRICTION[1], MASS[1]).raise_n
    return (
        math.floor((1.0 - SCALE_SHARE) * low - SCALE_N),
        math.ceil((1.0 + SCALE_SHARE) * high + SCALE_N),
    )


def lower_band_n(context: Context, raise_n: float) -> tuple[float, float]:
    """Return lowest and highest sound pull while lowering, in N, after `raise_n` while raising.

    Boards that are heavier than the site says change both alike; friction parts them.
    """
    low = pull(context, FRICTION[1]).share
    high = pull(context, FRICTION[0]).share
    return (
        round((1.0 - SCALE_SHARE) * low * raise_n - SCALE_N, 1),
        round((1.0 + SCALE_SHARE) * high * raise_n + SCALE_N, 1),
    )
