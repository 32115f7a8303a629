"""Between which currents the trip must lie: above every healthy one, below stall and breakage."""

import math
from dataclasses import dataclass

import numpy as np

from leafwinch_sim.plant_parts import rope_of
from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.drive import (
    current_at_torque,
    line_pull_at_torque,
    stall,
    torque_at_current,
    torque_at_line_pull,
)
from leafwinch_sim.sizing.statics import Geometry
from leafwinch_sim.sizing.worked import Worked
from leafwinch_sim.spread import SUPPLY

READING_ERROR = 0.02  # of the reading, and
RANGE_ERROR = 0.005  # of the sensor's range
ROPE_SHARE = 0.5  # of the breaking force with its end fittings: no jam may reach more
STALL_SHARE = 0.85  # of the least stall current, so that a stall always trips
UNDETECTED = math.inf


@dataclass(frozen=True, slots=True)
class Bearer:
    """What must bear the pull of a jammed winch: the line pull in newtons that it stands."""

    words: str
    line_n: float


@dataclass(frozen=True, slots=True)
class TripWindow:
    """Bounds in amperes; empty where low is not below high.

    Attributes:
        low_a: highest healthy current, with the errors of its measurement.
        stall_a: least stall current, less its margin.
        strength_a: current at which the weakest part has all that it bears; infinite where
            the motor can't reach that.
        weakest: that part.
        chosen_a: the trip, 0 where the window is empty.
        line_at_trip_n: greatest line pull with that current.
    """

    low_a: float
    stall_a: float
    strength_a: float
    weakest: Bearer
    chosen_a: float
    line_at_trip_n: float

    @property
    def high_a(self) -> float:
        """The upper bound."""
        return min(self.stall_a, self.strength_a)

    @property
    def open(self) -> bool:
        """Whether there is room for a trip."""
        return self.low_a < self.high_a


def bearers(site: Site) -> list[Bearer]:
    """Return what bears the line pull, each with the pull it stands, weakest first."""
    raising = rope_of(site).raising_factor
    rope = site.rope
    strength = site.strength
    found = [Bearer("the rope", rope.breaking_force * rope.end_strength * ROPE_SHARE)]
    for words, force, parts in (
        ("the rope's anchor", strength.anchor, 1.0),
        ("the free end of leaf B", strength.free_end, 2.0),
        ("the wall hinge", strength.hinge, 2.0),
    ):
        if force is not None:
            # The mean of the two parts is the line pull less the sheaves' losses.
            found.append(Bearer(words, force / parts * raising))
    return sorted(found, key=lambda bearer: bearer.line_n)


def trip_window(worked: Worked, sensor_range_a: float) -> TripWindow:
    """Return the window of a site for a sensor of this range in amperes."""
    site = worked.site
    low = worked.highest_running_a() * (1.0 + READING_ERROR) + RANGE_ERROR * sensor_range_a
    stall_a = float(worked.stalled_low.current_a) * STALL_SHARE
    weakest = bearers(site)[0]
    radius = least_radius_m(worked.geometry)
    strength = current_at_line_pull(site, weakest.line_n, radius)
    high = min(stall_a, strength)
    chosen = math.sqrt(low * high) if low < high else 0.0
    return TripWindow(
        low_a=low,
        stall_a=stall_a,
        strength_a=strength,
        weakest=weakest,
        chosen_a=chosen,
        line_at_trip_n=line_pull_at_current(site, chosen, radius),
    )


def least_radius_m(geometry: Geometry) -> float:
    """Return the least radius of rope on the drum during the travel, where it pulls hardest."""
    return float(np.min(geometry.radius_m))


def line_pull_at_current(site: Site, current_a: float, radius_m: float) -> float:
    """Return the greatest line pull in newtons of a slow winch with this current."""
    torque = max(torque_at_current(site, current_a, supply) for supply in (*SUPPLY, 1.0))
    return line_pull_at_torque(site, torque, radius_m)


def current_at_line_pull(site: Site, line_n: float, radius_m: float) -> float:
    """Return the current at which a running winch pulls this hard; infinite where it can't."""
    torque = torque_at_line_pull(site, line_n, radius_m)
    if torque >= max(float(stall(site, supply).breakdown_nm) for supply in SUPPLY):
        return UNDETECTED
    return min(current_at_torque(site, torque, supply) for supply in SUPPLY)
