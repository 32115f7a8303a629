"""The healthy machine: travels, rest, snapshots, step lengths, slack."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leafwinch_sim.plant import Plant
from leafwinch_sim.plant_defects import PlantDefect, plant_defects
from leafwinch_sim.site import Site, load_site, shipped_sites
from tests.sim.sites import ALTERNATING, DIRECT, drive, travel, windings

SITES = {name: load_site(name) for name in shipped_sites()}
both = pytest.mark.parametrize("name", shipped_sites())


@both
def test_a_full_cycle_ends_where_it_began(name: str) -> None:
    plant = Plant(SITES[name])
    flat_turns = plant.drum_turns
    travel(plant, 1)
    drive(plant, 0, 1000)
    assert not plant.moving
    assert plant.angle_rad > math.radians(70)
    assert plant.buffer_force_n == 0.0
    travel(plant, -1)
    drive(plant, 0, 1000)
    assert not plant.moving
    assert plant.angle_rad == 0.0
    assert plant.slack_m < SITES[name].allowed.bottom_slack
    assert plant.drum_turns == pytest.approx(flat_turns, abs=0.3)
    assert plant.drum_turns >= SITES[name].drum.dead_wraps


@both
@pytest.mark.parametrize("supply", [0.9, 1.1])
def test_flat_start_with_dry_bearings_and_the_supplys_tolerance(name: str, supply: float) -> None:
    plant = Plant(SITES[name])
    plant.apply(named(SITES[name], "friction_tripled"))
    plant.winch.supply_factor = supply
    drive(plant, 1, 3000)
    assert plant.angle_rad > math.radians(10)


def named(site: Site, id_: str) -> PlantDefect:
    return next(defect for defect in plant_defects(site) if defect.id == id_)


@both
def test_working_ends_come_well_before_finals_and_buffer(name: str) -> None:
    """Coast included: with the brake's delay the deck stops short of the final limit."""
    plant = Plant(SITES[name])
    travel(plant, 1)
    drive(plant, 0, 1000)
    final = SITES[name].limits.top_final
    assert not final.is_actuated(plant.sensed(final.senses), False)
    travel(plant, -1)
    worst_slack_mm = 0.0
    for _ in range(1000):
        plant.step(1.0, windings(SITES[name], 0), False)
        worst_slack_mm = max(worst_slack_mm, plant.slack_m * 1000)
    final = SITES[name].limits.bottom_final
    assert not final.is_actuated(plant.sensed(final.senses), False)
    assert worst_slack_mm < 20


@both
def test_coast_is_a_few_millimetres_of_rope(name: str) -> None:
    plant = Plant(SITES[name])
    plant.place(math.radians(40))
    drive(plant, 1, 2000)
    before = plant.rope_out_m
    drive(plant, 0, 300)
    assert 0.003 < before - plant.rope_out_m < 0.015
    assert plant.motor_rad_s == 0.0


@both
def test_every_step_length_gives_the_same_travel(name: str) -> None:
    angles = []
    for dt_ms in (1, 2, 5):
        plant = Plant(SITES[name])
        plant.place(math.radians(2))
        drive(plant, 1, 10_000 // dt_ms, dt_ms)
        angles.append(math.degrees(plant.angle_rad))
    assert angles[1] == pytest.approx(angles[0], abs=0.05)
    assert angles[2] == pytest.approx(angles[0], abs=0.25)


@both
@pytest.mark.parametrize("angle_deg", [0.0, 0.5, 9.0, 40.0, 79.0])
def test_at_rest_nothing_moves_by_a_bit(name: str, angle_deg: float) -> None:
    plant = Plant(SITES[name])
    plant.place(math.radians(angle_deg))
    plant.fast_rest = False
    drive(plant, 0, 300)
    before = plant.snapshot()
    drive(plant, 0, 2000)
    assert plant.snapshot() == before


@both
def test_fast_rest_equals_the_full_step(name: str) -> None:
    """A long random drive with rests, once with and once without the short cut."""
    fast, full = Plant(SITES[name]), Plant(SITES[name])
    full.fast_rest = False
    chance = random.Random(20)
    for _ in range(40):
        direction = chance.choice((-1, 0, 0, 1))
        steps = chance.randrange(20, 600)
        for plant in (fast, full):
            drive(plant, direction, steps)
        assert fast.snapshot() == full.snapshot()


@both
def test_fast_rest_misses_no_defect(name: str) -> None:
    """Each defect comes and goes at rest; the short cut never hides what it does."""
    site = SITES[name].model_copy(
        update={"gear": SITES[name].gear.model_copy(update={"back_efficiency": 0.7})}
    )
    for defect in plant_defects(site):
        fast, full = Plant(site), Plant(site)
        full.fast_rest = False
        for plant in (fast, full):
            plant.place(math.radians(30))
            drive(plant, 0, 100)
            plant.apply(defect)
            drive(plant, 0, 400)
            plant.remove(defect)
            drive(plant, 0, 400)
        assert fast.snapshot() == full.snapshot(), defect.id


def script(chance: random.Random, length: int) -> list[tuple[int, int]]:
    return [(chance.choice((-1, 0, 1)), chance.randrange(5, 200)) for _ in range(length)]


@both
@given(seed=st.integers(0, 10_000))
def test_restore_is_exact_and_branches_agree(name: str, seed: int) -> None:
    site = SITES[name]
    chance = random.Random(seed)
    plant = Plant(site)
    plant.place(math.radians(chance.uniform(0.0, 78.0)))
    defects = [defect for defect in plant_defects(site) if defect.category != "limit"]
    for defect in chance.sample(defects, chance.randrange(0, 3)):
        plant.apply(defect)
    for direction, steps in script(chance, 3):
        drive(plant, direction, steps)
    saved = plant.snapshot()
    branch = script(chance, 3)
    for direction, steps in branch:
        drive(plant, direction, steps)
    expected = plant.snapshot()
    plant.apply(chance.choice(defects))
    drive(plant, 1, 50)
    plant.restore(saved)
    assert plant.snapshot() == saved
    for direction, steps in branch:
        drive(plant, direction, steps)
    assert plant.snapshot() == expected
    other = Plant(site)
    other.restore(saved)
    for direction, steps in branch:
        drive(other, direction, steps)
    assert other.snapshot() == expected


def lowered_from(angle_deg: float, *defects: PlantDefect) -> tuple[float, Plant]:
    """Lower for 4 s at full speed without a buffer's help; return the greatest slack."""
    site = SITES[ALTERNATING]
    late = site.buffer.model_copy(update={"place": 87.5})
    plant = Plant(site.model_copy(update={"buffer": late}), defects)
    plant.place(math.radians(angle_deg))
    worst_m = 0.0
    for _ in range(4000):
        plant.step(1.0, windings(site, -1), True)
        worst_m = max(worst_m, plant.slack_m)
    return worst_m, plant


def test_full_speed_outruns_gravity_near_upright_though_nothing_is_wrong() -> None:
    """Moving slack: the winch pays out faster than the deck can begin to fall."""
    at_top_end_m, _ = lowered_from(79.0)
    higher_m, plant = lowered_from(84.0)
    assert at_top_end_m < 0.004
    assert higher_m > 0.012
    assert plant.slack_m == 0.0


def test_static_slack_begins_lower_with_poor_friction() -> None:
    dry = named(SITES[ALTERNATING], "friction_tripled")
    healthy_m, healthy = lowered_from(83.0)
    dry_m, stuck = lowered_from(83.0, dry)
    assert healthy_m < 0.02
    assert healthy.angle_rad < math.radians(77)
    assert stuck.angle_rad == pytest.approx(math.radians(83.0), abs=1e-3)
    assert dry_m > 0.5


def test_lowering_draws_less_than_raising_and_direct_current_shows_the_direction() -> None:
    for name in (ALTERNATING, DIRECT):
        plant = Plant(SITES[name])
        plant.place(math.radians(30))
        drive(plant, 1, 1000)
        raising = plant.current_a
        plant.place(math.radians(30))
        drive(plant, -1, 1000)
        lowering = plant.current_a
        assert abs(lowering) < raising
        assert (lowering < 0.0) == (name == DIRECT)


def test_slack_is_taken_up_before_the_deck_moves() -> None:
    plant = Plant(SITES[ALTERNATING])
    plant.place(0.0, slack_m=0.05)
    assert plant.slack_m == pytest.approx(0.05)
    drive(plant, 1, 200)
    assert plant.angle_rad == 0.0
    drive(plant, 1, 1500)
    assert plant.slack_m == 0.0
    assert plant.angle_rad > 0.0


def test_lowering_on_past_the_bare_drum_winds_backwards_and_raises_the_deck() -> None:
    plant = Plant(SITES[ALTERNATING])
    drive(plant, -1, 3000)
    assert plant.slack_m > 0.3
    drive(plant, -1, 9000)
    assert plant.drum_turns < -2.0
    assert plant.angle_rad > math.radians(5)


@both
@given(supply=st.floats(0.8, 1.0))
def test_lower_supply_is_never_faster(name: str, supply: float) -> None:
    angles = []
    for factor in (supply, supply + 0.1):
        plant = Plant(SITES[name])
        plant.winch.supply_factor = factor
        drive(plant, 1, 1500)
        angles.append(plant.angle_rad)
    assert angles[0] <= angles[1]


@both
@given(load_kg=st.floats(1.0, 60.0), angle_deg=st.floats(2.0, 75.0))
def test_heavier_deck_never_lowers_the_tension_at_rest(
    name: str, load_kg: float, angle_deg: float
) -> None:
    plant = Plant(SITES[name])
    plant.place(math.radians(angle_deg))
    drive(plant, 0, 100)
    before = plant.tension_n
    plant.deck.mechanism.deck_load_kg = load_kg
    plant.place(math.radians(angle_deg))
    drive(plant, 0, 100)
    assert plant.tension_n > before


def test_placing_outside_the_range_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot place"):
        Plant(SITES[ALTERNATING]).place(math.radians(89.5))
    with pytest.raises(ValueError, match="cannot sense"):
        Plant(SITES[ALTERNATING]).sensed("moon")
