"""Statics and motion of the two leaves against MuJoCo, an independent rigid-body engine.

Source: MuJoCo (Apache-2.0), Python package `mujoco`; its joints, constraint solver and
tendon wrapping share nothing with the simulator.
"""

import math

import numpy as np
import pytest

from leafwinch_sim.mechanism import Mechanism
from leafwinch_sim.plant import Plant
from leafwinch_sim.plant_defects import plant_defects
from leafwinch_sim.site import Site
from leafwinch_sim.sizing.statics import geometry_of, tension_of
from tests.external.linkage_model import Leaves, Linkage
from tests.sim.sites import ALTERNATING, DIRECT, frictionless, windings

EQUAL = Leaves(1.25, 1.25, 55, 55, 0.625, 0.625, 4, 0.21)
STRAIGHT = Leaves(1.25, 1.25, 55, 55, 0.625, 0.625, 4, 0.0)
UNEQUAL = Leaves(1.1, 1.4, 40, 60, 0.5, 0.8, 6, 0.15)
TEN_ANGLES_DEG = (0.5, 2, 5, 8, 9.5, 12, 25, 45, 65, 82)


def mechanism_of(leaves: Leaves) -> Mechanism:
    return Mechanism(
        leaves.length_a,
        leaves.length_b,
        leaves.mass_a,
        leaves.mass_b,
        leaves.centre_a,
        leaves.centre_b,
        leaves.end_mass,
        leaves.kicker,
    )


@pytest.mark.parametrize("leaves", [EQUAL, STRAIGHT, UNEQUAL], ids=["kicker", "none", "unequal"])
def test_static_pull_agrees_within_a_thousandth_at_ten_angles(leaves: Leaves) -> None:
    mechanism = mechanism_of(leaves)
    for angle_deg in TEN_ANGLES_DEG:
        angle = math.radians(angle_deg)
        reference = Linkage(leaves, angle)
        assert mechanism.line_pull_n(angle) == pytest.approx(reference.line_pull_n(), rel=1e-3)
        assert mechanism.path_m == pytest.approx(reference.rope_m, abs=2e-6)


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_sized_tension_agrees_within_a_thousandth(name: str) -> None:
    """What `size` tells of a frictionless site, raising and lowering, is MuJoCo's pull."""
    site = frictionless(name)
    for angle_deg in TEN_ANGLES_DEG:
        tension = tension_of(site, geometry_of(site, np.array([float(angle_deg)])))
        pull_n = Linkage(leaves_of(site), math.radians(angle_deg)).line_pull_n()
        assert float(tension.raise_n[0]) == pytest.approx(pull_n, rel=1e-3)
        assert float(tension.lower_n[0]) == pytest.approx(pull_n, rel=1e-3)


def leaves_of(site: Site) -> Leaves:
    deck = site.deck
    return Leaves(
        deck.leaf_a.length,
        deck.leaf_b.length,
        deck.leaf_a.mass,
        deck.leaf_b.mass,
        deck.leaf_a.centre,
        deck.leaf_b.centre,
        deck.end_mass,
        deck.kicker_depth,
    )


def worst_difference_deg(site: Site, start_deg: float, end_deg: float) -> float:
    """Drive the plant and, with the same rope paid out, MuJoCo; compare the angles.

    MuJoCo runs five steps in each millisecond. The elastic rope's law is written anew
    here: pull of both parts = 2 (EA (2 l + lead - R)/R + c (2 dl/dt - dR/dt)).
    """
    plant = Plant(site)
    plant.place(math.radians(start_deg))
    linkage = Linkage(leaves_of(site), math.radians(start_deg), step_s=2e-4)
    direction = 1 if end_deg > start_deg else -1
    command = windings(site, direction)
    stiffness, damping, lead = site.rope.stiffness, site.rope.damping, site.rope.lead
    out = plant.rope_out_m
    worst = 0.0
    while direction * (math.radians(end_deg) - plant.angle_rad) > 0.0:
        plant.step(1.0, command, True)
        rate = (plant.rope_out_m - out) / 1e-3
        for _ in range(5):
            out += rate * 2e-4
            strain = (2.0 * linkage.rope_m + lead - out) / out
            pull = stiffness * strain + damping * (2.0 * linkage.rope_rate - rate)
            linkage.step(2.0 * max(0.0, pull) if strain > 0.0 else 0.0)
        worst = max(worst, abs(plant.angle_rad - linkage.angle_rad))
    return math.degrees(worst)


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
@pytest.mark.parametrize(("start_deg", "end_deg"), [(1.0, 76.0), (76.0, 1.0)])
def test_motion_agrees_within_a_tenth_of_a_degree(
    name: str, start_deg: float, end_deg: float
) -> None:
    assert worst_difference_deg(frictionless(name), start_deg, end_deg) < 0.1


def unequal_site() -> Site:
    site = frictionless(ALTERNATING)
    deck = site.deck
    leaf_a = deck.leaf_a.model_copy(update={"length": 1.1, "mass": 40.0, "centre": 0.5})
    leaf_b = deck.leaf_b.model_copy(update={"length": 1.4, "mass": 60.0, "centre": 0.8})
    changed = deck.model_copy(update={"leaf_a": leaf_a, "leaf_b": leaf_b})
    return site.model_copy(update={"deck": changed})


@pytest.mark.parametrize(("start_deg", "end_deg"), [(1.0, 76.0), (76.0, 1.0)])
def test_motion_of_unequal_leaves_agrees_as_well(start_deg: float, end_deg: float) -> None:
    assert worst_difference_deg(unequal_site(), start_deg, end_deg) < 0.1


@pytest.mark.parametrize("site", [frictionless(DIRECT), unequal_site()], ids=["equal", "unequal"])
def test_free_fall_agrees_in_angle_and_speed(site: Site) -> None:
    """With the rope gone only the leaves' inertias decide how the deck falls."""
    parted = next(item for item in plant_defects(site) if item.id == "rope_parted")
    plant = Plant(site, (parted,))
    plant.place(math.radians(60))
    linkage = Linkage(leaves_of(site), math.radians(60), step_s=1e-4)
    while plant.angle_rad > math.radians(3):
        plant.step(1.0, windings(site, 0), False)
        for _ in range(10):
            linkage.step(0.0)
        assert plant.angle_rad == pytest.approx(linkage.angle_rad, abs=math.radians(0.1))
    rate = float(linkage.data.joint("a").qvel[0])
    assert plant.deck.angle_rate == pytest.approx(rate, rel=0.01)
