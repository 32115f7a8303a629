"""The machine's equations of motion for scipy's adaptive integrator.

The drive, the rope and dry friction are written here anew and in continuous form. Dry
friction switches with the direction of motion, so a run is split at each event: brake
released or set, deck or motor starting or stopping, rope leaving the roller, rope
climbing to the next layer. Between events the equations are smooth.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from scipy.integrate import solve_ivp

from leafwinch_sim.mechanism import Mechanism
from leafwinch_sim.motor_capacitor_run import Circuit
from leafwinch_sim.plant_parts import circuit_of, drum_of, mechanism_of
from leafwinch_sim.site import Site
from leafwinch_sim.site_schema import CapacitorRun, PermanentMagnet

Method = Literal["RK45", "DOP853", "LSODA"]
Event = Callable[[float, np.ndarray], float]
ANGLE, RATE, SPEED, TURNS, SUPPLY, CURRENT = range(6)


@dataclass
class Reference:
    """State and modes of one run; `deck` and `motor` are -1, 0 (stuck) or 1."""

    site: Site
    state: np.ndarray
    rope_m: float
    voltage: float = 0.0
    braked: bool = True
    time_s: float = 0.0
    deck: int = 0
    motor: int = 0
    times: list[float] = field(default_factory=list)
    angles: list[float] = field(default_factory=list)
    method: Method = "RK45"
    tolerance: float = 1e-7
    longest_step_s: float = 0.005

    def __post_init__(self) -> None:
        self.mechanism: Mechanism = mechanism_of(self.site)
        self.drum = drum_of(self.site)
        data = self.site.motor
        self.circuit: Circuit | None = (
            circuit_of(self.site, data) if isinstance(data, CapacitorRun) else None
        )
        factor = self.site.rope.sheave_factor
        leads = factor**self.site.rope.lead_sheaves
        self.up = 2 * factor * leads / (1 + factor)
        self.down = 2 / (leads * (1 + factor))

    def rope(self, y: np.ndarray) -> tuple[float, float]:
        """Return mean tension and line pull for a state."""
        site, mechanism = self.site, self.mechanism
        mechanism.update(float(y[ANGLE]))
        radius = self.drum.radius_m(float(y[TURNS]))
        rope_in = radius * float(y[SPEED]) / site.gear.ratio
        out = self.rope_m - self.drum.wound_m(float(y[TURNS]))
        stretch = 2 * mechanism.path_m + site.rope.lead - out
        if stretch <= 0:
            return 0.0, 0.0
        rate = 2 * mechanism.path_rate * float(y[RATE]) + rope_in
        tension = max(0.0, site.rope.stiffness * stretch / out + site.rope.damping * rate)
        turning = min(1.0, max(-1.0, rope_in / 0.002))
        bent = site.rope.sheave_factor ** (mechanism.bend_rad / math.pi)
        up, down = self.up * bent, self.down / bent
        return tension, tension * ((up + down) / 2 + turning * (up - down) / 2)

    def deck_forces(self, y: np.ndarray, tension: float) -> tuple[float, float]:
        """Return the driving torque on the deck and its greatest dry friction."""
        deck, m = self.site.deck, self.mechanism
        push = -2 * tension * m.path_rate - m.gravity_nm - m.half_inertia_rate * y[RATE] ** 2
        hinge = deck.hinge_friction * deck.hinge_pin_radius * (m.wheel_n + 2 * tension)
        rolling = deck.wheel_resistance * m.wheel_n * abs(m.free_end_rate)
        return float(push), 2 * hinge * (1 + m.turn_b) + rolling

    def motor_forces(self, y: np.ndarray, line: float) -> tuple[float, float, float]:
        """Return net torque, greatest dry friction at the shaft and the line current."""
        site, gear = self.site, self.site.gear
        load = line * self.drum.radius_m(float(y[TURNS])) / gear.ratio
        torque, current = self.motor_torque(y)
        falling = float(y[SPEED]) < 0 or (float(y[SPEED]) == 0 and torque < load)
        loss = 1 - gear.back_efficiency if falling else 1 / gear.efficiency - 1
        friction = site.motor.drag + site.drum.drag / gear.ratio + loss * load
        return torque - load, friction + (site.brake.torque if self.braked else 0.0), current

    def motor_torque(self, y: np.ndarray) -> tuple[float, float]:
        """Return air-gap torque and current, straight from the circuit without a table."""
        if self.voltage == 0:
            return 0.0, 0.0
        data = self.site.motor
        if isinstance(data, PermanentMagnet):
            return data.constant * float(y[CURRENT]), float(y[CURRENT])
        assert self.circuit is not None
        slip = 1 - float(y[SPEED]) / self.circuit.synchronous_rad_s
        volts = self.circuit.voltage_v * float(y[SUPPLY])
        main, aux = self.circuit.currents(slip, self.voltage * volts, volts)
        torque = self.circuit.torque_nm(slip, main, aux)
        return torque, abs(math.copysign(1, self.voltage) * main + aux)

    def slope(self, _t: float, y: np.ndarray) -> list[float]:
        """Return the derivative of the state in the present modes."""
        site = self.site
        tension, line = self.rope(y)
        push, deck_friction = self.deck_forces(y, tension)
        net, motor_friction, current = self.motor_forces(y, line)
        inertia = site.motor.inertia + site.drum.inertia / site.gear.ratio**2
        target = 1 - site.supply.source_resistance / site.supply.voltage * abs(current)
        current_rate = 0.0
        data = site.motor
        if isinstance(data, PermanentMagnet) and self.voltage != 0:
            volts = self.voltage * site.supply.voltage * y[SUPPLY]
            back = data.constant * y[SPEED] + data.resistance * y[CURRENT]
            current_rate = float((volts - back) / data.inductance)
        return [
            float(y[RATE]) if self.deck else 0.0,
            (push - self.deck * deck_friction) / self.mechanism.inertia if self.deck else 0.0,
            (net - self.motor * motor_friction) / inertia if self.motor else 0.0,
            float(y[SPEED]) / site.gear.ratio / (2 * math.pi) if self.motor else 0.0,
            (target - float(y[SUPPLY])) / 0.005,
            current_rate,
        ]

    def run(self, until_s: float, limit_deg: float = 1e9) -> None:
        """Integrate to a time, or until the deck reaches an angle."""
        self._let_go()
        events = (
            _stopping(self._deck_margin),
            _stopping(self._motor_margin),
            _stopping(lambda _t, y: limit_deg - math.degrees(float(y[ANGLE]))),
        )
        while self.time_s < until_s - 1e-12:
            found = solve_ivp(
                self.slope,
                (self.time_s, until_s),
                self.state,
                method=self.method,
                rtol=self.tolerance,
                atol=self.tolerance / 100,
                max_step=self.longest_step_s,
                events=events,
            )
            self.times += list(found.t)
            self.angles += list(found.y[ANGLE])
            self.time_s = float(found.t[-1])
            self.state = found.y[:, -1].copy()
            hits = found.t_events or []
            if len(hits[2]):
                return
            self._change_mode(len(hits[0]) > 0, len(hits[1]) > 0)

    def _forces(self, y: np.ndarray) -> tuple[float, float, float, float]:
        tension, line = self.rope(y)
        push, deck_friction = self.deck_forces(y, tension)
        net, motor_friction, _ = self.motor_forces(y, line)
        return push, deck_friction, net, motor_friction

    def _let_go(self) -> None:
        """Let what is stuck go where the force on it exceeds the friction."""
        push, deck_friction, net, motor_friction = self._forces(self.state)
        if self.deck == 0 and abs(push) > deck_friction:
            self.deck = 1 if push > 0 else -1
        if self.motor == 0 and abs(net) > motor_friction:
            self.motor = 1 if net > 0 else -1

    def _deck_margin(self, _t: float, y: np.ndarray) -> float:
        """Above zero while the deck's mode lasts."""
        if self.deck != 0:
            return self.deck * float(y[RATE]) + 1e-9
        push, friction, _, _ = self._forces(y)
        return friction - abs(push)

    def _motor_margin(self, _t: float, y: np.ndarray) -> float:
        """Above zero while the motor's mode lasts."""
        if self.motor != 0:
            return self.motor * float(y[SPEED]) + 1e-6
        _, _, net, friction = self._forces(y)
        return friction - abs(net)

    def _change_mode(self, deck: bool, motor: bool) -> None:
        """Stop what came to rest, or start what was stuck, in the direction of its force."""
        push, _, net, _ = self._forces(self.state)
        if deck and self.deck == 0:
            self.deck = 1 if push > 0 else -1
        elif deck:
            self.deck = 0
            self.state[RATE] = 0.0
        if motor and self.motor == 0:
            self.motor = 1 if net > 0 else -1
        elif motor:
            self.motor = 0
            self.state[SPEED] = 0.0
        if self.state[RATE] == 0.0 or self.state[SPEED] == 0.0:
            self._let_go()


def _stopping(margin: Event) -> Event:
    """Mark an event that ends the integration when it falls through zero."""

    def event(t: float, y: np.ndarray) -> float:
        return margin(t, y)

    marked: Any = event
    marked.terminal = True
    marked.direction = -1
    return event
