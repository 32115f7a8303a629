"""How far the deck falls when a defect lets it move with everything switched off."""

import math
from dataclasses import dataclass

from leafwinch_sim.plant import Plant
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.site_schema import Site

_LONGEST_MS = 30_000
_SETTLED_MS = 200


@dataclass(frozen=True, slots=True)
class Drop:
    """Motion after a defect, from rest with everything off.

    Attributes:
        fall_m: greatest fall of the mid hinge, below zero if it only rose.
        fastest_m_per_s: greatest speed of the mid hinge.
        seconds: time until everything rests again, or 30 s.
        buffer_n: greatest force on the buffer at the wall.
    """

    fall_m: float
    fastest_m_per_s: float
    seconds: float
    buffer_n: float


def drop_after(site: Site, defect: PlantDefect, angle_deg: float | None = None) -> Drop:
    """Return what the deck does when the defect comes at an angle, by default the top end.

    The plant runs switched off with the brake set, at 1 ms. The height of the mid hinge
    is the length of leaf A times the sine of the angle.
    """
    start_deg = _top_end_deg(site) if angle_deg is None else angle_deg
    plant = Plant(site)
    plant.place(math.radians(start_deg))
    off = (0.0, 0.0) if site.supply.frequency > 0 else (0.0,)
    for _ in range(_SETTLED_MS):
        plant.step(1.0, off, False)
    length = site.deck.leaf_a.length
    start_m = length * math.sin(plant.angle_rad)
    plant.apply(defect)
    lowest_m = math.inf
    fastest = 0.0
    buffer_n = 0.0
    ended_ms = resting_ms = 0
    for elapsed_ms in range(1, _LONGEST_MS + 1):
        before = plant.angle_rad
        plant.step(1.0, off, False)
        height = length * math.sin(plant.angle_rad)
        lowest_m = min(lowest_m, height)
        fastest = max(fastest, abs(height - length * math.sin(before)) * 1000.0)
        buffer_n = max(buffer_n, plant.buffer_force_n)
        if plant.moving:
            ended_ms, resting_ms = elapsed_ms, 0
        else:
            resting_ms += 1
            if resting_ms >= _SETTLED_MS:
                break
    return Drop(start_m - lowest_m, fastest, ended_ms / 1000.0, buffer_n)


def worst_drop(site: Site, defect: PlantDefect) -> Drop:
    """Return the greatest of each figure over five angles from the top end downwards."""
    top_deg = _top_end_deg(site)
    drops = [drop_after(site, defect, top_deg * share) for share in (1.0, 0.8, 0.6, 0.4, 0.2)]
    return Drop(
        max(drop.fall_m for drop in drops),
        max(drop.fastest_m_per_s for drop in drops),
        max(drop.seconds for drop in drops),
        max(drop.buffer_n for drop in drops),
    )


def _top_end_deg(site: Site) -> float:
    """Return the angle of the top end, or just below the buffer if it senses otherwise."""
    limit = site.limits.top_end
    return limit.at if limit.senses == "leaf_angle" else site.buffer.place - 1.0
