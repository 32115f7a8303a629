"""What statics can't tell, simulated with the bench's own machine: run-up, slack at the top."""

import math
from dataclasses import dataclass

from leafwinch_sim.plant import Plant
from leafwinch_sim.plant_parts import circuit_of
from leafwinch_sim.site_schema import CapacitorRun, Site
from leafwinch_sim.sizing.conditions import POOR_FRICTION
from leafwinch_sim.sizing.duty_rules import rms_current
from leafwinch_sim.sizing.statics import slack_angle_deg
from leafwinch_sim.spread import DRAG, EFFICIENCY, FRICTION, MASS, SUPPLY, Spread, spread_site

_LONGEST_MS = 2000
_TOP_MS = 15_000
_TOP_STEP_MS = 2.0
_CALM_MS = 3000  # without slack for so long: it will not come again
_TAUT_MS = 100.0  # a rope taut so long clears the firmware's account
_SLACK_M = 0.002
_STARTED = 0.3  # of the speed without load
_SETTLED = 1.2  # times the greatest current of a run that has settled
_SHORT_DEG = 0.3  # of where gravity just carries: there the deck needs for ever
_HARD = Spread(friction=FRICTION[1], mass=MASS[1], efficiency=EFFICIENCY[0], drag=DRAG[1])


@dataclass(frozen=True, slots=True)
class RunUp:
    """A start from the flat deck with a taut rope, heavy, stiff and on a low supply.

    Attributes:
        seconds: until the current has settled; infinite where the motor does not start.
        peak_a: greatest current at high supply.
        rms_a: RMS current over those seconds, on whichever supply it is greater; over all
            that was simulated where the motor does not start.
        peak_line_n: greatest line pull, the jerk of the start included.
    """

    seconds: float
    peak_a: float
    rms_a: float
    peak_line_n: float


def feed(site: Site, way: int) -> tuple[float, ...]:
    """Return full winding voltages over nominal for raising (1) or lowering (-1)."""
    if isinstance(site.motor, CapacitorRun):
        return (float(way), 1.0)
    return (float(way),)


def run_up(site: Site) -> RunUp:
    """Simulate the start of a flat deck at the lowest and at the highest supply."""
    hard = spread_site(site, _HARD)
    amps, speed, low_n = _start(hard, SUPPLY[0])
    high_amps, _, high_n = _start(hard, SUPPLY[1])
    line_n = max(low_n, high_n)
    # A motor that creeps in its own stiff bearings has not started.
    if speed < _STARTED * _no_load_rad_s(site):
        return RunUp(math.inf, max(high_amps), _rms_a(high_amps, amps), line_n)
    settled_a = _SETTLED * max(amps[len(amps) // 2 :])
    last_ms = max((index for index, amp in enumerate(amps) if amp > settled_a), default=0)
    whole = last_ms + 1
    rms_a = _rms_a(high_amps[:whole], amps[:whole])
    return RunUp(whole / 1000.0, max(high_amps), rms_a, line_n)


def _rms_a(*runs: list[float]) -> float:
    """Return the greatest RMS of several currents, one value for each ms."""
    return max(rms_current([(amp, 0.001) for amp in run]) for run in runs)


def _no_load_rad_s(site: Site) -> float:
    motor = site.motor
    if isinstance(motor, CapacitorRun):
        return circuit_of(site, motor).synchronous_rad_s
    return site.supply.voltage / motor.constant


def _start(site: Site, supply: float) -> tuple[list[float], float, float]:
    """Return the current in each ms, the speed at the end, and the greatest line pull."""
    plant = Plant(site)
    plant.winch.supply_factor = supply
    plant.winch.supply_ratio = supply
    fed = feed(site, 1)
    amps = []
    line_n = 0.0
    for _ in range(_LONGEST_MS):
        plant.step(1.0, fed, True)
        amps.append(abs(plant.current_a))
        line_n = max(line_n, plant.line_n)
    return amps, plant.motor_rad_s, line_n


def highest_deg(site: Site) -> float:
    """Return the angle at which the top final stops the deck if the working limit fails."""
    final = site.limits.top_final
    return min(final.at if final.senses == "leaf_angle" else site.buffer.place, site.buffer.wall)


@dataclass(frozen=True, slots=True)
class TopSlack:
    """Lowering at full speed from the top final, or from as far up as gravity still carries.

    Attributes:
        longest_s: longest account of slack rope, as the firmware keeps it.
        last_s: from the start until the rope stays taut.
        leave_s: from the start until the top working limit lets go.
        deepest_mm: the most slack on the way.
        comes_down: whether the deck followed within the time that was simulated.
    """

    longest_s: float
    last_s: float
    leave_s: float
    deepest_mm: float
    comes_down: bool


def top_slack(site: Site) -> TopSlack:
    """Simulate lowering from the top final with stiff hinges on high and on low supply."""
    worst = TopSlack(0.0, 0.0, 0.0, 0.0, True)
    for supply in SUPPLY:
        found = _lower_from_top(site, supply)
        worst = TopSlack(
            max(worst.longest_s, found.longest_s),
            max(worst.last_s, found.last_s),
            max(worst.leave_s, found.leave_s),
            max(worst.deepest_mm, found.deepest_mm),
            worst.comes_down and found.comes_down,
        )
    return worst


def _lower_from_top(site: Site, supply: float) -> TopSlack:
    stiff = spread_site(site, Spread(friction=FRICTION[1], mass=MASS[0]))
    plant = Plant(stiff)
    plant.winch.supply_factor = supply
    plant.winch.supply_ratio = supply
    highest = min(highest_deg(site), slack_angle_deg(site, POOR_FRICTION) - _SHORT_DEG)
    plant.place(math.radians(max(0.0, highest)))
    end = site.limits.top_end
    leave_deg = end.at - end.reset_differential if end.senses == "leaf_angle" else highest
    fed = feed(site, -1)
    account = longest = last = leave = deepest = 0.0
    taut = 0.0
    t_ms = 0.0
    while t_ms < _TOP_MS and t_ms - max(last, leave) < _CALM_MS:
        plant.step(_TOP_STEP_MS, fed, True)
        t_ms += _TOP_STEP_MS
        deepest = max(deepest, plant.slack_m)
        if plant.slack_m > _SLACK_M:
            account += _TOP_STEP_MS
            last = t_ms
            taut = 0.0
        else:
            taut += _TOP_STEP_MS
            if taut > _TAUT_MS:
                account = 0.0
        longest = max(longest, account)
        if plant.sensed("leaf_angle") >= leave_deg:
            leave = t_ms
    comes_down = t_ms < _TOP_MS
    return TopSlack(longest / 1000.0, last / 1000.0, leave / 1000.0, deepest * 1000.0, comes_down)
