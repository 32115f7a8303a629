"""The plant's fixed step against scipy's adaptive Runge-Kutta on the same equations.

Source: scipy.integrate.solve_ivp, RK45 (Dormand and Prince 1980), relative tolerance 1e-7.
"""

import math

import numpy as np
import pytest

from leafwinch_sim.plant import Plant
from leafwinch_sim.site import load_site
from tests.external.reference_motion import ANGLE, CURRENT, SPEED, TURNS, Reference
from tests.sim.sites import ALTERNATING, DIRECT, windings

START_DEG = 2.0


def reference_of(plant: Plant) -> Reference:
    state = np.zeros(6)
    state[ANGLE] = plant.angle_rad
    state[TURNS] = plant.winch.turns
    state[4] = 1.0
    return Reference(plant.site, state, plant.winch.rope_m)


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_full_raise_and_coast(name: str) -> None:
    site = load_site(name)
    plant = Plant(site)
    plant.place(math.radians(START_DEG))
    reference = reference_of(plant)
    reference.voltage = 1.0
    reference.run(site.brake.release_delay / 1000)
    reference.braked = False
    reference.run(90.0, site.limits.top_end.at)
    travel_s = reference.time_s

    command = windings(site, 1)
    times, angles = [0.0], [plant.angle_rad]
    for tick in range(math.floor(travel_s * 1000)):
        plant.step(1.0, command, True)
        times.append((tick + 1) / 1000)
        angles.append(plant.angle_rad)
    expected = np.interp(times, reference.times, reference.angles)
    assert math.degrees(np.max(np.abs(np.array(angles) - expected))) < 0.05

    # Both are switched off at the same moment; the reference stands a little beyond it.
    reference.voltage = 0.0
    reference.state[CURRENT] = 0.0
    ahead_m = plant.rope_out_m - (reference.rope_m - reference.drum.wound_m(reference.state[TURNS]))
    before = plant.rope_out_m
    while plant.winch.motor_rad_s != 0.0 or not plant.brake_set:
        plant.step(1.0, windings(site, 0), False)
    coast_mm = 1000 * (before - plant.rope_out_m)

    started = reference.drum.wound_m(reference.state[TURNS])
    reference.run(travel_s + site.brake.set_delay / 1000)
    reference.braked = True
    reference.run(travel_s + 2.0)
    assert reference.state[SPEED] == 0.0
    expected_mm = 1000 * (reference.drum.wound_m(reference.state[TURNS]) - started)
    assert abs(coast_mm - expected_mm) < 0.5
    assert abs(ahead_m) < 0.002
