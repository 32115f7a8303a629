"""The supply of the motor: breaker or fuse, cable, voltage drop when running and at a start."""

from dataclasses import dataclass

from leafwinch_sim.site_schema import CapacitorRun, Site
from leafwinch_sim.sizing.proposals import start_peak_a
from leafwinch_sim.sizing.supply_rules import (
    DROP_LIMIT,
    STANDARD_BREAKERS_A,
    Breaker,
    cable_capacity_a,
    cable_ohm,
    parse_breaker,
    smallest_area_for_drop_mm2,
    smallest_area_mm2,
    smallest_breaker,
    voltage_drop_v,
)
from leafwinch_sim.sizing.worked import Worked

RUN_COS = 0.8  # power factor of a running motor, IEC 60364-5-52 annex G
START_COS = 0.6  # at a start (common practice, no source)
START_DROP = 0.10  # of the voltage at a start (common practice, no source)
FUSE_MARGIN = 1.25  # over the running current, and
FUSE_START = 4.0  # times its rating for a start of a quarter second: common practice, no source
LEAST_BREAKER_A = 6.0  # smaller ones are rarely fitted (common practice, no source)
METHOD_DEFAULT, AMBIENT_DEFAULT = "B2", 30.0


@dataclass(frozen=True, slots=True)
class SupplyPart:
    """Currents in A, areas in mm2, drops as shares of the nominal voltage.

    Attributes:
        run_a, start_a: greatest running and starting current.
        breaker: proposed, as printed on its front, or the rating of a fuse; empty where no
            listed one does.
        area_mm2: proposed cross-section; None where none is enough.
        run_drop, start_drop: with the cable as it is, None where no cable is told.
        capacity_a: that the given cable carries, None where no cable is told or the tables
            do not list it.
        given: the breaker of the site, or None.
        cable_ohm: of the given cable, there and back.
        words: how the proposal came about.
    """

    run_a: float
    start_a: float
    breaker: str
    breaker_a: float
    area_mm2: float | None
    run_drop: float | None
    start_drop: float | None
    capacity_a: float | None
    given: Breaker | None
    cable_ohm: float | None
    words: str


def supply_part(worked: Worked) -> SupplyPart:
    """Judge the supply of a site and propose breaker and cable."""
    site = worked.site
    run_a, start_a = worked.highest_running_a(), start_peak_a(worked)
    cable = site.supply.cable
    direct = not isinstance(site.motor, CapacitorRun)
    name, rating, words = _fuse(run_a, start_a) if direct else _breaker(run_a, start_a)
    method = METHOD_DEFAULT if cable is None else cable.method
    ambient = AMBIENT_DEFAULT if cable is None else cable.ambient
    given = None if cable is None or cable.breaker is None else parse_breaker(cable.breaker)
    carries = rating if given is None else given.rating_a
    run_drop = start_drop = capacity = ohm = None
    if cable is not None:
        run_drop = _drop(site, run_a, cable.length, cable.area, RUN_COS)
        start_drop = _drop(site, start_a, cable.length, cable.area, START_COS)
        ohm = cable_ohm(cable.length, cable.area)
        try:
            capacity = cable_capacity_a(method, cable.area, ambient)
        except ValueError:
            capacity = None  # an area that the tables do not list is not judged
    length = 0.0 if cable is None else cable.length
    return SupplyPart(
        run_a=run_a,
        start_a=start_a,
        breaker=name,
        breaker_a=rating,
        area_mm2=_area(site, carries, run_a, start_a, length, method, ambient),
        run_drop=run_drop,
        start_drop=start_drop,
        capacity_a=capacity,
        given=given,
        cable_ohm=ohm,
        words=words,
    )


def _breaker(run_a: float, start_a: float) -> tuple[str, float, str]:
    try:
        found = smallest_breaker(max(run_a, LEAST_BREAKER_A), start_a)
    except ValueError:
        return "", 0.0, "no listed breaker carries this start"
    low, _ = found.magnetic_band_a()
    return (
        str(found),
        found.rating_a,
        f"IEC 60898-1: type {found.type} does not trip at once below {low:g} A",
    )


def _fuse(run_a: float, start_a: float) -> tuple[str, float, str]:
    needed = max(FUSE_MARGIN * run_a, start_a / FUSE_START)
    rating = next((float(size) for size in STANDARD_BREAKERS_A if size >= needed), 0.0)
    if not rating:
        return "", 0.0, "no listed rating carries this start"
    return (
        f"{rating:g} A",
        rating,
        "a slow fuse or breaker rated for direct current, near the battery's plus: "
        f"{FUSE_MARGIN:g} times the running current, a quarter of a start",
    )


def _drop(site: Site, current_a: float, length_m: float, area_mm2: float, cos_phi: float) -> float:
    direct = site.supply.frequency == 0
    drop = voltage_drop_v(current_a, length_m, area_mm2, cos_phi, dc=direct)
    return drop / site.supply.voltage


def _area(
    site: Site,
    rating_a: float,
    run_a: float,
    start_a: float,
    length_m: float,
    method: str,
    ambient_c: float,
) -> float | None:
    direct = site.supply.frequency == 0
    voltage = site.supply.voltage
    try:
        wanted = [smallest_area_mm2(rating_a, method, ambient_c)] if rating_a else []
        if length_m > 0.0:
            wanted.append(
                smallest_area_for_drop_mm2(run_a, length_m, voltage, RUN_COS, direct, DROP_LIMIT)
            )
            wanted.append(
                smallest_area_for_drop_mm2(
                    start_a, length_m, voltage, START_COS, direct, START_DROP
                )
            )
    except ValueError:
        return None
    return max(wanted, default=None)
