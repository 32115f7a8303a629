"""Sizing is quasi-static; the bench plays every millisecond. Both must tell the same."""

import math

import numpy as np
import pytest

from leafwinch.states import LOWERING, RAISING
from leafwinch_sim.plant import Plant
from leafwinch_sim.run import RunResult, run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import Site, load_site
from leafwinch_sim.sizing.end_places import bottom_rope_mm
from leafwinch_sim.sizing.size import Sizing, size_site
from leafwinch_sim.sizing.statics import angles_of, geometry_of, slack_angle_deg, tension_of
from leafwinch_sim.spread import draw
from leafwinch_wiring.netlist import Netlist, load_netlist
from tests.sim.sites import ALTERNATING, DIRECT, drive

NAMES = (ALTERNATING, DIRECT)


def installed(name: str) -> tuple[Site, Netlist]:
    site = load_site(name)
    return site, load_netlist(site.wiring)


@pytest.fixture(scope="module", params=NAMES)
def both(request: pytest.FixtureRequest) -> tuple[Sizing, RunResult]:
    site, net = installed(request.param)
    return size_site(site, net), run_script(site, load_script("full-cycle"), net)


def travels_s(result: RunResult) -> dict[int, float]:
    """Energised time of each uninterrupted travel, from the recorded states."""
    states = result.trace["state"]
    times = result.trace["t_ms"]
    longest: dict[int, float] = {}
    since = 0
    for index in range(1, len(states)):
        if states[index] != states[index - 1]:
            name = int(states[index - 1])
            longest[name] = max(longest.get(name, 0.0), (times[index] - times[since]) / 1000.0)
            since = index
    return longest


def test_travel_times(both: tuple[Sizing, RunResult]) -> None:
    sizing, result = both
    worked = sizing.parts.worked
    found = travels_s(result)
    # The run adds the start of the motor, contactors and, lowering, a slack start: 0.6 s.
    for state, drive_ in (
        (RAISING, worked.nominal.raising),
        (LOWERING, worked.nominal.lowering),
    ):
        assert float(drive_.seconds) < found[state] < float(drive_.seconds) + 0.8


def test_running_current(both: tuple[Sizing, RunResult]) -> None:
    sizing, result = both
    worked = sizing.parts.worked
    nominal = max(
        float(np.max(np.abs(worked.nominal.up.current_a[worked.up_range()]))),
        float(np.max(np.abs(worked.nominal.down.current_a[worked.down_range()]))),
    )
    # Noise and the sensor's error come on top in the run.
    assert result.peak_running_a == pytest.approx(nominal, rel=0.12)
    assert result.peak_running_a < sizing.parts.window.low_a


def test_starting_current(both: tuple[Sizing, RunResult]) -> None:
    sizing, result = both
    assert result.peak_current_a <= sizing.parts.supply.start_a * 1.03
    assert result.peak_current_a >= sizing.parts.supply.start_a * 0.75


def test_rope_pull_with_the_jerk_of_a_start(both: tuple[Sizing, RunResult]) -> None:
    sizing, result = both
    rope = sizing.parts.rope
    # The run tells the mean of the two parts, which is a little less than the line pull.
    assert result.peak_rope_n > 0.9 * rope.peak_n
    assert result.peak_rope_n < sizing.parts.worked.starting.peak_line_n


def test_overrun_is_not_less_than_played(both: tuple[Sizing, RunResult]) -> None:
    sizing, result = both
    sized = [o for o in sizing.parts.worked.overruns(worn=False) if o.kind.key == "release"]
    assert 0.0 < result.overrun_mm <= max(o.point_mm for o in sized)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("angle_deg", [0.0, 3.0, 12.0, 35.0, 60.0, 75.0])
def test_line_pull_of_a_slow_winch(name: str, angle_deg: float) -> None:
    """The bench's machine, settled while raising, pulls what statics says."""
    site, _ = installed(name)
    plant = Plant(site)
    plant.place(math.radians(angle_deg))
    pulls, angles = [], []
    for index in range(900):
        drive(plant, 1, 1)
        if index >= 600:
            pulls.append(plant.line_n)
            angles.append(plant.angle_rad)
    at_deg = math.degrees(float(np.mean(angles)))
    geometry = geometry_of(site, np.array([at_deg]))
    assert np.mean(pulls) == pytest.approx(float(tension_of(site, geometry).raise_n[0]), rel=0.03)


@pytest.mark.parametrize("name", NAMES)
def test_a_deck_stays_where_sizing_says_it_stays(name: str) -> None:
    site, _ = installed(name)
    stiff = site.model_copy(
        update={
            "deck": site.deck.model_copy(update={"hinge_friction": 0.6, "wheel_resistance": 0.08})
        }
    )
    free = slack_angle_deg(stiff)
    assert 45.0 < free < site.buffer.wall - 1.0
    for angle_deg, stays in ((free - 1.0, False), (free + 0.5, True)):
        plant = Plant(stiff)
        plant.place(math.radians(angle_deg), slack_m=0.5)
        drive(plant, 0, 400)
        assert (plant.angle_rad == math.radians(angle_deg)) is stays


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("seed", range(1, 9))
def test_sized_settings_never_trip_a_sound_installation(name: str, seed: int) -> None:
    site, net = installed(name)
    sized = site.with_settings(size_site(site, net).settings)
    result = run_script(
        sized, load_script("full-cycle"), net, seed=seed, spread=draw(seed), trace=False
    )
    assert not result.faults
    assert not result.broken
    assert not result.given_up


@pytest.mark.parametrize("name", NAMES)
def test_sized_settings_still_stop_a_jam(name: str) -> None:
    site, net = installed(name)
    sized = site.with_settings(size_site(site, net).settings)
    result = run_script(
        sized, load_script("full-cycle"), net, defects=[("wheel_blocked", 9000)], trace=False
    )
    assert not result.broken
    assert result.faults


def test_slack_left_at_the_bottom(both: tuple[Sizing, RunResult]) -> None:
    sizing, result = both
    worked = sizing.parts.worked
    played_mm = max(result.trace["slack_mm"])
    assert played_mm <= max(
        bottom_rope_mm(worked, worked.kind("end"), worn=False) + 3.0, worked.slack.deepest_mm
    )


def test_angles_hold_the_ends_exactly() -> None:
    for name in NAMES:
        site, _ = installed(name)
        angles = angles_of(site)
        assert site.limits.top_end.at in angles
        assert angles[0] == 0.0
        assert angles[-1] == site.buffer.wall
        assert np.all(np.diff(angles) > 0.0)
