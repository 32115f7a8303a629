"""The rope of a site on its drum and sheaves against what handbooks and standards ask."""

import math
from dataclasses import dataclass

import numpy as np

from leafwinch_sim.plant_parts import drum_of
from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.end_places import rope_left_turns
from leafwinch_sim.sizing.rope_rules import (
    DEAD_WRAPS,
    GROUPS,
    ROPE_MASS,
    WORKING_COEFFICIENT,
    anchor_share_after_wraps,
    bend_ratio,
    breaking_force_n,
    design_factor,
    discard_wires,
    fleet_angle_deg,
    rope_kg_per_m,
)
from leafwinch_sim.sizing.statics import PARTS
from leafwinch_sim.sizing.worked import Worked

GROUP_DEFAULT = "M1"  # a deck moved a few times a day
FLEET_LIMIT_DEG = 1.5  # on a smooth drum (common practice, no source)
FLANGE_OVER_ROPE = 1.5  # of the rope's diameter above its outermost layer (common practice)
CATALOGUE_SLACK = 0.05  # a rope's certificate may differ so much from the formula


@dataclass(frozen=True, slots=True)
class RopePart:
    """What was found of the rope; forces in newtons, lengths in metres.

    Attributes:
        peak_n: greatest line pull as the file says; worst_n: under the hardest conditions.
        breaking_n: of the rope itself; by_formula_n: by construction and grade, or None.
        factor: design factor with the end fittings, under the hardest conditions; needed:
            what the rule for ropes of lifting gear asks.
        least_diameter_m: of the same construction that would have it.
        group: of mechanisms; drum_ratio, sheave_ratio: D/d, the latter None where not told.
        drum_needed, sheave_needed: D/d that the group asks.
        layers: on the drum with the deck folded; outer_m: radius of the outermost.
        flange_needed_m: radius that the drum's flanges need.
        turns_flat, turns_folded: on the drum; turns_left: once the bottom final stopped it.
        anchor_n: what the rope's fixing on the drum must hold after the dead wraps.
        fleet_deg: to either side, or None where the distance is not told.
        length_m: of rope from its fixing on the drum to its dead end; mass_kg: of it, None
            where the construction tells none.
        discard: visible broken wires over 6 and 30 rope diameters at which it is thrown
            away, None where the construction is not told or not listed.
    """

    peak_n: float
    worst_n: float
    breaking_n: float
    by_formula_n: float | None
    factor: float
    needed: float
    least_diameter_m: float
    group: str
    drum_ratio: float
    drum_needed: float
    sheave_ratio: float | None
    sheave_needed: float
    layers: int
    outer_m: float
    flange_needed_m: float
    turns_flat: float
    turns_folded: float
    turns_left: float
    anchor_n: float
    fleet_deg: float | None
    length_m: float
    mass_kg: float | None
    discard: tuple[int, int] | None

    @property
    def strong_enough(self) -> bool:
        """Whether the design factor is kept."""
        return self.factor >= self.needed

    @property
    def certificate_fits(self) -> bool:
        """Whether the stated breaking force is not above what the construction can have."""
        limit = self.by_formula_n
        return limit is None or self.breaking_n <= limit * (1.0 + CATALOGUE_SLACK)

    @property
    def least_turns(self) -> float:
        """The dead wraps that must stay: two at least."""
        return DEAD_WRAPS


def rope_part(worked: Worked) -> RopePart:
    """Judge the rope of a site."""
    site = worked.site
    rope = site.rope
    inside = worked.up_range()
    peak = float(np.max(worked.tension.raise_n[inside]))
    worst = float(np.max(worked.worst_tension.raise_n[inside]))
    length = _length_m(worked)
    factor = design_factor(rope.breaking_force, rope.end_strength, min(worst, 1e9))
    plate = site.nameplate
    group = GROUP_DEFAULT if plate is None or plate.group is None else plate.group
    asks = GROUPS[group]
    needed = max(WORKING_COEFFICIENT, asks.running)
    thicker = math.sqrt(max(1.0, needed / factor)) if factor > 0.0 else math.inf
    drum = drum_of(site)
    folded = float(worked.geometry.turns[inside][-1])
    # A whole number of turns still lies in the layer below.
    layers = max(1, math.ceil(folded / site.drum.turns_per_layer - 1e-9))
    outer = drum.core_m + rope.diameter * layers
    sheaves = site.sheaves
    pitch = 2.0 * (drum.core_m + 0.5 * rope.diameter)
    return RopePart(
        peak_n=peak,
        worst_n=worst,
        breaking_n=rope.breaking_force,
        by_formula_n=_by_formula(site),
        factor=factor,
        needed=needed,
        least_diameter_m=rope.diameter * thicker,
        group=group,
        drum_ratio=bend_ratio(pitch, rope.diameter),
        drum_needed=asks.drum_ratio,
        sheave_ratio=None
        if sheaves is None
        else bend_ratio(sheaves.tread + rope.diameter, rope.diameter),
        sheave_needed=asks.sheave_ratio,
        layers=layers,
        outer_m=outer,
        flange_needed_m=outer + FLANGE_OVER_ROPE * rope.diameter,
        turns_flat=site.drum.turns_at_flat,
        turns_folded=folded,
        turns_left=rope_left_turns(worked),
        anchor_n=min(worst, 1e9) * anchor_share_after_wraps(max(0.0, rope_left_turns(worked))),
        fleet_deg=None
        if sheaves is None or sheaves.drum_distance is None
        else fleet_angle_deg(
            0.5 * site.drum.turns_per_layer * rope.diameter, sheaves.drum_distance
        ),
        length_m=length,
        mass_kg=_mass_kg(site, length),
        discard=discard_wires(rope.construction),
    )


def _length_m(worked: Worked) -> float:
    """Return the rope's length: two parts of the flat deck, the lead, and what the drum holds."""
    site = worked.site
    wound = drum_of(site).wound_m(site.drum.turns_at_flat)
    return PARTS * float(worked.geometry.path_m[0]) + site.rope.lead + wound


def _mass_kg(site: Site, length_m: float) -> float | None:
    rope = site.rope
    if rope.construction not in ROPE_MASS:
        return None
    return rope_kg_per_m(rope.construction, rope.diameter) * length_m


def _by_formula(site: Site) -> float | None:
    rope = site.rope
    if rope.construction is None:
        return None
    return breaking_force_n(rope.construction, rope.diameter, rope.grade)
