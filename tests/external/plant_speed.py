"""How much faster the plant is than scipy's solve_ivp at the same error (`make benchmark`).

Both raise the deck from 2 degrees to the top end. The truth is solve_ivp (RK45, Dormand and
Prince 1980) at a relative tolerance of 1e-9. Against it the plant has an error, with its steps
of 1 ms as with those of 5 ms that the bench takes while no contact moves; of each method of
solve_ivp the loosest tolerance is timed whose error is no larger.
"""

import math
import time

import numpy as np

from leafwinch_host.compiled import choose_build

BUILD = choose_build()

from leafwinch_sim.plant import Plant  # noqa: E402
from leafwinch_sim.site import load_site  # noqa: E402
from tests.external.reference_motion import ANGLE, Method, Reference  # noqa: E402
from tests.sim.sites import ALTERNATING, DIRECT, windings  # noqa: E402

START_DEG = 2.0
METHODS: tuple[Method, ...] = ("RK45", "DOP853", "LSODA")
STEPS_MS = (1, 5)
TOLERANCES = (1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7)
ROUNDS = 3


def placed(name: str) -> Plant:
    """Return the site's plant near the bottom, rope taut."""
    plant = Plant(load_site(name))
    plant.place(math.radians(START_DEG))
    return plant


def solved(name: str, method: Method, tolerance: float, step_s: float) -> tuple[Reference, float]:
    """Return a solve_ivp run to the top end and the seconds that it took."""
    plant = placed(name)
    site = plant.site
    state = np.zeros(6)
    state[ANGLE] = plant.angle_rad
    state[3] = plant.winch.turns
    state[4] = 1.0
    begin = time.perf_counter()
    run = Reference(site, state, plant.winch.rope_m)
    run.method, run.tolerance, run.longest_step_s = method, tolerance, step_s
    run.voltage = 1.0
    run.run(site.brake.release_delay / 1000)
    run.braked = False
    run.run(90.0, site.limits.top_end.at)
    return run, time.perf_counter() - begin


def stepped(name: str, travel_s: float, step_ms: int) -> tuple[np.ndarray, np.ndarray, float]:
    """Return the plant's times and angles to the top end, and the seconds that it took."""
    best = math.inf
    for _ in range(ROUNDS):
        plant = placed(name)
        command = windings(plant.site, 1)
        ticks = math.floor(travel_s * 1000 / step_ms)
        angles = [plant.angle_rad] * (ticks + 1)
        begin = time.perf_counter()
        for tick in range(ticks):
            plant.step(float(step_ms), command, True)
            angles[tick + 1] = plant.angle_rad
        best = min(best, time.perf_counter() - begin)
    return np.arange(ticks + 1) * step_ms / 1000, np.array(angles), best


def error_deg(times: np.ndarray, angles: np.ndarray, truth: Reference) -> float:
    """Return the largest difference of angle from the truth, in degrees."""
    inside = times <= truth.time_s
    expected = np.interp(times[inside], truth.times, truth.angles)
    return math.degrees(float(np.max(np.abs(angles[inside] - expected))))


def best_solver(name: str, truth: Reference, allowed: float) -> tuple[float, str, float, float]:
    """Return seconds, method, tolerance and error of the quickest run that is good enough."""
    found = []
    for method in METHODS:
        for tolerance in TOLERANCES:
            run, spent = solved(name, method, tolerance, math.inf)
            error = error_deg(np.array(run.times), np.array(run.angles), truth)
            if error <= allowed:
                spent = min(spent, *(solved(name, method, tolerance, math.inf)[1] for _ in "ab"))
                found.append((spent, method, tolerance, error))
                break
    return min(found)


def main() -> None:
    """Print one line for each site and step."""
    for name in (ALTERNATING, DIRECT):
        truth, _ = solved(name, "RK45", 1e-9, 0.005)
        for step_ms in STEPS_MS:
            times, angles, plant_s = stepped(name, truth.time_s, step_ms)
            allowed = error_deg(times, angles, truth)
            spent, method, tolerance, error = best_solver(name, truth, allowed)
            print(
                f"plant, {BUILD}, {name}, steps of {step_ms} ms: {truth.time_s:.1f} s of travel "
                f"in {plant_s * 1000:.1f} ms, error {allowed:.4f} deg; solve_ivp {method} at "
                f"{tolerance:g} takes {spent * 1000:.0f} ms for {error:.4f} deg: "
                f"{spent / plant_s:.0f} times as long"
            )


if __name__ == "__main__":
    main()
