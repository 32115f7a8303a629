"""The supply's table of the sizing report: breaker, cable and voltage drop."""

from leafwinch_host.report.size_tables import (
    BENCH,
    PRACTICE,
    WORKED_OUT,
    Row,
    Table,
    judge,
    judged,
    num,
    told,
)
from leafwinch_sim.sizing.parts import Parts
from leafwinch_sim.sizing.plate import locked_rotor_band_a
from leafwinch_sim.sizing.supply_part import START_DROP
from leafwinch_sim.sizing.supply_rules import DROP_LIMIT, parse_breaker

IEC_CABLE = "IEC 60364-5-52 table B.52.2, from memory"


def supply_table(parts: Parts) -> Table:
    """Return supply, breaker and cable."""
    supply = parts.supply
    breaker = supply.breaker or "none listed is enough"
    area = "none listed is enough" if supply.area_mm2 is None else f"{supply.area_mm2:g} mm²"
    return judged(
        "supply",
        (
            told("greatest running current", num(supply.run_a, ".2f", "A"), WORKED_OUT),
            told(
                "greatest starting current", num(supply.start_a, ".1f", "A"), _start_source(parts)
            ),
            told("proposed breaker or fuse", breaker, _breaker_source(parts)),
            told("proposed cross-section of copper", area, f"{IEC_CABLE}, and the drops below"),
            *_given(parts),
            *_standing(parts),
            _drop("voltage drop while running", supply.run_drop, DROP_LIMIT, "running"),
            _drop("voltage drop at a start", supply.start_drop, START_DROP, "start"),
            *_resistance(parts),
        ),
    )


def _start_source(parts: Parts) -> str:
    site = parts.worked.site
    band = locked_rotor_band_a(site)
    if site.nameplate is None or band is None:
        return BENCH
    return (
        f"{BENCH}, or NEMA MG 1, letter {site.nameplate.code_letter}: {band[0]:.1f} to "
        f"{num(band[1], '.1f', 'A')}, a tenth more on a high supply"
    )


def _breaker_source(parts: Parts) -> str:
    if parts.worked.site.supply.frequency:
        return f"{parts.supply.words}; 6 A is the least fitted, {PRACTICE}"
    return f"{parts.supply.words}: {PRACTICE}"


def _given(parts: Parts) -> list[Row]:
    supply = parts.supply
    cable = parts.worked.site.supply.cable
    if cable is None:
        return [judge("the cable", "not told", "a cable", None, "site file")]
    capacity = supply.capacity_a
    asked = "a listed cross-section" if capacity is None else f"at most {capacity:.1f} A"
    size = f"{cable.length:g} m of {cable.area:g} mm²"
    given = supply.given
    if given is None:
        # The proposed one protects the cable then.
        holds = None if capacity is None or not supply.breaker_a else supply.breaker_a <= capacity
        value = f"{size} behind {supply.breaker_a:g} A"
        return [judge("your cable", value, asked, holds, IEC_CABLE)]
    low, _ = given.magnetic_band_a()
    return [
        judge(
            "your cable",
            f"{size} behind {given}",
            asked,
            None if capacity is None else given.rating_a <= capacity,
            IEC_CABLE,
        ),
        judge(
            "your breaker, running",
            f"{given}",
            f"at least {supply.run_a:.2f} A",
            given.rating_a >= supply.run_a,
            "IEC 60898-1",
        ),
        judge(
            "your breaker, at a start",
            f"{supply.start_a:.1f} A",
            f"below {low:g} A, where it may trip at once",
            not given.may_trip_at_start(supply.start_a),
            "IEC 60898-1",
        ),
    ]


def _standing(parts: Parts) -> list[Row]:
    """Return what the breaker does while the motor stands still and fed."""
    supply = parts.supply
    breaker = supply.given
    if breaker is None and parts.worked.site.supply.frequency and supply.breaker:
        breaker = parse_breaker(supply.breaker)
    if breaker is None:
        return []
    amps = float(parts.worked.stalled.current_a)
    if amps <= breaker.thermal_never_a:
        does = f"{breaker} lets it flow: no trip within an hour"
    elif amps < breaker.thermal_sure_a:
        does = f"{breaker} may let it flow for more than an hour"
    else:
        does = f"{breaker} trips, but perhaps after minutes"
    return [
        told(
            "the motor standing still and fed",
            f"{num(amps, '.1f', 'A')}: {does}",
            "IEC 60898-1; so the control's own trip protects the motor",
        )
    ]


def _drop(what: str, drop: float | None, limit: float, kind: str) -> Row:
    return judge(
        what,
        num(None if drop is None else 100.0 * drop, ".1f", "%"),
        f"at most {100 * limit:g} %",
        None if drop is None else drop <= limit,
        "IEC 60364-5-52 annex G, from memory" if kind == "running" else PRACTICE,
    )


def _resistance(parts: Parts) -> list[Row]:
    ohm = parts.supply.cable_ohm
    if ohm is None:
        return []
    whole = parts.worked.site.supply.source_resistance
    return [
        judge(
            "resistance of the cable, there and back",
            num(ohm, ".3f", "ohm"),
            f"at most {whole:.3f} ohm, supply and cable together",
            ohm <= whole,
            "IEC 60364-5-52 annex G, from memory; site file",
        )
    ]
