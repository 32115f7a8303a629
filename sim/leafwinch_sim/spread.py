"""The healthy spread: how much sound installations and parts differ from each other."""

import random
from dataclasses import dataclass

from leafwinch_sim.site_schema import Site


@dataclass(frozen=True, slots=True)
class Spread:
    """One draw. Factors multiply the site's values; delays are in ms, noise in mA."""

    friction: float = 1.0
    mass: float = 1.0
    supply: float = 1.0
    bounce_ms: int = 3
    skew_ms: int = 3
    throw_ms: int = 40
    noise_ma: float = 20.0
    efficiency: float = 1.0
    drag: float = 1.0


NOMINAL = Spread()

# Limits of the draws: what an ordinary installation may differ by (common practice, no source).
FRICTION = (0.7, 1.4)
MASS = (0.95, 1.08)
SUPPLY = (0.9, 1.1)
BOUNCE_MS = (0, 6)
SKEW_MS = (0, 8)
THROW_MS = (15, 120)
NOISE_MA = (0.0, 60.0)
EFFICIENCY = (0.92, 1.04)
DRAG = (0.8, 1.8)  # cold grease


def draw(seed: int) -> Spread:
    """Return the draw of a seed; the same seed always gives the same draw."""
    rng = random.Random(seed)
    return Spread(
        friction=rng.uniform(*FRICTION),
        mass=rng.uniform(*MASS),
        supply=rng.uniform(*SUPPLY),
        bounce_ms=rng.randint(*BOUNCE_MS),
        skew_ms=rng.randint(*SKEW_MS),
        throw_ms=rng.randint(*THROW_MS),
        noise_ma=rng.uniform(*NOISE_MA),
        efficiency=rng.uniform(*EFFICIENCY),
        drag=rng.uniform(*DRAG),
    )


def spread_site(site: Site, spread: Spread) -> Site:
    """Return the site with the mechanics of one draw; the bench applies the supply."""
    if spread == NOMINAL:
        return site
    deck = site.deck
    leaf_a = deck.leaf_a.model_copy(update={"mass": deck.leaf_a.mass * spread.mass})
    leaf_b = deck.leaf_b.model_copy(update={"mass": deck.leaf_b.mass * spread.mass})
    deck = deck.model_copy(
        update={
            "leaf_a": leaf_a,
            "leaf_b": leaf_b,
            "hinge_friction": deck.hinge_friction * spread.friction,
            "wheel_resistance": deck.wheel_resistance * spread.friction,
        }
    )
    rope = site.rope.model_copy(
        update={"sheave_factor": 1.0 + (site.rope.sheave_factor - 1.0) * spread.friction}
    )
    efficiency = min(1.0, site.gear.efficiency * spread.efficiency)
    gear = site.gear.model_copy(update={"efficiency": efficiency})
    drum = site.drum.model_copy(update={"drag": site.drum.drag * spread.drag})
    motor = site.motor.model_copy(update={"drag": site.motor.drag * spread.drag})
    return site.model_copy(
        update={"deck": deck, "rope": rope, "gear": gear, "drum": drum, "motor": motor}
    )
