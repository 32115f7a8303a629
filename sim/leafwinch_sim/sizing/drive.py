"""The motor over the travel: torque needed, speed, current, time, starting and stalling.

Quasi-static: at every angle the motor runs at the speed at which its torque equals the load,
by the very curves that the bench uses. What the supply sags under the current is solved with it.
"""

import math
from dataclasses import dataclass

import numpy as np

from leafwinch_sim.motor_capacitor_run import Circuit, curve
from leafwinch_sim.plant_parts import circuit_of
from leafwinch_sim.site_schema import CapacitorRun, PermanentMagnet, Site
from leafwinch_sim.sizing.conditions import NOMINAL, Conditions, Floats, Number
from leafwinch_sim.sizing.duty_rules import lifting_torque_nm
from leafwinch_sim.sizing.statics import Geometry, Tension, end_angles_deg
from leafwinch_sim.spread import DRAG, EFFICIENCY

_ROUNDS = 12  # until voltage and current agree to far better than 0.1 %
_SPAN = 1.6  # see motor_capacitor_run: its curve reaches this multiple of synchronous speed


@dataclass(frozen=True, slots=True)
class Running:
    """The drive at each angle, in one direction; arrays.

    Attributes:
        torque_nm: at the shaft in the direction of travel; below 0 the load drives.
        speed_rad_s: of the motor, 0 where it can't.
        current_a: RMS line current (AC), or signed current in the direction of travel (DC).
        stalled: where the motor has not the torque.
    """

    torque_nm: Floats
    speed_rad_s: Floats
    current_a: Floats
    stalled: "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]"


def sag_per_a(site: Site) -> float:
    """Return the part of the nominal voltage that each ampere takes."""
    return site.supply.source_resistance / site.supply.voltage


def raising_torque(
    site: Site, geometry: Geometry, line_n: Floats, conditions: Conditions
) -> Floats:
    """Return the shaft torque in N m that takes in the rope against a line pull."""
    gear = site.gear
    efficiency = np.minimum(1.0, gear.efficiency * conditions.efficiency)
    drag = (site.motor.drag + site.drum.drag / gear.ratio) * conditions.drag
    return np.asarray(lifting_torque_nm(line_n, geometry.radius_m, gear.ratio, efficiency) + drag)


def lowering_torque(
    site: Site, geometry: Geometry, line_n: Floats, conditions: Conditions
) -> Floats:
    """Return the shaft torque in N m that pays out; below 0 the load drives the motor."""
    gear = site.gear
    drag = (site.motor.drag + site.drum.drag / gear.ratio) * conditions.drag
    return np.asarray(drag - line_n * geometry.radius_m / gear.ratio * gear.back_efficiency)


def running(site: Site, torque_nm: Floats, supply: Number) -> Running:
    """Return speed and current at which the motor makes a torque in its direction."""
    if isinstance(site.motor, CapacitorRun):
        return _running_capacitor_run(site, site.motor, torque_nm, supply)
    return _running_direct(site, site.motor, torque_nm, supply)


@dataclass(frozen=True, slots=True)
class Curve:
    """Torque and current of a capacitor-run motor at nominal voltage over ascending speed."""

    speed_rad_s: Floats
    torque_nm: Floats
    current_a: Floats
    peak: int  # index of the greatest torque


def curve_of(circuit: Circuit) -> Curve:
    """Return the curve in the motor's own direction."""
    torques, currents = curve(circuit, 1.0, 1.0)
    span = _SPAN * circuit.synchronous_rad_s
    speed = np.linspace(-span, span, len(torques))
    torque = np.array(torques)
    forward = np.where(speed >= 0.0, torque, -np.inf)
    return Curve(speed, torque, np.array(currents), int(np.argmax(forward)))


def _running_capacitor_run(
    site: Site, motor: CapacitorRun, torque_nm: Floats, supply: Number
) -> Running:
    c = curve_of(circuit_of(site, motor))
    # Above the breakdown speed the torque only falls, so it can be turned round.
    torque, speed, current = (
        part[c.peak :][::-1] for part in (c.torque_nm, c.speed_rad_s, c.current_a)
    )
    falling = np.minimum.accumulate(torque[::-1])[::-1]
    ratio = np.broadcast_to(np.asarray(supply, dtype=np.float64), torque_nm.shape)
    at = ratio
    amps = np.zeros_like(torque_nm)
    for _ in range(_ROUNDS):
        wanted = torque_nm / (at * at)
        amps = np.interp(wanted, falling, current) * at
        at = ratio * (1.0 - sag_per_a(site) * amps)
    wanted = torque_nm / (at * at)
    stalled = ~(wanted < c.torque_nm[c.peak])
    return Running(
        torque_nm,
        np.where(stalled, 0.0, np.interp(wanted, falling, speed)),
        np.where(stalled, np.interp(0.0, c.speed_rad_s, c.current_a) * at, amps),
        stalled,
    )


def _running_direct(
    site: Site, motor: PermanentMagnet, torque_nm: Floats, supply: Number
) -> Running:
    amps = torque_nm / motor.constant
    ratio = supply * (1.0 - sag_per_a(site) * np.abs(amps))
    speed = (ratio * site.supply.voltage - motor.resistance * amps) / motor.constant
    stalled = ~(speed > 0.0)
    stall_a = stall(site, supply).current_a
    return Running(
        torque_nm,
        np.where(stalled, 0.0, speed),
        np.where(stalled, stall_a, amps),
        stalled,
    )


@dataclass(frozen=True, slots=True)
class Stall:
    """The motor standing still and fed.

    Attributes:
        torque_nm: at the shaft, before any friction; of a capacitor-run motor the least
            on the way to its breakdown speed is `pull_up_nm`.
        current_a: RMS or direct.
        breakdown_nm: the greatest torque that it makes at any speed.
    """

    torque_nm: Floats
    pull_up_nm: Floats
    current_a: Floats
    breakdown_nm: Floats


def stall(site: Site, supply: Number) -> Stall:
    """Return torque and current at standstill on a supply (over nominal, without load)."""
    motor = site.motor
    ratio = np.asarray(supply, dtype=np.float64)
    if isinstance(motor, PermanentMagnet):
        ohm = motor.resistance + ratio * site.supply.source_resistance
        amps = ratio * site.supply.voltage / ohm
        torque = np.asarray(motor.constant * amps)
        return Stall(torque, torque, np.asarray(amps), torque)
    c = curve_of(circuit_of(site, motor))
    standing_a = float(np.interp(0.0, c.speed_rad_s, c.current_a))
    standing_nm = float(np.interp(0.0, c.speed_rad_s, c.torque_nm))
    way = c.torque_nm[(c.speed_rad_s >= 0.0) & (np.arange(len(c.torque_nm)) <= c.peak)]
    at = _sagged(site, ratio, standing_a)
    at_peak = _sagged(site, ratio, float(c.current_a[c.peak]))
    return Stall(
        at * at * standing_nm,
        at * at * min(standing_nm, float(np.min(way))),
        at * standing_a,
        at_peak * at_peak * float(c.torque_nm[c.peak]),
    )


def _sagged(site: Site, ratio: Floats, full_a: float) -> Floats:
    """Return the supply under a current that is in proportion to it: s = r (1 - k I s)."""
    return np.asarray(ratio / (1.0 + ratio * sag_per_a(site) * full_a))


def line_pull_at_torque(site: Site, torque_nm: float, radius_m: float) -> float:
    """Return the line pull in newtons that a shaft torque makes at most, raising.

    With the least drag and the best efficiency of the healthy spread.
    """
    gear = site.gear
    drag = (site.motor.drag + site.drum.drag / gear.ratio) * DRAG[0]
    efficiency = min(1.0, gear.efficiency * EFFICIENCY[1])
    return max(0.0, torque_nm - drag) * gear.ratio * efficiency / radius_m


def torque_at_line_pull(site: Site, line_n: float, radius_m: float) -> float:
    """Return the least shaft torque that goes with a line pull, raising: the inverse."""
    gear = site.gear
    drag = (site.motor.drag + site.drum.drag / gear.ratio) * DRAG[0]
    efficiency = min(1.0, gear.efficiency * EFFICIENCY[1])
    return float(lifting_torque_nm(line_n, radius_m, gear.ratio, efficiency)) + drag


def torque_at_current(site: Site, current_a: float, supply: float) -> float:
    """Return the greatest shaft torque that can go with a current up to `current_a`.

    Of a capacitor-run motor the greatest on its curve from standstill to no load with no more
    current than that.
    """
    motor = site.motor
    if isinstance(motor, PermanentMagnet):
        return motor.constant * min(current_a, float(stall(site, supply).current_a))
    c = curve_of(circuit_of(site, motor))
    # Near synchronous speed the torque is steep, so the table is read between its points.
    speed = np.linspace(0.0, c.speed_rad_s[-1], 20 * len(c.speed_rad_s))
    torque, current = (np.interp(speed, c.speed_rad_s, y) for y in (c.torque_nm, c.current_a))
    at = supply / (1.0 + supply * sag_per_a(site) * current)
    allowed = at * current <= current_a
    if not np.any(allowed):
        return 0.0
    return max(0.0, float(np.max((at * at * torque)[allowed])))


def current_at_torque(site: Site, torque_nm: float, supply: float) -> float:
    """Return the current of the running motor at a torque, or infinite beyond its breakdown."""
    result = running(site, np.array([torque_nm]), supply)
    return math.inf if bool(result.stalled[0]) else float(result.current_a[0])


@dataclass(frozen=True, slots=True)
class Travel:
    """One full travel, or one row for each draw.

    Attributes:
        seconds: infinite where the motor stalls.
        rms_a: of the current on the way.
    """

    seconds: Floats
    rms_a: Floats


def travel(site: Site, geometry: Geometry, run: Running, from_deg: float, to_deg: float) -> Travel:
    """Integrate a travel between two angles of the geometry."""
    low, high = min(from_deg, to_deg), max(from_deg, to_deg)
    inside = (geometry.angle_deg >= low) & (geometry.angle_deg <= high)
    angle = np.radians(geometry.angle_deg[inside])
    with np.errstate(divide="ignore", invalid="ignore"):
        line_m_per_s = run.speed_rad_s / site.gear.ratio * geometry.radius_m
        pace = -2.0 * geometry.path_rate / line_m_per_s
    pace = np.where(run.stalled, np.inf, pace)[..., inside]
    amps = run.current_a[..., inside]
    seconds = np.trapezoid(pace, angle, axis=-1)
    with np.errstate(invalid="ignore"):
        squared = np.trapezoid(pace * amps * amps, angle, axis=-1) / seconds
    return Travel(seconds=np.asarray(seconds), rms_a=np.sqrt(squared))


@dataclass(frozen=True, slots=True)
class Drive:
    """Both directions under one condition, or columns of draws."""

    tension: Tension
    up: Running
    down: Running
    raising: Travel
    lowering: Travel


def drive_of(
    site: Site, geometry: Geometry, tension: Tension, conditions: Conditions = NOMINAL
) -> Drive:
    """Work out both travels between the working limits."""
    up_nm = raising_torque(site, geometry, tension.raise_n, conditions)
    down_nm = lowering_torque(site, geometry, tension.lower_n, conditions)
    up = running(site, up_nm, conditions.supply)
    down = running(site, down_nm, conditions.supply)
    bottom, top = end_angles_deg(site)
    return Drive(
        tension,
        up,
        down,
        travel(site, geometry, up, 0.0, top),
        travel(site, geometry, down, top, bottom),
    )
