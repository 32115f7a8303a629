"""The motor's numbers that the wiring papers ask for, from a site."""

from leafwinch_sim.plant_parts import circuit_of
from leafwinch_sim.site import Site
from leafwinch_sim.site_schema import CapacitorRun
from leafwinch_sim.sizing.plate import rated_current
from leafwinch_wiring.schedules.loading import Motor

HIGH_SUPPLY = 1.1
"""The supply may be a tenth above its nominal voltage."""


def motor_of(site: Site) -> Motor | None:
    """Return rated and starting current of a site's motor; None where the plate tells none.

    The starting current is that at standstill on a supply 10 % high, behind the resistance of
    the supply: U / (R + R of the supply) of a direct-current motor, main and auxiliary current
    together of one with a run capacitor (textbook circuits, see the motor models).
    """
    rated = rated_current(site)
    if rated is None:
        return None
    motor, volts = site.motor, HIGH_SUPPLY * site.supply.voltage
    if isinstance(motor, CapacitorRun):
        main, aux = circuit_of(site, motor).currents(1.0, volts, volts)
        start_a, inductance_h = abs(main + aux), 0.0
    else:
        start_a = volts / (motor.resistance + site.supply.source_resistance)
        inductance_h = motor.inductance
    return Motor(rated.value, max(start_a, rated.value), inductance_h)
