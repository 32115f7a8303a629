"""What a wiring defect is: its electrical effects, its physical cause, its kind."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Effects:
    """Electrical effects, all by name so that they outlive a change of bit order.

    `held_closed` and `held_open` are elements that a mechanism holds; `force_closed` and
    `force_open` are contacts that are themselves bridged or dead, which wins over the former.
    `series` replaces the resistance in ohm of wires, elements or loads (infinite = open).
    `links` adds resistances in ohm between two terminals, or a terminal and `PE`.
    `inputs_1` and `inputs_0` are board signals that read so whatever their voltage.
    """

    held_closed: tuple[str, ...] = ()
    held_open: tuple[str, ...] = ()
    force_closed: tuple[str, ...] = ()
    force_open: tuple[str, ...] = ()
    series: tuple[tuple[str, float], ...] = ()
    links: tuple[tuple[str, str, float], ...] = ()
    inputs_1: tuple[str, ...] = ()
    inputs_0: tuple[str, ...] = ()
    control_ratio: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WiringDefect(Effects):
    """One defect of the wiring.

    Attributes:
        id: short, stable and safe to paste into a shell.
        kind: one of the keys of `KINDS`.
        cause: the physical reason in words.
        part: reference of the device, cable, wire or place it belongs to.
        mechanics: what the bench must do beside the electrical effects, else empty; see
            `MECHANICS`.
        devices: the devices that `mechanics` acts on.
        factor: what `mechanics` multiplies, such as the release time.
        arms_on: `part:acts`; the defect takes hold the first time that action is present at or
            after its start (a pole welds, a lever jams only where it already is). Empty = at once.
        also: ids of defects with the same electrical effect, which this one stands for.
    """

    id: str
    kind: str
    cause: str
    part: str
    mechanics: str = ""
    devices: tuple[str, ...] = ()
    factor: float = 1.0
    arms_on: str = ""
    also: tuple[str, ...] = ()


KINDS = {
    "contact_welded": "a contact does not open: welded, or bridged across its terminals",
    "contact_dead": "a contact does not close: dirt, wear, a broken spring",
    "contact_high_ohmic": "a contact closes with about 2 kilohm: corrosion or film",
    "contact_intermittent": "a contact opens now and then: a loose clamp or a worn spring",
    "actuator_lost": "a switch is no longer reached: its bracket, cam or lever is lost",
    "actuator_stuck": "a switch or key stays actuated: jammed, frozen or tied down",
    "wire_open": "a wire or core is broken or has come off its clamp",
    "return_lost": "a 0 V return is broken: everything behind it loses its return",
    "earth_fault": "a conductor touches earth",
    "earth_bond_lost": "the connection to protective earth is broken",
    "bridge": "two neighbouring conductors or terminals touch",
    "leak": "moisture conducts between neighbouring conductors",
    "input_stuck": "an input of the board reads one level whatever its voltage",
    "input_short": "an isolated input conducts across to the supply or 0 V",
    "driver_on": "a driver's transistor is shorted",
    "driver_off": "a driver's transistor is open",
    "pump_static": "the charge pump passes a level that does not toggle",
    "pump_dead": "the charge pump delivers nothing",
    "pole_welded": "a main pole of a contactor is welded",
    "pole_dead": "a main pole of a contactor does not close",
    "stuck_pulled": "a contactor stays pulled with its coil off",
    "not_pulling": "a contactor does not pull with its coil on",
    "coil_open": "a coil is open",
    "slow_release": "a contactor releases late",
    "mirror_closed": "a mirror contact stays closed while the main poles are closed",
    "mirror_open": "a mirror contact stays open",
    "interlock_lost": "the mechanical interlock between two contactors is missing",
    "supply_lost": "the control supply or the mains is lost",
    "supply_low": "the control supply is low",
    "supply_high": "the control supply is high",
    "sensor_lost": "the current sensor's signal is lost",
    "cable_cut": "a whole cable is cut",
    "cable_crushed": "a whole cable is crushed and its cores touch",
    "water": "water stands in a box and conducts between neighbouring terminals",
    "common_weld": "a short in the motor welds the line and a direction contactor",
}
"""Kinds of defects and what each means."""

MECHANICS = {
    "intermittent": "switch between the circuit with and without this defect at random times",
    "actuator_lost": "the contacts of `devices` never actuate",
    "actuator_stuck": "the contacts of `devices` stay actuated",
    "welded": "the armature of `devices` cannot release fully: hold mirrors open and the"
    " mechanical interlock engaged",
    "stuck_pulled": "the armature of `devices` stays where it was when pulled",
    "not_pulling": "the armature of `devices` never moves",
    "slow_release": "multiply the release time of `devices` by `factor`",
    "interlock_lost": "let both contactors in `devices` pull together",
    "pump_static_high": "the line driver is on whenever its pin is high",
    "pump_static_low": "the line driver is on whenever its pin is low",
    "current_signal_lost": "the current sensor reads zero",
}
"""What the bench does for each value of `mechanics`."""
