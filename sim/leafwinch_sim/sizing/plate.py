"""What the winch's plate says, completed by the tables of standards where it is silent."""

from dataclasses import dataclass

from leafwinch_sim.site_schema import CapacitorRun, Site
from leafwinch_sim.sizing.duty_rules import HOIST_GROUPS
from leafwinch_sim.sizing.supply_rules import (
    HORSEPOWER_W,
    full_load_current_a,
    locked_rotor_a,
)

DUTY_DEFAULT = 25.0  # per cent, of a small hoist (common practice, no source)
ON_PLATE = "the winch's plate"


@dataclass(frozen=True, slots=True)
class Rated:
    """A number of the plate, and where it comes from."""

    value: float
    words: str


def duty_percent(site: Site) -> Rated:
    """Return the duty S3 in percent: of the plate, of its hoist group, or of a small hoist."""
    plate = site.nameplate
    if plate is not None and plate.duty is not None:
        return Rated(plate.duty, ON_PLATE)
    if plate is not None and plate.group is not None:
        share = HOIST_GROUPS[plate.group].share
        return Rated(100.0 * share, f"group {plate.group}, FEM 9.683, from memory")
    return Rated(DUTY_DEFAULT, "common practice, no source")


def starts_per_hour(site: Site) -> Rated | None:
    """Return the starts that are allowed in an hour, or None where nothing tells them."""
    plate = site.nameplate
    if plate is None:
        return None
    if plate.starts_per_hour is not None:
        return Rated(plate.starts_per_hour, ON_PLATE)
    if plate.group is None:
        return None
    starts = HOIST_GROUPS[plate.group].starts_per_h
    return Rated(starts, f"group {plate.group}, FEM 9.683, from memory")


def rated_current(site: Site) -> Rated | None:
    """Return the rated current in A: of the plate, else by its power; None where neither tells.

    The table is for one-phase motors of 110 to 120 and 220 to 240 V, and rather high, which is
    the safe side for a cable but not for the motor.
    """
    plate = site.nameplate
    if plate is None:
        return None
    if plate.current is not None:
        return Rated(plate.current, ON_PLATE)
    if plate.power is None or not isinstance(site.motor, CapacitorRun):
        return None
    try:
        amps = full_load_current_a(plate.power / HORSEPOWER_W, site.supply.voltage)
    except ValueError:
        return None  # a power or voltage that the table does not list is not judged
    return Rated(amps, f"NEC table 430-148 by the plate's {plate.power:g} W")


def locked_rotor_band_a(site: Site) -> tuple[float, float] | None:
    """Return the least and greatest current in A with the rotor locked, by the plate's code letter.

    None where the plate has no letter or no power, or where the motor is not of one phase.
    """
    plate = site.nameplate
    if plate is None or plate.code_letter is None or plate.power is None:
        return None
    if not isinstance(site.motor, CapacitorRun):
        return None
    return locked_rotor_a(plate.power, site.supply.voltage, plate.code_letter)
