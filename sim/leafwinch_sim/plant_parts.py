"""Builds the parts of a plant from the numbers of a site."""

from leafwinch_sim.brake import Brake
from leafwinch_sim.drum import Drum
from leafwinch_sim.gear import Gear
from leafwinch_sim.mechanism import Mechanism
from leafwinch_sim.motor_capacitor_run import CapacitorRunMotor, Circuit
from leafwinch_sim.motor_dc import DirectCurrentMotor
from leafwinch_sim.rope import Rope
from leafwinch_sim.site_schema import CapacitorRun, Site


def mechanism_of(site: Site) -> Mechanism:
    """Return the two leaves of a site."""
    deck = site.deck
    return Mechanism(
        deck.leaf_a.length,
        deck.leaf_b.length,
        deck.leaf_a.mass,
        deck.leaf_b.mass,
        deck.leaf_a.centre,
        deck.leaf_b.centre,
        deck.end_mass,
        deck.kicker_depth,
    )


def rope_of(site: Site) -> Rope:
    """Return the rope of a site."""
    rope = site.rope
    return Rope(rope.stiffness, rope.damping, rope.lead, rope.sheave_factor, rope.lead_sheaves)


def drum_of(site: Site) -> Drum:
    """Return the drum of a site."""
    return Drum(site.drum.core_radius, site.rope.diameter, site.drum.turns_per_layer)


def gear_of(site: Site) -> Gear:
    """Return the gear of a site."""
    return Gear(site.gear.ratio, site.gear.efficiency, site.gear.back_efficiency)


def brake_of(site: Site) -> Brake:
    """Return the brake of a site."""
    return Brake(site.brake.release_delay, site.brake.set_delay)


def circuit_of(site: Site, motor: CapacitorRun) -> Circuit:
    """Return the equivalent circuit of a capacitor-run motor on the site's supply."""
    return Circuit(
        voltage_v=site.supply.voltage,
        frequency_hz=site.supply.frequency,
        poles=motor.poles,
        main_ohm=motor.main,
        main_leakage_ohm=motor.main_leakage,
        aux_ohm=motor.aux,
        aux_leakage_ohm=motor.aux_leakage,
        rotor_ohm=motor.rotor,
        rotor_leakage_ohm=motor.rotor_leakage,
        magnetising_ohm=motor.magnetising,
        turns_ratio=motor.turns_ratio,
        capacitor_f=motor.capacitor,
    )


def motor_of(site: Site) -> CapacitorRunMotor | DirectCurrentMotor:
    """Return the motor of a site."""
    motor = site.motor
    if isinstance(motor, CapacitorRun):
        return CapacitorRunMotor(circuit_of(site, motor), motor.drag)
    return DirectCurrentMotor(
        site.supply.voltage, motor.resistance, motor.inductance, motor.constant, motor.drag
    )
