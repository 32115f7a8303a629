"""Every defect of the machine does what its name says, and can be repaired."""

import math

import pytest

from leafwinch_sim.plant import Plant
from leafwinch_sim.plant_defects import PlantDefect, plant_defects
from leafwinch_sim.plant_drop import drop_after, worst_drop
from leafwinch_sim.site import Site, load_site, shipped_sites
from tests.sim.sites import ALTERNATING, DIRECT, drive, travel, windings

SITES = {name: load_site(name) for name in shipped_sites()}
PIT, SLIP = SITES[ALTERNATING], SITES[DIRECT]
both = pytest.mark.parametrize("site", [PIT, SLIP], ids=lambda site: str(site.name))
EVERY = [(site, defect) for site in (PIT, SLIP) for defect in plant_defects(site)]
OF_THE_MACHINE = [(site, defect) for site, defect in EVERY if defect.category != "limit"]


def name_of(value: object) -> str:
    return value.name if isinstance(value, Site) else getattr(value, "id", str(value))


def named(site: Site, id_: str) -> PlantDefect:
    return next(defect for defect in plant_defects(site) if defect.id == id_)


def broken(site: Site, id_: str, angle_deg: float) -> Plant:
    plant = Plant(site)
    plant.place(math.radians(angle_deg))
    drive(plant, 0, 50)
    plant.apply(named(site, id_))
    return plant


def degrees(plant: Plant) -> float:
    return math.degrees(plant.angle_rad)


@both
def test_ids_are_unique_and_every_entry_tells_its_cause(site: Site) -> None:
    defects = plant_defects(site)
    assert len({defect.id for defect in defects}) == len(defects)
    assert all(len(defect.cause.split()) >= 3 for defect in defects)
    for defect in defects:
        texts = (defect.caution, defect.inspection, defect.drop)
        assert all(texts) if defect.unpreventable else not any(texts)


@pytest.mark.parametrize(("site", "defect"), OF_THE_MACHINE, ids=name_of)
def test_it_changes_something(site: Site, defect: PlantDefect) -> None:
    """No entry is without effect: some drive from some angle ends up elsewhere."""

    def outcomes(extra: tuple[PlantDefect, ...]) -> list[tuple[object, ...]]:
        found = []
        for angle_deg in (0.0, 40.0, site.limits.top_end.at):
            for direction in (1, -1):
                plant = Plant(site)
                plant.place(math.radians(angle_deg))
                for item in extra:
                    plant.apply(item)
                drive(plant, direction, 700)
                drive(plant, 0, 300)
                found.append(plant.snapshot()[2:])
        return found

    assert outcomes((defect,)) != outcomes(())


@pytest.mark.parametrize(("site", "defect"), OF_THE_MACHINE, ids=name_of)
@pytest.mark.parametrize("dt_ms", [2, 5])
def test_it_stays_finite_and_in_its_range(site: Site, defect: PlantDefect, dt_ms: int) -> None:
    for angle_deg in (0.0, 9.0, site.limits.top_end.at):
        for direction in (1, -1):
            plant = Plant(site)
            plant.place(math.radians(angle_deg))
            drive(plant, direction, 200 // dt_ms, dt_ms)
            plant.apply(defect)
            for command in (direction, 0, -direction):
                drive(plant, command, 1000 // dt_ms, dt_ms)
                assert 0.0 <= plant.angle_rad < math.radians(90)
                assert 0.0 <= plant.tension_n < site.rope.breaking_force
                assert math.isfinite(plant.current_a)
                assert abs(plant.motor_rad_s) < 1000


@pytest.mark.parametrize(("site", "defect"), OF_THE_MACHINE, ids=name_of)
def test_after_repair_a_full_cycle_completes(site: Site, defect: PlantDefect) -> None:
    plant = Plant(site)
    plant.place(math.radians(40))
    plant.apply(defect)
    drive(plant, 1, 500)
    drive(plant, 0, 2000)
    plant.remove(defect)
    assert not plant.defects
    drive(plant, 0, 2000)
    for direction in (-1, 1, -1):
        travel(plant, direction, dt_ms=5)
        drive(plant, 0, 500)
    assert plant.angle_rad == 0.0
    assert plant.drum_turns == pytest.approx(site.drum.turns_at_flat, abs=0.5)


@pytest.mark.parametrize(("site", "defect"), EVERY, ids=name_of)
def test_coming_twice_or_going_unasked_changes_nothing(site: Site, defect: PlantDefect) -> None:
    plant = Plant(site)
    plant.remove(defect)
    plant.apply(defect)
    plant.apply(defect)
    assert plant.defects == (defect,)
    plant.remove(defect)
    assert not plant.defects


@both
@pytest.mark.parametrize("id_", ["rope_parted", "rope_off_hook", "gear_stripped"])
def test_the_deck_falls_whatever_the_brake_does(site: Site, id_: str) -> None:
    plant = broken(site, id_, 70)
    drive(plant, 0, 4000)
    assert plant.brake_set
    assert plant.angle_rad == 0.0


@both
def test_only_unpreventable_defects_let_a_resting_deck_fall(site: Site) -> None:
    for defect in plant_defects(site):
        # People stepping on stretch the rope a little, which is no fall.
        if defect.category != "limit" and not defect.unpreventable:
            assert worst_drop(site, defect).fall_m < 0.02, defect.id


@both
def test_every_unpreventable_defect_moves_the_deck_somewhere(site: Site) -> None:
    for defect in plant_defects(site):
        if defect.unpreventable:
            drop = worst_drop(site, defect)
            assert drop.fall_m > 0.1 or drop.buffer_n > 0.0, defect.id


def test_a_free_fall_lands_with_the_energy_of_its_height() -> None:
    """v = sqrt(2 E / M) L at the flat angle, less friction: 6.0 m/s at most here."""
    drop = drop_after(PIT, named(PIT, "rope_parted"))
    assert drop.fall_m == pytest.approx(1.25 * math.sin(math.radians(79)), abs=2e-3)
    mass_term = 55 * 9.80665 * 1.25 * math.sin(math.radians(79))
    inertia_flat = 2 * 55 * 1.25**2 / 3
    fastest = 1.25 * math.sqrt(2 * mass_term / inertia_flat)
    assert 0.95 * fastest < drop.fastest_m_per_s < fastest


def test_without_the_load_brake_a_stuck_brake_lets_the_deck_down() -> None:
    gear = PIT.gear.model_copy(update={"back_efficiency": 0.6})
    driven_back = PIT.model_copy(update={"gear": gear})
    stuck = named(driven_back, "brake_stuck_off")
    assert stuck.unpreventable
    assert not named(PIT, "brake_stuck_off").unpreventable
    assert drop_after(driven_back, stuck, 40.0).fall_m > 0.5
    assert drop_after(PIT, named(PIT, "brake_stuck_off"), 40.0).fall_m < 1e-3


@pytest.mark.parametrize("id_", ["capacitor_open", "aux_open", "main_open"])
def test_raise_lowers_the_deck_when_half_the_motor_is_gone_and_nothing_locks(id_: str) -> None:
    """No starting torque: the load turns the motor backwards with the raise contactor in."""
    gear = PIT.gear.model_copy(update={"back_efficiency": 0.6})
    driven_back = PIT.model_copy(update={"gear": gear})
    plant = broken(driven_back, id_, 30)
    drive(plant, 1, 3000)
    assert degrees(plant) < 28
    assert plant.motor_rad_s < -100
    # With the load brake in place the same defect moves nothing.
    plant = broken(PIT, id_, 30)
    drive(plant, 1, 3000)
    assert degrees(plant) == pytest.approx(30, abs=0.01)
    assert plant.motor_rad_s == 0.0


def test_an_open_capacitor_stalls_at_a_high_current() -> None:
    plant = broken(PIT, "capacitor_open", 0)
    drive(plant, 1, 500)
    assert plant.current_a > 5
    assert plant.angle_rad == 0.0


def test_shorted_turns_draw_more_and_open_brushes_nothing() -> None:
    for site in (PIT, SLIP):
        healthy, shorted = Plant(site), broken(site, "turns_shorted", 0)
        drive(healthy, 1, 2000)
        drive(shorted, 1, 2000)
        assert shorted.current_a > 1.05 * healthy.current_a
    plant = broken(SLIP, "armature_open", 40)
    drive(plant, 1, 500)
    assert (plant.current_a, plant.motor_rad_s) == (0.0, 0.0)


@both
def test_a_lost_kicker_makes_the_flat_deck_a_dead_centre(site: Site) -> None:
    plant = broken(site, "kicker_lost", 0)
    drive(plant, 1, 3000)
    assert degrees(plant) < 0.1
    # The motor stalls against the stretched rope; the current says so.
    locked = Plant(site)
    locked.apply(named(site, "brake_stuck_on"))
    drive(locked, 1, 50)
    assert plant.current_a > 0.5 * locked.current_a
    raised = broken(site, "kicker_lost", 20)
    drive(raised, 1, 1000)
    assert degrees(raised) > 22


@both
def test_obstacles_stop_the_deck_and_are_not_crushed_downwards(site: Site) -> None:
    plant = broken(site, "obstacle_below", 40)
    drive(plant, -1, 3000)
    assert 36 < degrees(plant) < 38.5
    assert plant.slack_m > 0.2
    plant = broken(site, "obstacle_above", 40)
    drive(plant, 1, 1500)
    assert 41 < degrees(plant) < 50
    assert plant.tension_n > 1000


@both
@pytest.mark.parametrize("id_", ["hinge_seized", "wheel_blocked"])
def test_a_seized_deck_hangs_while_the_rope_runs_slack(site: Site, id_: str) -> None:
    plant = broken(site, id_, 60)
    drive(plant, -1, 3000)
    assert degrees(plant) == pytest.approx(60, abs=0.1)
    assert plant.slack_m > 0.3


@both
def test_a_jammed_rope_makes_lowering_raise(site: Site) -> None:
    plant = broken(site, "rope_jammed", 40)
    drive(plant, -1, 3000)
    assert degrees(plant) > 45


@both
def test_a_rope_wound_backwards_swaps_the_directions(site: Site) -> None:
    plant = broken(site, "rope_backwards", 40)
    shown = plant.drum_turns
    drive(plant, -1, 2000)
    assert degrees(plant) > 43
    assert plant.drum_turns < shown
    plant = broken(site, "rope_backwards", 40)
    shown = plant.drum_turns
    drive(plant, 1, 2000)
    assert degrees(plant) < 37
    assert plant.drum_turns > shown


def test_a_winch_that_holds_one_way_lets_a_backwards_rope_run() -> None:
    """The load brake and the friction it adds work in the proper direction only."""
    backwards = named(SLIP, "rope_backwards")
    assert backwards.unpreventable
    assert drop_after(SLIP, backwards, 12.0).fall_m > 0.15
    assert not named(PIT, "rope_backwards").unpreventable
    assert drop_after(PIT, named(PIT, "rope_backwards"), 12.0).fall_m < 0.01


def coast_mm(site: Site, *ids: str) -> float:
    plant = Plant(site)
    plant.place(math.radians(40))
    for id_ in ids:
        plant.apply(named(site, id_))
    drive(plant, 1, 1500)
    before = plant.rope_out_m
    drive(plant, 0, 3000)
    return 1000 * (before - plant.rope_out_m)


@both
def test_weak_and_slow_brakes_coast_further(site: Site) -> None:
    healthy = coast_mm(site)
    weak, slow = coast_mm(site, "brake_weak"), coast_mm(site, "brake_slow")
    assert healthy < weak < coast_mm(site, "brake_weak", "brake_slow")
    assert 2 * healthy < slow


@both
def test_a_brake_stuck_on_drags_or_stalls(site: Site) -> None:
    plant, healthy = broken(site, "brake_stuck_on", 0), Plant(site)
    drive(plant, 1, 2000)
    drive(healthy, 1, 2000)
    assert plant.current_a > 3 * healthy.current_a
    assert plant.angle_rad < 0.8 * healthy.angle_rad


def test_a_gust_folds_the_deck_against_the_buffer_and_drops_it_into_slack() -> None:
    plant = broken(PIT, "gust_lifting", 78)
    drive(plant, 0, 3000)
    assert degrees(plant) > 83
    assert plant.buffer_force_n > 0.0
    assert plant.slack_m > 0.1
    plant.remove(named(PIT, "gust_lifting"))
    drive(plant, 0, 3000)
    assert plant.buffer_force_n < 100


@both
def test_people_on_the_deck_cost_pull_and_current(site: Site) -> None:
    plant, healthy = broken(site, "people_on_deck", 10), Plant(site)
    healthy.place(math.radians(10))
    drive(plant, 1, 1000)
    drive(healthy, 1, 1000)
    assert plant.tension_n > 1.5 * healthy.tension_n
    assert plant.current_a > healthy.current_a


@both
def test_two_defects_come_and_go_in_any_order(site: Site) -> None:
    first, second = named(site, "friction_tripled"), named(site, "supply_low")
    one, other = Plant(site), Plant(site)
    one.apply(first)
    one.apply(second)
    other.apply(second)
    other.apply(first)
    for plant in (one, other):
        drive(plant, 1, 500)
    assert one.snapshot()[2:] == other.snapshot()[2:]
    one.remove(first)
    other.remove(first)
    for plant in (one, other):
        drive(plant, 1, 500)
    assert one.snapshot()[1:] == other.snapshot()[1:]
    assert one.defects == (second,)
    assert windings(site, 1)[0] == 1.0
