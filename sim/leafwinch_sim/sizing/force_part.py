"""Forces on people and on the buffer when something is in the way or a limit fails."""

import math
from dataclasses import dataclass

import numpy as np

from leafwinch_sim.sizing.conditions import Floats
from leafwinch_sim.sizing.drive import line_pull_at_torque
from leafwinch_sim.sizing.force_rules import ForceVerdict, crushed, force_verdict
from leafwinch_sim.sizing.trip_window import TripWindow, least_radius_m
from leafwinch_sim.sizing.worked import Worked

FROM_DEG = 10.0
CLEARLY = (
    "A current trip does not protect people at these forces. What protects them is hold-to-run: "
    "a person who sees the whole deck and the opening, and lets go."
)


@dataclass(frozen=True, slots=True)
class ForcePart:
    """Forces in newtons.

    Attributes:
        closing_n: of the free end against something on the ground, with the current just
            below the trip; closing: against EN 12453.
        closing_angle_deg: where that is worst.
        weight_n: of the folding leaves on something under the mid hinge, gravity alone;
            weight: against EN 12453.
        buffer_trip_n, buffer_stall_n: on the buffer if no limit stops the winch, at the trip
            current and with the motor pulling its hardest.
        gap_mm: from wall hinge to wheel axle once the free end meets the buffer; crushed: what
            of a body does not fit there by ISO 13854.
    """

    closing_n: float
    closing_angle_deg: float
    closing: ForceVerdict
    weight_n: float
    weight: ForceVerdict
    buffer_trip_n: float
    buffer_stall_n: float
    gap_mm: float
    crushed: list[str]


def force_part(worked: Worked, window: TripWindow) -> ForcePart:
    """Work out the forces of a site."""
    site = worked.site
    geometry = worked.geometry
    ends = -geometry.end_rate
    # While the rope lies on the kicker the free end hardly moves, and the force on it is that of
    # a toggle, without bound; what counts is where people could be caught.
    inside = np.zeros(len(ends), dtype=bool)
    inside[worked.up_range()] = True
    inside &= (geometry.bend_rad == 0.0) & (geometry.angle_deg >= FROM_DEG)
    closing = end_force_n(worked, window.line_at_trip_n)
    index = int(np.argmax(np.where(inside, closing, -np.inf)))
    strongest = line_pull_at_torque(
        site, float(worked.stalled_high.breakdown_nm), least_radius_m(geometry)
    )
    place = int(np.searchsorted(geometry.angle_deg, site.buffer.place - 1e-9))
    # Leaf A turns the mid hinge about the wall, so this is gravity's moment over its lever.
    weight = float(geometry.gravity_nm[0]) / site.deck.leaf_a.length
    closing_n = max(0.0, float(closing[index]))
    gap_mm = 1000.0 * float(geometry.free_end_m[place])
    return ForcePart(
        closing_n=closing_n,
        closing_angle_deg=float(geometry.angle_deg[index]),
        closing=force_verdict(closing_n, closing_n),
        weight_n=weight,
        weight=force_verdict(weight, weight),
        buffer_trip_n=max(0.0, float(closing[place])),
        buffer_stall_n=max(0.0, float(end_force_n(worked, strongest)[place])),
        gap_mm=gap_mm,
        crushed=crushed(gap_mm),
    )


def end_force_n(worked: Worked, line_n: float) -> Floats:
    """Return the level force that the free end can press with, without friction, by angle.

    From the balance of work: F |dx| = 2 T |dl| - dE, T being the whole line pull.
    """
    geometry = worked.geometry
    with np.errstate(divide="ignore", invalid="ignore"):
        force = (2.0 * line_n * -geometry.path_rate - geometry.gravity_nm) / -geometry.end_rate
    return np.nan_to_num(force, posinf=math.inf, neginf=-math.inf)
