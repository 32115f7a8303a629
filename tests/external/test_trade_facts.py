"""Facts of the trade about a small hoist and a 2.5 m deck: common practice, no source."""

import math

import pytest

from leafwinch_sim.mechanism import GRAVITY
from leafwinch_sim.plant import Plant
from leafwinch_sim.rope import Rope
from leafwinch_sim.site import load_site
from tests.sim.sites import ALTERNATING, drive, frictionless, travel


def test_two_parts_turn_125_kg_into_250_kg() -> None:
    rope = Rope(4e5, 0.0, 1.0, 1.0, 1)
    mean_n = 125 * GRAVITY / rope.raising_factor
    assert 2 * mean_n == pytest.approx(250 * GRAVITY)


def test_two_parts_halve_the_speed() -> None:
    plant = Plant(frictionless(ALTERNATING))
    plant.place(math.radians(40))
    drive(plant, 1, 1000)
    out, end = plant.rope_out_m, plant.free_end_m
    drive(plant, 1, 2000)
    assert (end - plant.free_end_m) / (out - plant.rope_out_m) == pytest.approx(0.5, rel=2e-3)


def test_folding_takes_about_30_s_and_lying_down_the_same() -> None:
    plant = Plant(load_site(ALTERNATING))
    raise_ms = travel(plant, 1)
    drive(plant, 0, 1000)
    lower_ms = travel(plant, -1)
    assert raise_ms / 1000 == pytest.approx(30, rel=0.1)
    assert lower_ms / 1000 == pytest.approx(raise_ms / 1000, rel=0.05)
    drive(plant, 0, 2000)
    assert plant.angle_rad == 0.0
    assert not plant.moving
