"""Capacitor-run induction motor: two windings in quadrature, double revolving field.

Steady-state phasor circuit (Guru and Hiziroglu, Electric Machinery and Transformers,
section on the permanent split-capacitor motor): with slip s,
    Zf = j Xm/2 || (R2/(2 s) + j X2/2),  Zb the same with 2 - s,
    Z11 = R1 + j X1 + Zf + Zb,  Z12 = -j a (Zf - Zb) = -Z21,
    Z22 = Ra + j Xa + a^2 (Zf + Zb) - j/(w C),
    air-gap torque = (|I1 - j a I2|^2 Rf - |I1 + j a I2|^2 Rb) / synchronous speed.
Electrical transients (a few mains periods) and iron loss are left out; a constant drag
torque stands for the mechanical and iron losses. The circuit is linear, so torque and
squared current are quadratic forms of the two winding voltages: they are worked out
once over speed and interpolated in every step.

A winding whose voltage is below `OPEN_RATIO` of nominal counts as disconnected and
carries no current.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

OPEN_RATIO = 0.02
_POINTS = 801
_SPAN = 1.6  # the table reaches this multiple of synchronous speed both ways


@dataclass(frozen=True, slots=True)
class Circuit:
    """Equivalent circuit; rotor values and reactances are referred to the main winding."""

    voltage_v: float
    frequency_hz: float
    poles: int
    main_ohm: float
    main_leakage_ohm: float
    aux_ohm: float
    aux_leakage_ohm: float
    rotor_ohm: float
    rotor_leakage_ohm: float
    magnetising_ohm: float
    turns_ratio: float
    capacitor_f: float
    main_open: bool = False
    aux_open: bool = False

    @property
    def synchronous_rad_s(self) -> float:
        """Speed of the revolving field in rad/s."""
        return 4.0 * math.pi * self.frequency_hz / self.poles

    def fields(self, slip: float) -> tuple[complex, complex]:
        """Return the forward and backward field impedances in ohms."""
        return self._field(slip), self._field(2.0 - slip)

    def _field(self, slip: float) -> complex:
        if abs(slip) < 1e-9:
            return 0.5j * self.magnetising_ohm
        rotor = self.rotor_ohm / slip + 1j * self.rotor_leakage_ohm
        magnetising = 1j * self.magnetising_ohm
        return 0.5 * magnetising * rotor / (magnetising + rotor)

    def currents(
        self, slip: float, main_v: float | None, aux_v: float | None
    ) -> tuple[complex, complex]:
        """Return the currents of main and auxiliary winding in amperes.

        A voltage of None means that the winding is open. The auxiliary voltage is
        that across winding and capacitor together.
        """
        forward, backward = self.fields(slip)
        a = self.turns_ratio
        z11 = self.main_ohm + 1j * self.main_leakage_ohm + forward + backward
        z12 = -1j * a * (forward - backward)
        reactance = 2.0 * math.pi * self.frequency_hz * self.capacitor_f
        z22 = self.aux_ohm + 1j * self.aux_leakage_ohm + a * a * (forward + backward)
        z22 -= 1j / reactance
        if main_v is None and aux_v is None:
            return 0j, 0j
        if main_v is None:
            return 0j, (aux_v or 0.0) / z22
        if aux_v is None:
            return main_v / z11, 0j
        determinant = z11 * z22 + z12 * z12
        return (
            (main_v * z22 - aux_v * z12) / determinant,
            (aux_v * z11 + main_v * z12) / determinant,
        )

    def torque_nm(self, slip: float, main_a: complex, aux_a: complex) -> float:
        """Return the air-gap torque in N m for given winding currents."""
        forward, backward = self.fields(slip)
        turned = 1j * self.turns_ratio * aux_a
        power = abs(main_a - turned) ** 2 * forward.real
        power -= abs(main_a + turned) ** 2 * backward.real
        return power / self.synchronous_rad_s


@lru_cache(maxsize=4096)
def curve(
    circuit: Circuit, main_ratio: float, aux_ratio: float
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return torque in N m and line current in A over the table's speeds.

    The ratios are winding voltages over nominal, with sign; the product of the signs
    is the direction of the field. Each winding's current flows in the line in the
    sense in which that winding is connected.
    """
    main_open = circuit.main_open or abs(main_ratio) < OPEN_RATIO
    aux_open = circuit.aux_open or abs(aux_ratio) < OPEN_RATIO
    main = None if main_open else main_ratio * circuit.voltage_v
    aux = None if aux_open else aux_ratio * circuit.voltage_v
    torques = []
    currents = []
    for index in range(_POINTS):
        slip = 1.0 - _SPAN * (2.0 * index / (_POINTS - 1) - 1.0)
        main_a, aux_a = circuit.currents(slip, main, aux)
        torques.append(circuit.torque_nm(slip, main_a, aux_a))
        line = math.copysign(1.0, main_ratio) * main_a + math.copysign(1.0, aux_ratio) * aux_a
        currents.append(abs(line))
    return tuple(torques), tuple(currents)


class CapacitorRunMotor:
    """Torque, its slope over speed, and line current; the results are attributes.

    Positive torque raises the deck. `current_a` is the RMS line current.
    """

    __slots__ = (
        "_currents",
        "_first_rad_s",
        "_per_rad_s",
        "_torques",
        "_windings",
        "circuit",
        "current_a",
        "drag_nm",
        "slope",
        "torque_nm",
    )

    def __init__(self, circuit: Circuit, drag_nm: float) -> None:
        self.drag_nm: float = drag_nm
        self.torque_nm: float = 0.0
        self.slope: float = 0.0
        self.current_a: float = 0.0
        self.use(circuit)

    def use(self, circuit: Circuit) -> None:
        """Take another circuit, such as one with a defect."""
        self.circuit: Circuit = circuit
        first = -_SPAN * circuit.synchronous_rad_s
        self._first_rad_s: float = first
        self._per_rad_s: float = (_POINTS - 1) / (-2.0 * first)
        self._windings: tuple[float, ...] = ()
        self._torques: tuple[float, ...] = ()
        self._currents: tuple[float, ...] = ()

    def update(
        self, windings: tuple[float, ...], speed_rad_s: float, supply: float, dt_s: float
    ) -> None:
        """Evaluate at a speed, with winding ratios and the supply over nominal.

        `slope` is d(torque)/d(speed), which lets the caller step stiff speeds safely.
        """
        if windings != self._windings:
            self._windings = windings
            self._torques, self._currents = curve(self.circuit, windings[0], windings[1])
        position = (speed_rad_s - self._first_rad_s) * self._per_rad_s
        if position < 0.0:
            position = 0.0
        elif position > _POINTS - 1.001:
            position = _POINTS - 1.001
        index = int(position)
        part = position - index
        squared = supply * supply
        torques = self._torques
        low = torques[index]
        rise = torques[index + 1] - low
        self.torque_nm = squared * (low + part * rise)
        self.slope = squared * rise * self._per_rad_s
        currents = self._currents
        low = currents[index]
        self.current_a = supply * (low + part * (currents[index + 1] - low))
