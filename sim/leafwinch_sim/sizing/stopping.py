"""Run-on after each kind of stop: how long the motor stays fed, and how far the deck then coasts.

The coast is simulated with the bench's own machine, lightly loaded and on a high supply. While
the motor is still fed the deck runs on at full speed, so a longer reaction adds its way to it.
"""

import math
from dataclasses import dataclass

from leafwinch_sim.plant import Plant
from leafwinch_sim.site_schema import CapacitorRun, Site
from leafwinch_sim.spread import FRICTION, MASS, SUPPLY, Spread, spread_site
from leafwinch_wiring.netlist import Netlist

UP, DOWN = 1, -1
PUMP_HOLD_MS = 45.0  # the longest that the parts of the charge pump allow
CORE_MS = 15.0  # an input must be seen open in two passes of 5 ms, and a pass must begin
SENSE_MS = 25.0  # a whole mains cycle of 50 Hz and a pass, until a current is measured
WORN_TORQUE = 0.6  # of the brake's torque, and
WORN_DELAY = 2.0  # times its setting delay, before an inspection finds it: common practice
_RUN_UP_MS = 400
_LONGEST_COAST_MS = 3000


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast the deck runs at one angle and how far it goes once the motor is dead.

    Attributes:
        angle_deg: where the motor is cut; way: UP or DOWN.
        rope_mm_per_ms, point_mm_per_ms, deg_per_ms: speeds of the rope, of the deck's fastest
            point and of leaf A.
        rope_mm, point_mm, deg: coast after the cut; coast_ms: how long it takes.
    """

    angle_deg: float
    way: int
    rope_mm_per_ms: float
    point_mm_per_ms: float
    deg_per_ms: float
    rope_mm: float
    point_mm: float
    deg: float
    coast_ms: float


@dataclass(frozen=True, slots=True)
class StopKind:
    """One way in which a travel is stopped.

    Attributes:
        key, words: name and what happens.
        fed_ms: from the event until the motor is without voltage.
        why: of what that time is made.
    """

    key: str
    words: str
    fed_ms: float
    why: str


@dataclass(frozen=True, slots=True)
class Overrun:
    """How far the deck goes after one kind of stop, at worst, in mm and degrees."""

    kind: StopKind
    way: int
    angle_deg: float
    rope_mm: float
    point_mm: float
    deg: float


def stop_kinds(net: Netlist, trip_ms: float) -> tuple[StopKind, ...]:
    """Return every kind of stop with its longest reaction, from the netlist's release times.

    Args:
        net: a wiring with a controller.
        trip_ms: setting: how long a current must lie above the trip level.
    """
    release = max((coil.release_ms for coil in net.coils), default=0.0)
    drops = f"the contactors drop out in {release:g} ms"
    second = CORE_MS + PUMP_HOLD_MS + release
    return (
        StopKind("release", "control let go", release, f"the coil path opens, {drops}"),
        StopKind("end", "working limit", release, f"it opens the coil path itself, {drops}"),
        StopKind(
            "end_by_second_way",
            "working limit, its direction contactor welded",
            second,
            f"the core sees its second contact in {CORE_MS:g} ms, the charge pump holds "
            f"{PUMP_HOLD_MS:g} ms, the line contactor drops out in {release:g} ms",
        ),
        StopKind("final", "final limit", release, f"it opens the whole chain, {drops}"),
        StopKind("emergency", "emergency stop", release, f"it opens the whole chain, {drops}"),
        StopKind("power", "supply lost", 0.0, "the motor is dead at once"),
        StopKind(
            "trip",
            "current trip",
            SENSE_MS + trip_ms + CORE_MS + release,
            f"measured in {SENSE_MS:g} ms, {trip_ms:g} ms above the level, {drops}",
        ),
        StopKind(
            "hung",
            "controller hung, control let go with its contact welded",
            PUMP_HOLD_MS + release,
            f"the charge pump holds {PUMP_HOLD_MS:g} ms, {drops}",
        ),
    )


def paces(site: Site, angles_deg: tuple[float, ...], way: int, worn: bool) -> list[Pace]:
    """Simulate a stop at each angle, lightly loaded and on a high supply.

    Args:
        site: as installed.
        angles_deg: where the motor is cut.
        way: UP or DOWN.
        worn: with a brake that is due for inspection.
    """
    # Rising, a light deck runs on furthest; sinking, a heavy one.
    mass = MASS[0] if way == UP else MASS[1]
    light = spread_site(site, Spread(friction=FRICTION[0], mass=mass))
    if worn:
        brake = light.brake
        brake = brake.model_copy(
            update={
                "torque": brake.torque * WORN_TORQUE,
                "set_delay": brake.set_delay * WORN_DELAY,
            }
        )
        light = light.model_copy(update={"brake": brake})
    return [_pace(light, angle, way) for angle in angles_deg]


def _pace(site: Site, angle_deg: float, way: int) -> Pace:
    plant = Plant(site)
    plant.winch.supply_factor = SUPPLY[1]
    wall = site.buffer.wall
    from_deg = min(max(angle_deg, 0.0), wall)
    # Where the rope has hardly a lever nothing holds the deck, so nothing runs on from there.
    pull_n = plant.deck.mechanism.line_pull_n
    while from_deg < wall and pull_n(math.radians(from_deg)) > site.rope.breaking_force:
        from_deg = min(from_deg + 1.0, wall)
    plant.place(math.radians(from_deg))
    alternating = isinstance(site.motor, CapacitorRun)
    fed = (float(way), 1.0) if alternating else (float(way),)
    dead = (0.0,) * len(fed)
    for _ in range(_RUN_UP_MS):
        plant.step(1.0, fed, True)
    before = _places(plant)
    plant.step(1.0, fed, True)
    cut = _places(plant)
    coast_ms = 0
    while coast_ms < _LONGEST_COAST_MS:
        plant.step(1.0, dead, False)
        coast_ms += 1
        if plant.winch.motor_rad_s == 0.0 and plant.brake_set and not plant.moving:
            break
    end = _places(plant)
    return Pace(
        angle_deg=angle_deg,
        way=way,
        rope_mm_per_ms=abs(cut[0] - before[0]),
        point_mm_per_ms=max(abs(cut[1] - before[1]), abs(cut[2] - before[2])),
        deg_per_ms=abs(cut[3] - before[3]),
        rope_mm=abs(end[0] - cut[0]),
        point_mm=max(abs(end[1] - cut[1]), abs(end[2] - cut[2])),
        deg=abs(end[3] - cut[3]),
        coast_ms=float(coast_ms),
    )


def _places(plant: Plant) -> tuple[float, float, float, float]:
    """Return rope off the drum, free end and mid hinge along its circle in mm; leaf A in deg."""
    angle = plant.angle_rad
    return (
        plant.rope_out_m * 1000.0,
        plant.free_end_m * 1000.0,
        plant.site.deck.leaf_a.length * angle * 1000.0,
        math.degrees(angle),
    )


def after(kind: StopKind, pace: Pace) -> Overrun:
    """Return the overrun of a kind of stop at one pace."""
    return Overrun(
        kind,
        pace.way,
        pace.angle_deg,
        pace.rope_mm + kind.fed_ms * pace.rope_mm_per_ms,
        pace.point_mm + kind.fed_ms * pace.point_mm_per_ms,
        pace.deg + kind.fed_ms * pace.deg_per_ms,
    )


def worst_overrun(kind: StopKind, all_paces: list[Pace]) -> Overrun:
    """Return the overrun where the deck's fastest point goes furthest."""
    return max((after(kind, pace) for pace in all_paces), key=lambda overrun: overrun.point_mm)
