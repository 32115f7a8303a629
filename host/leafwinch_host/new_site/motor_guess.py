"""A guess of a winch's inside from its plate, by similarity with the winches of the demo sites.

A builder knows the plate, not the motor's circuit. Motors of one kind and one family are
alike: at the same voltage all impedances fall as the current rises, and torque and power rise
with it. So the demo site's motor is scaled to the plate. Each rule is similarity, common
practice without a source, and every value that comes out is ASSUMED until it is measured.
"""

import math
from dataclasses import dataclass

from leafwinch_sim.drum import Drum
from leafwinch_sim.plant_parts import circuit_of
from leafwinch_sim.site import load_site
from leafwinch_sim.site_schema import CapacitorRun, PermanentMagnet, Site

MAINS_SITE = "workshop-pit"
BATTERY_SITE = "boat-slip"
LOAD_SLIP = 0.1  # a small motor at load: 1350/min with 4 poles at 50 Hz; common practice
BATTERY_RATED_A = 15.0  # of the demo winch, its thermal base current
MAINS_HZ = 50.0
POLES = (2, 4, 6, 8)
SPEED_OFF = 0.2  # by so much a known gear ratio may miss the speed of any number of poles


@dataclass(frozen=True, slots=True)
class Plate:
    """What plate and tape measure say of a winch.

    Attributes:
        voltage_v: nominal.
        frequency_hz: of the mains; 0 for a battery.
        pull_n: rated line pull on the first layer of rope.
        speed_m_per_s: of the rope on the first layer; at the rated pull for mains, without
            load for a battery.
        current_a: at the rated pull.
        radius_m: of the first layer, to the middle of the rope.
        ratio: of the gear, None where it is not known.
    """

    voltage_v: float
    frequency_hz: float
    pull_n: float
    speed_m_per_s: float
    current_a: float
    radius_m: float
    ratio: float | None = None

    @property
    def drum_rad_s(self) -> float:
        """Speed of the drum at the line speed, in rad/s."""
        return self.speed_m_per_s / self.radius_m


@dataclass(frozen=True, slots=True)
class Drive:
    """A guessed drive; SI units, reactances in ohms at the mains frequency.

    Attributes:
        ratio: motor turns for each drum turn.
        motor: the scaled motor.
        torque: rated motor torque over that of the demo winch.
        drum_torque: rated drum torque over that of the demo winch.
    """

    ratio: float
    motor: CapacitorRun | PermanentMagnet
    torque: float
    drum_torque: float


def reference(kind: str) -> Site:
    """Return the demo site whose winch is scaled (kind: 'mains' or 'battery')."""
    return load_site(MAINS_SITE if kind == "mains" else BATTERY_SITE)


def reference_plate(kind: str) -> Plate:
    """Return what would stand on the plate of the demo site's winch.

    Mains: pull, speed and current of the circuit at a slip of 0.1. Battery: pull at the rated
    current, and speed at the current that the drag alone takes.
    """
    site = reference(kind)
    gear = site.gear
    radius = first_radius_m(site.drum.core_radius, site.rope.diameter)
    drag = site.motor.drag + site.drum.drag / gear.ratio
    volts = site.supply.voltage
    if isinstance(site.motor, CapacitorRun):
        circuit = circuit_of(site, site.motor)
        main, aux = circuit.currents(LOAD_SLIP, volts, volts)
        current = abs(main + aux)
        torque = circuit.torque_nm(LOAD_SLIP, main, aux)
        speed = circuit.synchronous_rad_s * (1.0 - LOAD_SLIP)
    else:
        current = BATTERY_RATED_A
        torque = site.motor.constant * current
        speed = (volts - site.motor.resistance * drag / site.motor.constant) / site.motor.constant
    pull = (torque - drag) * gear.ratio * gear.efficiency / radius
    return Plate(
        volts, site.supply.frequency, pull, speed / gear.ratio * radius, current, radius, gear.ratio
    )


def first_radius_m(core_radius_m: float, rope_m: float) -> float:
    """Return the radius of the first layer in m, to the middle of the rope."""
    return Drum(core_radius_m, rope_m, 1.0).radius_m(0.0)


def likely_current_a(kind: str, voltage_v: float, pull_n: float, speed_m_per_s: float) -> float:
    """Return the current in A of a winch as good as the demo's: power over voltage.

    Args:
        kind: 'mains' or 'battery'.
        voltage_v: above 0.
        pull_n: rated, 0 or more.
        speed_m_per_s: 0 or more.
    """
    plate = reference_plate(kind)
    power = pull_n * speed_m_per_s / (plate.pull_n * plate.speed_m_per_s)
    return plate.current_a * power * plate.voltage_v / voltage_v


def guess(kind: str, plate: Plate) -> Drive:
    """Return the demo winch scaled to a plate; the demo's own plate gives the demo's winch.

    Args:
        kind: 'mains' or 'battery'.
        plate: of the winch; every number above 0, but a battery's frequency.

    Raises:
        ValueError: gear ratio and line speed fit no motor, in one clause.
    """
    site = reference(kind)
    if isinstance(site.motor, CapacitorRun):
        return _guess_mains(site.motor, plate, reference_plate(kind))
    return _guess_battery(site.motor, plate, reference_plate(kind))


def _guess_mains(motor: CapacitorRun, plate: Plate, known: Plate) -> Drive:
    """Scale the capacitor-run motor.

    Impedances go with voltage over current, the capacitor with the inverse of that and of
    the frequency, torque with power over speed; the inertia goes with the torque. The motor
    has four poles unless a known gear ratio and the line speed tell otherwise.
    """
    poles = poles_for(plate)
    ohms = plate.voltage_v / known.voltage_v * known.current_a / plate.current_a
    power = plate.voltage_v * plate.current_a / (known.voltage_v * known.current_a)
    speed = loaded_rad_s(poles, plate.frequency_hz)
    slower = loaded_rad_s(motor.poles, known.frequency_hz) / speed
    torque = power * slower
    scaled = motor.model_copy(
        update={
            "poles": poles,
            **{key: getattr(motor, key) * ohms for key in _IMPEDANCES},
            "capacitor": motor.capacitor / ohms * known.frequency_hz / plate.frequency_hz,
            "inertia": motor.inertia * torque,
            "drag": motor.drag * torque,
        }
    )
    ratio = plate.ratio if plate.ratio is not None else speed / plate.drum_rad_s
    return Drive(ratio, scaled, torque, _drum_torque(plate, known))


_IMPEDANCES = (
    "main",
    "main_leakage",
    "aux",
    "aux_leakage",
    "rotor",
    "rotor_leakage",
    "magnetising",
)


def _guess_battery(motor: PermanentMagnet, plate: Plate, known: Plate) -> Drive:
    """Scale the permanent-magnet motor.

    Without a known gear ratio the motor turns as fast without load as the demo's. The
    constant goes with voltage over that speed, the resistance with voltage over current, the
    inductance with it (the same electrical time constant), torque with constant times current.
    """
    known_rad_s = known.drum_rad_s * (known.ratio or 1.0)
    ratio = plate.ratio if plate.ratio is not None else known_rad_s / plate.drum_rad_s
    faster = ratio * plate.drum_rad_s / known_rad_s
    volts = plate.voltage_v / known.voltage_v
    ohms = volts * known.current_a / plate.current_a
    constant = motor.constant * volts / faster
    torque = constant * plate.current_a / (motor.constant * known.current_a)
    scaled = motor.model_copy(
        update={
            "resistance": motor.resistance * ohms,
            "inductance": motor.inductance * ohms,
            "constant": constant,
            "inertia": motor.inertia * torque,
            "drag": motor.drag * torque,
        }
    )
    return Drive(ratio, scaled, torque, _drum_torque(plate, known))


def _drum_torque(plate: Plate, known: Plate) -> float:
    return plate.pull_n * plate.radius_m / (known.pull_n * known.radius_m)


def loaded_rad_s(poles: int, frequency_hz: float) -> float:
    """Return the speed in rad/s of an induction motor at load: synchronous less the slip."""
    return (1.0 - LOAD_SLIP) * 4.0 * math.pi * frequency_hz / poles


def poles_for(plate: Plate) -> int:
    """Return the number of poles of a mains motor: 4, or what gear ratio and line speed tell.

    Raises:
        ValueError: no number of poles is within a fifth of that speed, in one clause.
    """
    if plate.ratio is None:
        return 4
    speed = plate.ratio * plate.drum_rad_s
    poles = min(POLES, key=lambda n: abs(math.log(loaded_rad_s(n, plate.frequency_hz) / speed)))
    fitting = loaded_rad_s(poles, plate.frequency_hz)
    if abs(speed / fitting - 1.0) > SPEED_OFF:
        raise ValueError(
            f"found a ratio of {plate.ratio:g}, with which the line speed makes the motor turn "
            f"at {speed * 30.0 / math.pi:.0f}/min; allowed is what comes near a motor's "
            f"{fitting * 30.0 / math.pi:.0f}/min, so ratio, line speed or drum is wrong"
        )
    return poles
