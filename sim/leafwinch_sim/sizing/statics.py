"""Rope tension over the fold angle, from the same geometry and friction as the bench.

Virtual work with dry friction, the deck moving so slowly that its inertia does not count:
    2 T |dl/d(angle)| = dE/d(angle) + M   raising,   = dE/d(angle) - M   lowering,
    M = 2 mu r (W + 2 T)(1 + b) + c W |dx/d(angle)|
with T the mean of the two rope parts, l the length of one part, E the potential energy,
W the wheel load, b the turn of leaf B for each turn of leaf A, mu and r of the hinge pins,
c the rolling resistance and x the place of the free end.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from leafwinch_sim.mechanism import GRAVITY
from leafwinch_sim.plant_parts import drum_of, mechanism_of
from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.conditions import NOMINAL, Conditions, Floats, Number
from leafwinch_sim.sizing.rope_rules import lead_line_share

STEP_DEG = 0.5
PARTS = 2  # of rope that bear the free end
_LEAST_LEVER_M = 1e-9


@dataclass(frozen=True, slots=True)
class Geometry:
    """The deck at many angles; arrays of one length.

    Attributes:
        angle_deg: leaf A above horizontal, ascending.
        gravity_nm: d(potential energy)/d(angle) in N m.
        wheel_n: static wheel load; end_wheel_n: the part of it that the end mass makes.
        path_m: of one rope part; path_rate, end_rate: in m for each radian, 0 or less.
        free_end_m: wheel axle from the wall hinge.
        bend_rad: by which the kicker's roller turns a rope part.
        turn_b: turn of leaf B for each turn of leaf A.
        radius_m: at which the rope leaves the drum.
        turns: on the drum.
    """

    angle_deg: Floats
    gravity_nm: Floats
    wheel_n: Floats
    end_wheel_n: float
    path_m: Floats
    path_rate: Floats
    end_rate: Floats
    free_end_m: Floats
    bend_rad: Floats
    turn_b: Floats
    radius_m: Floats
    turns: Floats


def angles_of(site: Site, step_deg: float = STEP_DEG) -> Floats:
    """Return the angles that sizing looks at: from flat to the wall, the ends among them."""
    bottom, top = end_angles_deg(site)
    wall = site.buffer.wall
    return np.union1d(np.arange(0.0, wall, step_deg), [bottom, top, wall])


def end_angles_deg(site: Site) -> tuple[float, float]:
    """Return the angles of bottom and top working limit; without an angle at its stop."""
    limits = site.limits
    bottom = limits.bottom_end.at if limits.bottom_end.senses == "leaf_angle" else 0.0
    top = limits.top_end.at if limits.top_end.senses == "leaf_angle" else site.buffer.place
    return bottom, min(top, site.buffer.wall)


def geometry_of(site: Site, angle_deg: Floats) -> Geometry:
    """Return the deck of a site at these angles, each from 0 to less than the fold's limit."""
    mechanism = mechanism_of(site)
    drum = drum_of(site)
    rows = []
    mechanism.update(0.0)
    rope_m = 2.0 * mechanism.path_m + site.rope.lead + drum.wound_m(site.drum.turns_at_flat)
    for angle in np.radians(angle_deg):
        mechanism.update(float(angle))
        wound = rope_m - 2.0 * mechanism.path_m - site.rope.lead
        turns = drum.turns_for(max(0.0, wound))
        rows.append(
            (
                mechanism.gravity_nm,
                mechanism.wheel_n,
                mechanism.path_m,
                mechanism.path_rate,
                mechanism.free_end_rate,
                mechanism.free_end_m,
                mechanism.bend_rad,
                mechanism.turn_b,
                drum.radius_m(turns),
                turns,
            )
        )
    gravity, wheel, path, path_rate, end_rate, end, bend, turn, radius, turns_on = np.array(rows).T
    return Geometry(
        angle_deg=angle_deg,
        gravity_nm=gravity,
        wheel_n=wheel,
        end_wheel_n=GRAVITY * site.deck.end_mass,
        path_m=path,
        path_rate=path_rate,
        end_rate=end_rate,
        free_end_m=end,
        bend_rad=bend,
        turn_b=turn,
        radius_m=radius,
        turns=turns_on,
    )


@dataclass(frozen=True, slots=True)
class Tension:
    """Forces in newtons over the angles; infinite where the rope has no lever.

    Attributes:
        raise_n, lower_n: line pull at the drum; lowering 0 where gravity does not carry.
        raise_mean_n, lower_mean_n: mean of the two rope parts at the free end.
        surplus_nm: torque about the wall hinge that lowers the deck, less all friction,
            with a slack rope; below 0 it stays up by itself.
        wheel_n: wheel load.
    """

    raise_n: Floats
    lower_n: Floats
    raise_mean_n: Floats
    lower_mean_n: Floats
    surplus_nm: Floats
    wheel_n: Floats


def tension_of(site: Site, geometry: Geometry, conditions: Conditions = NOMINAL) -> Tension:
    """Return the tensions of a site, for one condition or for columns of draws."""
    deck = site.deck
    friction = conditions.friction
    arm = 2.0 * deck.hinge_friction * deck.hinge_pin_radius * friction * (1.0 + geometry.turn_b)
    wheel = geometry.end_wheel_n + (geometry.wheel_n - geometry.end_wheel_n) * conditions.mass
    rolling = deck.wheel_resistance * friction * wheel * -geometry.end_rate
    gravity = geometry.gravity_nm * conditions.mass
    lever = -geometry.path_rate
    up_lever = lever - arm
    held = gravity + arm * wheel + rolling
    up = np.where(
        up_lever > _LEAST_LEVER_M, held / (2.0 * np.maximum(up_lever, _LEAST_LEVER_M)), np.inf
    )
    surplus = gravity - arm * wheel - rolling
    # Without a lever the deck lies on its bearers, and no rope carries it.
    carried = (surplus > 0.0) & (lever > _LEAST_LEVER_M)
    down = np.where(carried, surplus / (2.0 * np.maximum(lever + arm, _LEAST_LEVER_M)), 0.0)
    raising, lowering = sheave_factors(site, geometry, friction)
    return Tension(up * raising, down * lowering, up, down, surplus, wheel)


def sheave_factors(site: Site, geometry: Geometry, friction: Number) -> tuple[Floats, Floats]:
    """Return line pull over the mean of the two parts, raising and lowering, over the angles.

    By the rule of the wire-rope handbooks; the kicker's roller bends the rope by less than half
    a turn, which counts by the capstan law, see `leafwinch_sim.rope`. Friction multiplies K - 1.
    """
    factor = 1.0 + (site.rope.sheave_factor - 1.0) * friction
    extra = site.rope.lead_sheaves - 1
    bent = np.exp(np.log(factor) / math.pi * geometry.bend_rad)
    raising = PARTS * lead_line_share(PARTS, factor, extra) * bent
    lowering = PARTS * lead_line_share(PARTS, 1.0 / factor, extra) / bent
    return np.asarray(raising, dtype=np.float64), np.asarray(lowering, dtype=np.float64)


def slack_angle_deg(site: Site, conditions: Conditions = NOMINAL) -> float:
    """Return the angle beyond which the deck does not come down by itself.

    Where it always does, the angle of the wall. The deck moves slowly; a fast winch
    outruns gravity earlier.
    """

    def surplus(angle_deg: float) -> float:
        geometry = geometry_of(site, np.array([angle_deg]))
        return float(tension_of(site, geometry, conditions).surplus_nm[0])

    wall = site.buffer.wall
    if surplus(wall) > 0.0:
        return wall
    if surplus(0.0) <= 0.0:
        return 0.0
    return float(brentq(surplus, 0.0, wall, xtol=1e-4))


@dataclass(frozen=True, slots=True)
class PushOff:
    """A spring at the free end that starts a deck which stands too upright.

    Attributes:
        force_n: level force at the free end where the deck stands.
        travel_mm: way of the free end until gravity carries alone.
    """

    force_n: float
    travel_mm: float


def push_off(site: Site, from_deg: float, conditions: Conditions = NOMINAL) -> PushOff | None:
    """Return the spring that gets the deck down from an angle, or None where none is needed."""
    free_deg = slack_angle_deg(site, conditions)
    if from_deg <= free_deg:
        return None
    geometry = geometry_of(site, np.array([from_deg, free_deg]))
    lack_nm = -float(tension_of(site, geometry, conditions).surplus_nm[0])
    travel_m = float(geometry.free_end_m[1] - geometry.free_end_m[0])
    return PushOff(lack_nm / -float(geometry.end_rate[0]), travel_m * 1000.0)


def least_kicker_m(
    site: Site, allowed_n: float, conditions: Conditions = NOMINAL, deepest: float = 0.95
) -> float | None:
    """Return the least depth of the kicker's roller that keeps the line pull within a force.

    Args:
        site: its own kicker depth does not matter.
        allowed_n: line pull in newtons.
        conditions: friction and so on.
        deepest: of the leaf's length; beyond, None.
    """
    angles = angles_of(site)

    def over(depth_m: float) -> float:
        deck = site.deck.model_copy(update={"kicker_depth": depth_m})
        geometry = geometry_of(site.model_copy(update={"deck": deck}), angles)
        peak = float(np.max(tension_of(site, geometry, conditions).raise_n))
        return min(peak, 1e9) - allowed_n

    highest = deepest * site.deck.leaf_a.length
    if over(highest) > 0.0:
        return None
    if over(0.0) <= 0.0:
        return 0.0
    low, high = 0.0, highest
    while high - low > 2e-4:
        middle = 0.5 * (low + high)
        if over(middle) > 0.0:
            low = middle
        else:
            high = middle
    return high


@dataclass(frozen=True, slots=True)
class Reactions:
    """Greatest forces on what holds deck and rope, in newtons, over the whole travel.

    Attributes:
        hinge_n: at the wall hinge.
        wheels_n: on all wheels together, upright.
        anchor_n: at the rope's dead end.
        lead_sheave_n: on the sheave that leads to the drum.
    """

    hinge_n: float
    wheels_n: float
    anchor_n: float
    lead_sheave_n: float


def reactions_of(
    site: Site, geometry: Geometry, tension: Tension, friction: float, lead_factor: float
) -> Reactions:
    """Return the reactions while raising.

    The wall hinge carries the level pull of both parts and what weight the wheels do not
    (balance of the forces on deck and rope together).

    Args:
        site: of the geometry.
        geometry: over the travel.
        tension: raising and lowering, of one condition.
        friction: factor of that condition.
        lead_factor: force on the lead sheave over the tension of its rope.
    """
    # Where the rope has no lever no force is enough, and there is no reaction to tell.
    finite = np.isfinite(tension.raise_mean_n)
    mean = np.where(finite, tension.raise_mean_n, 0.0)
    pull = 2.0 * mean
    half_bend = 0.5 * geometry.bend_rad
    weight = GRAVITY * (site.deck.leaf_a.mass + site.deck.leaf_b.mass + site.deck.end_mass)
    level = pull * np.cos(half_bend)
    upright = weight - tension.wheel_n - pull * np.sin(half_bend)
    factor = 1.0 + (site.rope.sheave_factor - 1.0) * friction
    dead_end = np.maximum(
        mean * 2.0 / (1.0 + factor),
        tension.lower_mean_n * 2.0 * factor / (1.0 + factor),
    )
    return Reactions(
        hinge_n=float(np.max(np.hypot(level, upright)[finite])),
        wheels_n=float(np.max(tension.wheel_n)),
        anchor_n=float(np.max(dead_end[finite])),
        lead_sheave_n=float(np.max(tension.raise_n[finite])) * lead_factor,
    )
