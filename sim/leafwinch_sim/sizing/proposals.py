"""The settings that follow from a site: each with its value and the reason for it."""

import math
from dataclasses import dataclass

import numpy as np

from leafwinch.settings_schema import SCHEMA
from leafwinch_sim.site_schema import CapacitorRun
from leafwinch_sim.sizing.drive import Travel
from leafwinch_sim.sizing.duty_rules import S3_CYCLE_S, rms_current
from leafwinch_sim.sizing.end_places import bottom_rope_mm
from leafwinch_sim.sizing.plate import ON_PLATE, duty_percent, locked_rotor_band_a, rated_current
from leafwinch_sim.sizing.trip_window import READING_ERROR, TripWindow
from leafwinch_sim.sizing.worked import TRIP_MS, Worked
from leafwinch_sim.spread import SUPPLY

SENSOR_RANGES_A = (2, 5, 10, 20, 30, 50, 75, 100, 150, 200, 300, 400, 500, 600, 800, 1000)
INRUSH_MARGIN = 1.25  # over the greatest starting current
RANGE_MARGIN = 1.05  # of the sensor over the starting trip
BUDGET_MARGIN = 1.1  # over the slowest healthy travel, and
BUDGET_EXTRA_S = 1.0
EARLY_SHARE = 0.85  # of the fastest healthy travel
NOISE_A_PER_RANGE = 0.004
CONVERTER_SHARE = 133  # the current at rest is told apart from this part of the range on


@dataclass(frozen=True, slots=True)
class Proposal:
    """One setting: its name in the schema, its value in the schema's unit, and why."""

    name: str
    value: int
    why: str


def _up(value: float, step: int) -> int:
    return int(math.ceil(round(value / step, 6)) * step)


def _down(value: float, step: int) -> int:
    return math.floor(round(value / step, 6)) * step


def fine(value_ma: float) -> int:
    """Round a current in mA to two figures and a half, at least to 10 mA (2495 to 2500)."""
    step = max(10, 5 * 10 ** max(0, math.floor(math.log10(max(value_ma, 1.0))) - 2))
    return int(max(step, round(value_ma / step) * step))


def sensor_range_a(worked: Worked) -> float:
    """Return the range of the current sensor: the site's own, or the least listed that does."""
    given = worked.site.settings.get("sensor_range_ma")
    if given is not None:
        return given / 1000.0
    return needed_sensor_a(worked)


def needed_sensor_a(worked: Worked) -> float:
    """Return the least listed range in A that measures the starting trip."""
    needed = start_peak_a(worked) * INRUSH_MARGIN * RANGE_MARGIN
    return float(next((size for size in SENSOR_RANGES_A if size >= needed), SENSOR_RANGES_A[-1]))


def start_peak_a(worked: Worked) -> float:
    """Return the greatest current of a start in A, at the highest supply.

    Of the site's motor, or by the code letter of the plate where that is more.
    """
    band = locked_rotor_band_a(worked.site)
    by_letter = 0.0 if band is None else SUPPLY[1] * band[1]
    return max(worked.starting.peak_a, float(worked.stalled_high.current_a), by_letter)


def proposals(worked: Worked, window: TripWindow) -> list[Proposal]:
    """Return every setting of the schema, in its order, the trip out of its window."""
    range_a = sensor_range_a(worked)
    found = {
        **_times(worked),
        **_currents(worked, window, range_a),
        **_heat(worked),
        **_slack(worked),
    }
    given = worked.site.settings
    rows = []
    for name, _unit, _lowest, _highest, default in SCHEMA:
        if name in found:
            value, why = found[name]
            rows.append(Proposal(name, _inside(name, value), why))
        elif name == "supply_full_mv" and name in given:
            rows.append(Proposal(name, given[name], "the board's own divider, as the site says"))
        else:
            rows.append(Proposal(name, default, "does not depend on the site"))
    return rows


def _inside(name: str, value: int) -> int:
    """Keep a value in the range of the schema; the findings tell where that matters."""
    lowest, highest = next((int(row[2]), int(row[3])) for row in SCHEMA if row[0] == name)
    return min(max(value, lowest), highest)


Found = dict[str, tuple[int, str]]


def _times(worked: Worked) -> Found:
    slow_up, fast_up = _extremes(worked, "raising")
    slow_down, fast_down = _extremes(worked, "lowering")
    start_s = _finite(worked.starting.seconds)
    nominal_up = _finite(float(worked.nominal.raising.seconds)) + start_s
    nominal_down = _finite(float(worked.nominal.lowering.seconds)) + start_s
    budget_up = _up((slow_up + start_s) * BUDGET_MARGIN * 1000 + BUDGET_EXTRA_S * 1000, 500)
    budget_down = _up((slow_down + start_s) * BUDGET_MARGIN * 1000 + BUDGET_EXTRA_S * 1000, 500)
    release = max(max(coil.release_ms, coil.mirror_close_ms) for coil in worked.net.coils)
    operate = max(max(coil.operate_ms, coil.mirror_open_ms) for coil in worked.net.coils)
    leave_bottom_s = leaving_bottom_s(worked)
    return {
        "pull_ms": (
            _up(max(100.0, 3 * operate), 10),
            f"{operate:g} ms of the slowest, three times",
        ),
        "release_ms": (
            _up(max(100.0, 3 * release), 10),
            f"{release:g} ms of the slowest with its suppression, three times",
        ),
        "travel_raise_ms": (_up(nominal_up * 1000, 100), "full travel as the file says"),
        "travel_lower_ms": (_up(nominal_down * 1000, 100), "full travel as the file says"),
        "budget_raise_ms": (
            max(budget_up, _up(nominal_up * 1000, 100) + 100),
            f"slowest healthy travel {slow_up:.1f} s, {BUDGET_MARGIN:g} times and "
            f"{BUDGET_EXTRA_S:g} s",
        ),
        "budget_lower_ms": (
            max(budget_down, _up(nominal_down * 1000, 100) + 100),
            f"slowest healthy travel {slow_down:.1f} s, the same",
        ),
        "early_raise_ms": (
            _down(fast_up * EARLY_SHARE * 1000, 100),
            f"fastest healthy travel {fast_up:.1f} s, {EARLY_SHARE:g} of it",
        ),
        "early_lower_ms": (
            _down(fast_down * EARLY_SHARE * 1000, 100),
            f"fastest healthy travel {fast_down:.1f} s, {EARLY_SHARE:g} of it",
        ),
        "extra_ms": (max(budget_up, budget_down), "one whole budget"),
        "leave_bottom_ms": (
            _up(leave_bottom_s * 1000 * 1.5 + 300, 100),
            f"{leave_bottom_s:.2f} s when slow and with the slack of a stop, half as long again",
        ),
        "leave_top_ms": (
            _up(max(1.0, worked.slack.leave_s * 1.3 + 0.3) * 1000, 100),
            f"{worked.slack.leave_s:.2f} s from the final, simulated with stiff hinges",
        ),
        "trip_ms": (TRIP_MS, "three mains cycles"),
        "inrush_ms": (
            _up(max(0.2, start_s * 1.5 + 0.1) * 1000, 50),
            f"the start takes {start_s * 1000:.0f} ms at its hardest, half as long again",
        ),
    }


def _extremes(worked: Worked, way: str) -> tuple[float, float]:
    seconds = [_finite(float(getattr(drive, way).seconds)) for drive in worked.corners]
    return max(seconds), min(seconds)


def _finite(seconds: float) -> float:
    """Return a time that can be set even where the motor stalls; the findings tell that."""
    return seconds if math.isfinite(seconds) else 299.0


def leaving_bottom_s(worked: Worked) -> float:
    """Return the time until the bottom limit lets go, slow and with the slack that a stop left."""
    site = worked.site
    limit = site.limits.bottom_end
    slack_m = bottom_rope_mm(worked, worked.kind("end_by_second_way")) / 1000.0
    geometry = worked.geometry
    slow = worked.corners[0].up
    line = slow.speed_rad_s[0] / site.gear.ratio * geometry.radius_m[0]
    if limit.senses == "leaf_angle":
        until = limit.at + limit.reset_differential
        path_m = 2.0 * float(
            geometry.path_m[0] - np.interp(until, geometry.angle_deg, geometry.path_m)
        )
    elif limit.senses == "drum_turns":
        path_m = limit.reset_differential * 2.0 * math.pi * float(geometry.radius_m[0])
    else:
        path_m = limit.reset_differential / 1000.0
    if line <= 0.0:
        return 1.0
    return (slack_m + path_m) / float(line) + _finite(worked.starting.seconds)


def bottom_slack_s(worked: Worked) -> float:
    """Return the time in which a rope wound backwards would pay out the slack allowed."""
    fast = worked.corners[-1].up
    radius = float(worked.geometry.radius_m[0])
    line = float(fast.speed_rad_s[-1]) / worked.site.gear.ratio * radius
    return worked.site.allowed.bottom_slack / line if line > 0.0 else math.inf


def _currents(worked: Worked, window: TripWindow, range_a: float) -> Found:
    site = worked.site
    low, chosen = window.low_a, window.chosen_a or window.low_a * 1.2
    running = math.sqrt(low * chosen)
    start = start_peak_a(worked)
    inrush = max(start * INRUSH_MARGIN, chosen * 1.1)
    rest = _up(range_a * 1000 / CONVERTER_SHARE, 50)
    noise = NOISE_A_PER_RANGE * range_a
    least_up, least_down = least_currents(worked)
    margin = band_a(worked) + noise
    direct = not isinstance(site.motor, CapacitorRun)
    against = max(0.0, -least_down, -least_up)
    missing_up, missing_down = (_missing(least, rest) for least in (least_up, least_down))
    return {
        "current_signed": (int(direct), "direct current tells its direction" if direct else "RMS"),
        "lower_drives": (
            int(site.gear.back_efficiency <= 0.0),
            "the gear holds, so the motor drives the deck down"
            if site.gear.back_efficiency <= 0.0
            else "the load can drive the motor",
        ),
        "trip_ma": (
            fine(chosen * 1000),
            f"between {low:.2f} A, the highest healthy, and {window.high_a:.2f} A",
        ),
        "inrush_trip_ma": (
            fine(inrush * 1000),
            f"a start takes {start:.1f} A at most, {INRUSH_MARGIN:g} times",
        ),
        "run_max_ma": (
            min(fine(running * 1000), fine(chosen * 1000) - 10),
            f"above the highest healthy {low:.2f} A, below the trip",
        ),
        "missing_raise_ma": (missing_up, f"least healthy {least_up:.2f} A; 0: can't be told"),
        "missing_lower_ma": (missing_down, f"least healthy {least_down:.2f} A; 0: can't be told"),
        "rest_ma": (rest, f"what a sensor of {range_a:g} A can tell from nothing"),
        "wrong_ma": (
            fine(max(2.0 * rest, (against * 1.3 + noise) * 1000)),
            f"healthy is {against:.2f} A against the direction, or what the sensor can tell",
        ),
        "jam_margin_ma": (
            max(fine(margin * 1000), 10),
            f"healthy currents at one place differ by {margin:.2f} A, noise included",
        ),
        "under_margin_ma": (max(fine(margin * 1000), 10), "the same, below"),
        "sensor_range_ma": (
            round(range_a * 1000),
            "the site's own sensor"
            if "sensor_range_ma" in site.settings
            else "the least listed range above the starting trip",
        ),
    }


def _missing(least_a: float, rest_ma: int) -> int:
    """Return a level below the least healthy current, 0 where the sensor can't tell it."""
    level = _down(least_a * 500.0, 50)
    return level if 2 * level >= rest_ma // 2 and level >= 50 else 0


def least_currents(worked: Worked) -> tuple[float, float]:
    """Return the least healthy currents in the direction of travel, raising and lowering."""
    up = min(float(np.min(d.up.current_a[worked.up_range()])) for d in worked.corners)
    down = min(float(np.min(d.down.current_a[worked.down_range()])) for d in worked.corners)
    return up, down


def band_a(worked: Worked) -> float:
    """Return by how much healthy currents at one place differ from each other, at most."""
    widest = 0.0
    for part, where in (("up", worked.up_range()), ("down", worked.down_range())):
        rows = np.array([getattr(drive, part).current_a[where] for drive in worked.corners])
        widest = max(widest, float(np.max(np.max(rows, axis=0) - np.min(rows, axis=0))))
    return widest * (1.0 + READING_ERROR)


def highest_rms_a(worked: Worked) -> float:
    """Return the highest RMS current of a healthy travel and the start before it."""
    return max(
        _with_start(worked, part)
        for drive in worked.corners
        for part in (drive.raising, drive.lowering)
    )


def _with_start(worked: Worked, part: Travel) -> float:
    start = worked.starting
    travel_s, travel_a = float(part.seconds), float(part.rms_a)
    if not (math.isfinite(start.seconds) and math.isfinite(travel_s)):
        return travel_a  # it stalls, which the findings tell
    return rms_current([(start.rms_a, start.seconds), (travel_a, travel_s)])


def _heat(worked: Worked) -> Found:
    rms = highest_rms_a(worked)
    if not math.isfinite(rms):
        rms = worked.highest_running_a()
    base, why = rms * 1.35, f"{rms:.2f} A RMS of the hardest travel, a third more"
    rated = rated_current(worked.site)
    # The table behind a plate without a current is generous, so it only lowers the level.
    if rated is not None and (rated.words == ON_PLATE or 1.1 * rated.value < base):
        base, why = 1.1 * rated.value, f"1.1 times the {rated.value:g} A of {rated.words}"
    found = duty_percent(worked.site)
    duty = found.value
    return {
        "thermal_base_ma": (fine(base * 1000), why),
        "duty_pct": (round(duty), f"S3 {duty:g} % ({found.words})"),
        "duty_allow_ms": (
            _up(max(S3_CYCLE_S * duty / 100.0, 10.0) * 1000, 1000),
            f"{duty:g} % of the {S3_CYCLE_S / 60:g} minutes of S3 in one go",
        ),
    }


def _slack(worked: Worked) -> Found:
    fitted = worked.site.limits.slack_rope is not None
    slack = worked.slack
    if not fitted:
        return {"slack_fitted": (0, "no slack-rope switch")}
    top = _up(max(1.5, 2.0 * slack.longest_s + 0.5) * 1000, 100)
    return {
        "slack_fitted": (1, "there is a slack-rope switch"),
        "slack_top_ms": (
            top,
            f"gravity follows a start at the top {slack.longest_s:.2f} s late, twice and a bit",
        ),
        "slack_zone_ms": (
            _up(max(2.0, 2.0 * slack.last_s + 1.0) * 1000, 100),
            f"slack is over {slack.last_s:.2f} s after such a start, twice and a bit",
        ),
    }
