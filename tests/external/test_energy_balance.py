"""Conservation of energy: what the motor gives is stored or lost, to half a per cent.

The losses are worked out here from forces and speeds, step by step, not by the plant.
"""

import math

import pytest

from leafwinch_sim.plant import Plant
from leafwinch_sim.plant_defects import plant_defects
from leafwinch_sim.site import load_site
from tests.sim.sites import ALTERNATING, DIRECT, drive, windings


def kinetic_j(plant: Plant) -> float:
    site, winch, deck = plant.site, plant.winch, plant.deck
    shaft = site.motor.inertia + site.drum.inertia / site.gear.ratio**2
    moving = deck.mechanism.inertia * deck.angle_rate**2
    return 0.5 * (shaft * winch.motor_rad_s**2 + moving)


def strain_j(plant: Plant) -> float:
    site = plant.site
    path = 2 * plant.deck.mechanism.path_m + site.rope.lead
    stretch = max(0.0, path - plant.rope_out_m)
    return 0.5 * site.rope.stiffness * stretch**2 / plant.rope_out_m


def stored_j(plant: Plant) -> float:
    return kinetic_j(plant) + strain_j(plant) + plant.deck.mechanism.potential_j(plant.angle_rad)


def deck_loss_w(plant: Plant) -> float:
    deck, mechanism = plant.site.deck, plant.deck.mechanism
    hinge = deck.hinge_friction * deck.hinge_pin_radius
    hinge *= (mechanism.wheel_n + 2 * plant.tension_n) * 2 * (1 + mechanism.turn_b)
    rolling = deck.wheel_resistance * mechanism.wheel_n * abs(mechanism.free_end_rate)
    return (hinge + rolling) * abs(plant.deck.angle_rate)


def winch_loss_w(plant: Plant) -> float:
    """Drag, gear and sheaves while raising, and the damping of the rope."""
    site, winch = plant.site, plant.winch
    radius = winch.drum.radius_m(winch.turns)
    load = plant.line_n * radius / site.gear.ratio
    shaft = site.motor.drag + site.drum.drag / site.gear.ratio
    shaft += load * (1 / site.gear.efficiency - 1)
    rope_in = radius * winch.drum_rad_s
    stretching = 2 * plant.deck.mechanism.path_rate * plant.deck.angle_rate + rope_in
    damping = site.rope.damping * stretching**2 if plant.tension_n > 0 else 0.0
    return shaft * abs(winch.motor_rad_s) + (plant.line_n - plant.tension_n) * rope_in + damping


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_full_raise(name: str) -> None:
    plant = Plant(load_site(name))
    drive(plant, 0, 10)
    command = windings(plant.site, 1)
    start_j = stored_j(plant)
    given_j = lost_j = 0.0
    while plant.sensed("leaf_angle") < plant.site.limits.top_end.at:
        was_braked = plant.brake_set
        plant.step(1.0, command, True)
        if not was_braked:
            given_j += plant.winch.motor.torque_nm * plant.motor_rad_s * 1e-3
            lost_j += (deck_loss_w(plant) + winch_loss_w(plant)) * 1e-3
    gained_j = stored_j(plant) - start_j
    assert gained_j > 0.2 * given_j
    assert given_j == pytest.approx(gained_j + lost_j, rel=5e-3)


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_free_fall_with_the_rope_gone(name: str) -> None:
    site = load_site(name)
    plant = Plant(site)
    plant.place(math.radians(75))
    parted = next(item for item in plant_defects(site) if item.id == "rope_parted")
    plant.apply(parted)
    # The little energy of the strained rope is lost with it, so the start is counted after.
    start_j = plant.deck.mechanism.potential_j(plant.angle_rad)
    lost_j = 0.0
    while plant.angle_rad > math.radians(1):
        plant.step(1.0, windings(site, 0), False)
        lost_j += deck_loss_w(plant) * 1e-3
    left_j = plant.deck.mechanism.potential_j(plant.angle_rad)
    # In this scheme the speeds stand half a step before the positions.
    inertia, before = plant.deck.mechanism.inertia, plant.deck.angle_rate
    plant.step(1.0, windings(site, 0), False)
    moving_j = 0.5 * inertia * ((before + plant.deck.angle_rate) / 2) ** 2
    assert start_j == pytest.approx(moving_j + left_j + lost_j, rel=5e-3)
    assert moving_j > 0.8 * start_j
