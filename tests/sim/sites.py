"""Variants of the shipped sites for tests."""

from leafwinch_sim.plant import Plant
from leafwinch_sim.site import Site, load_site

ALTERNATING = "workshop-pit"
DIRECT = "boat-slip"


def frictionless(name: str) -> Site:
    """Return a shipped site whose hinges, wheels and sheaves have no friction."""
    site = load_site(name)
    deck = site.deck.model_copy(update={"hinge_friction": 0.0, "wheel_resistance": 0.0})
    rope = site.rope.model_copy(update={"sheave_factor": 1.0})
    return site.model_copy(update={"deck": deck, "rope": rope})


def windings(site: Site, direction: int) -> tuple[float, ...]:
    """Return full voltage raising (1), lowering (-1) or none (0)."""
    if site.supply.frequency > 0:
        return (float(direction), float(abs(direction)))
    return (float(direction),)


def drive(plant: Plant, direction: int, steps: int, dt_ms: float = 1.0) -> None:
    """Drive raising (1), lowering (-1) or not at all (0, brake set) for some steps."""
    command = windings(plant.site, direction)
    for _ in range(steps):
        plant.step(dt_ms, command, direction != 0)


def travel(plant: Plant, direction: int, dt_ms: int = 1, longest_ms: int = 60_000) -> int:
    """Drive until the working limit of that direction operates; return the ms it took."""
    limits = plant.site.limits
    limit = limits.top_end if direction > 0 else limits.bottom_end
    command = windings(plant.site, direction)
    for elapsed_ms in range(0, longest_ms, dt_ms):
        if limit.is_actuated(plant.sensed(limit.senses), False):
            return elapsed_ms
        plant.step(dt_ms, command, True)
    raise AssertionError(f"no end reached within {longest_ms} ms")
