"""Sets the plant's parameters from its site and the defects that are there.

Parameters are always worked out afresh from the site, so that any mixture of defects
can come and go in any order and a restored state needs only the list of its defects.
What happens at the one moment when a defect comes or is repaired is in `arm` and
`disarm`.
"""

from dataclasses import replace
from typing import TYPE_CHECKING

from leafwinch_sim.deck import NO_OBSTACLE_ABOVE_RAD, NO_OBSTACLE_BELOW_RAD
from leafwinch_sim.motor_capacitor_run import CapacitorRunMotor
from leafwinch_sim.motor_dc import DirectCurrentMotor
from leafwinch_sim.plant_parts import circuit_of, gear_of, mechanism_of
from leafwinch_sim.site_schema import CapacitorRun, PermanentMagnet

if TYPE_CHECKING:
    from leafwinch_sim.plant import Plant
    from leafwinch_sim.plant_defects import PlantDefect

_OBSTACLE_GAP_RAD = 0.035  # an obstacle comes two degrees ahead of the leaf


def configure(plant: "Plant") -> None:
    """Work out every parameter from the site and the active defects."""
    amounts = {defect.kind: defect.amount for defect in plant.defects}
    _configure_deck(plant, amounts)
    _configure_rope(plant, amounts)
    _configure_gear_and_brake(plant, amounts)
    factor = 1.0
    for kind in ("supply_low", "supply_high"):
        factor *= amounts.get(kind, 1.0)
    plant.winch.supply_factor = factor
    motor = plant.winch.motor
    if isinstance(motor, CapacitorRunMotor):
        _configure_capacitor_run(plant, motor, amounts)
    else:
        _configure_direct_current(plant, motor, amounts)


def _configure_deck(plant: "Plant", amounts: dict[str, float]) -> None:
    site = plant.site
    deck = site.deck
    friction = amounts.get("friction_tripled", 1.0)
    # Wall hinge, mid hinge and axle turn by 1, 1 + b and b per turn of leaf A, where b is
    # the turn of leaf B: together twice (1 + b).
    moving = plant.deck
    moving.hinge_arm_m = 2.0 * deck.hinge_friction * deck.hinge_pin_radius * friction
    moving.wheel_resistance = deck.wheel_resistance * friction
    moving.wheel_drag_n = amounts.get("wheel_blocked", 0.0)
    moving.extra_friction_nm = amounts.get("hinge_seized", 0.0)
    pressure = amounts.get("gust_lifting", 0.0) - amounts.get("gust_lowering", 0.0)
    moving.wind_n = pressure * deck.width * deck.leaf_b.length
    mechanism = mechanism_of(site)
    mechanism.deck_load_kg = amounts.get("people_on_deck", 0.0)
    depth = deck.kicker_depth * amounts.get("kicker_slipped", 1.0)
    mechanism.kicker_depth_m = 0.0 if "kicker_lost" in amounts else depth
    moving.mechanism = mechanism


def _configure_rope(plant: "Plant", amounts: dict[str, float]) -> None:
    rope = plant.rope
    friction = amounts.get("friction_tripled", 1.0)
    rope.use_sheave_factor(1.0 + (plant.site.rope.sheave_factor - 1.0) * friction)
    rope.attached = "rope_parted" not in amounts and "rope_off_hook" not in amounts


def _configure_gear_and_brake(plant: "Plant", amounts: dict[str, float]) -> None:
    site = plant.site
    gear = gear_of(site)
    gear.intact = "gear_stripped" not in amounts
    if "gear_not_holding" in amounts:
        gear.back_friction = 1.0 - amounts["gear_not_holding"]
    if not site.gear.holds_one_direction:
        gear.slip_friction = gear.back_friction
    plant.winch.gear = gear
    brake = plant.winch.brake
    weak = amounts.get("brake_weak", 1.0)
    plant.winch.brake_torque_nm = site.brake.torque * weak
    plant.winch.wrong_way_torque_nm = site.brake.wrong_way_torque * weak
    brake.set_ms = site.brake.set_delay + amounts.get("brake_slow", 0.0)
    brake.stuck_on = "brake_stuck_on" in amounts
    brake.stuck_off = "brake_stuck_off" in amounts


def _configure_capacitor_run(
    plant: "Plant", motor: CapacitorRunMotor, amounts: dict[str, float]
) -> None:
    data = plant.site.motor
    if not isinstance(data, CapacitorRun):
        raise TypeError("a capacitor-run motor needs the data of one")
    circuit = circuit_of(plant.site, data)
    left = 1.0 - amounts.get("turns_shorted", 0.0)
    # Fewer working turns in the main winding: impedances fall with their square, the
    # wire's resistance in proportion, and the auxiliary winding has relatively more.
    circuit = replace(
        circuit,
        main_ohm=circuit.main_ohm * left,
        main_leakage_ohm=circuit.main_leakage_ohm * left * left,
        rotor_ohm=circuit.rotor_ohm * left * left,
        rotor_leakage_ohm=circuit.rotor_leakage_ohm * left * left,
        magnetising_ohm=circuit.magnetising_ohm * left * left,
        turns_ratio=circuit.turns_ratio / left,
        capacitor_f=circuit.capacitor_f * amounts.get("capacitor_halved", 1.0),
        main_open="main_open" in amounts,
        aux_open="aux_open" in amounts or "capacitor_open" in amounts,
    )
    if circuit != motor.circuit:
        motor.use(circuit)


def _configure_direct_current(
    plant: "Plant", motor: DirectCurrentMotor, amounts: dict[str, float]
) -> None:
    data = plant.site.motor
    if not isinstance(data, PermanentMagnet):
        raise TypeError("a permanent-magnet motor needs the data of one")
    left = 1.0 - amounts.get("turns_shorted", 0.0)
    motor.resistance_ohm = data.resistance * left
    motor.constant = data.constant * left * amounts.get("magnets_weak", 1.0)
    motor.armature_open = "armature_open" in amounts


def arm(plant: "Plant", defect: "PlantDefect") -> None:
    """Do what happens at the moment when a defect comes."""
    kind = defect.kind
    if kind == "obstacle_below":
        plant.deck.obstacle_low_rad = plant.deck.angle_rad - _OBSTACLE_GAP_RAD
    elif kind == "obstacle_above":
        plant.deck.obstacle_high_rad = plant.deck.angle_rad + _OBSTACLE_GAP_RAD
    elif kind == "rope_jammed":
        plant.winch.jam_turns = plant.winch.turns
    elif kind == "rope_backwards":
        shown = plant.drum_turns
        plant.winch.turns = -plant.winch.turns
        plant.winch.turn_offset = plant.winch.turns - shown


def disarm(plant: "Plant", defect: "PlantDefect") -> None:
    """Do what the repair of a defect does at its moment."""
    kind = defect.kind
    if kind == "obstacle_below":
        plant.deck.obstacle_low_rad = NO_OBSTACLE_BELOW_RAD
    elif kind == "obstacle_above":
        plant.deck.obstacle_high_rad = NO_OBSTACLE_ABOVE_RAD
    elif kind in ("rope_jammed", "rope_backwards", "rope_parted", "rope_off_hook"):
        plant.refit_rope()
