"""The winch: motor on its supply, brake, gear and drum with the rope's inner end."""

import math

from leafwinch_sim.plant_parts import brake_of, drum_of, gear_of, motor_of
from leafwinch_sim.site_schema import Site

_TURNS_PER_RADIAN = 0.5 / math.pi
_SUPPLY_LAG_S = 0.005
NO_JAM = -1e9


class Winch:
    """Speeds, rope turns and supply of the winch of a site.

    Attributes:
        motor_rad_s, drum_rad_s: speeds, positive raising.
        turns: rope turns from the bare drum, negative when wound the other way.
        turn_offset: what to take off `turns` for a counter on the shaft.
        jam_turns: turns at which the rope has cut in; below, it winds on again.
        rope_m: rope from the bare drum to the anchor; rope_out_m: off the drum.
        current_a: RMS line current (AC) or signed armature current (DC).
        supply_ratio: supply at the motor over nominal; supply_factor: without load.
        brake_torque_nm, wrong_way_torque_nm: of the set brake, for rope wound on the
            right way and the wrong way.
    """

    __slots__ = (
        "brake",
        "brake_torque_nm",
        "current_a",
        "drum",
        "drum_drag_nm",
        "drum_inertia",
        "drum_rad_s",
        "gear",
        "jam_turns",
        "motor",
        "motor_inertia",
        "motor_rad_s",
        "rope_m",
        "rope_out_m",
        "supply_factor",
        "supply_ratio",
        "supply_sag_per_a",
        "supply_steady",
        "turn_offset",
        "turns",
        "wrong_way_torque_nm",
    )

    def __init__(self, site: Site, path_at_flat_m: float) -> None:
        self.drum = drum_of(site)
        self.gear = gear_of(site)
        self.brake = brake_of(site)
        self.motor = motor_of(site)
        self.motor_inertia: float = site.motor.inertia
        self.drum_inertia: float = site.drum.inertia
        self.drum_drag_nm: float = site.drum.drag
        self.brake_torque_nm: float = site.brake.torque
        self.wrong_way_torque_nm: float = site.brake.wrong_way_torque
        self.supply_sag_per_a: float = site.supply.source_resistance / site.supply.voltage
        self.supply_factor: float = 1.0
        self.supply_ratio: float = 1.0
        self.supply_steady: bool = True
        self.rope_m: float = path_at_flat_m + self.drum.wound_m(site.drum.turns_at_flat)
        self.rope_out_m: float = path_at_flat_m
        self.turns: float = site.drum.turns_at_flat
        self.turn_offset: float = 0.0
        self.jam_turns: float = NO_JAM
        self.motor_rad_s: float = 0.0
        self.drum_rad_s: float = 0.0
        self.current_a: float = 0.0

    def rest_with(self, rope_out_m: float) -> None:
        """Stop, brake set, with this much rope off a drum that is wound the right way."""
        self.motor_rad_s = 0.0
        self.drum_rad_s = 0.0
        self.current_a = 0.0
        self.motor.current_a = 0.0
        self.brake.is_set = not self.brake.stuck_off
        self.brake.timer_ms = 0.0
        self.supply_ratio = self.supply_factor
        self.jam_turns = NO_JAM
        self.turn_offset = 0.0
        self.wind_to(rope_out_m)

    def wind_to(self, rope_out_m: float) -> None:
        """Set the turns that leave this much rope off the drum."""
        self.rope_out_m = rope_out_m
        self.turns = self.drum.turns_for(max(0.0, self.rope_m - rope_out_m))

    def step(
        self,
        dt_ms: float,
        windings: tuple[float, ...],
        brake_energised: bool,
        line_n: float,
    ) -> float:
        """Advance by `dt_ms` against a line pull; return the rope taken in, in m/s."""
        dt_s = dt_ms * 0.001
        motor = self.motor
        motor.update(windings, self.motor_rad_s, self.supply_ratio, dt_s)
        self.current_a = motor.current_a
        self._step_supply(dt_s)
        gear = self.gear
        turns = self.turns
        sense = 1.0
        if turns < self.jam_turns:
            turns = 2.0 * self.jam_turns - turns
            sense = -1.0
        wrong_way = turns < 0.0
        if wrong_way:
            sense = -sense
        arm_m = self.drum.radius_m(turns) * sense
        if gear.intact:
            self._step_motor(dt_s, line_n * arm_m / gear.ratio, wrong_way)
            speed = self.motor_rad_s / gear.ratio
        else:
            self._step_motor(dt_s, 0.0, wrong_way)
            speed = self._coast_drum(dt_s, line_n * arm_m)
        self.drum_rad_s = speed
        # Only now, so that a delay of n ms leaves exactly n ms of steps without it.
        self.brake.update(dt_ms, brake_energised)
        if speed == 0.0:
            return 0.0
        turns = self.turns + speed * dt_s * _TURNS_PER_RADIAN
        self.turns = turns
        if turns < self.jam_turns:
            turns = 2.0 * self.jam_turns - turns
        self.rope_out_m = self.rope_m - self.drum.wound_m(turns)
        return arm_m * speed

    def _step_supply(self, dt_s: float) -> None:
        """Let the supply follow the load current, a little late."""
        current = self.current_a if self.current_a >= 0.0 else -self.current_a
        supply = self.supply_factor * (1.0 - self.supply_sag_per_a * current)
        change = supply - self.supply_ratio
        self.supply_steady = change == 0.0 and current == 0.0
        if -1e-9 < change < 1e-9:
            self.supply_ratio = supply
        else:
            self.supply_ratio += change * dt_s / (dt_s + _SUPPLY_LAG_S)

    def _step_motor(self, dt_s: float, load_nm: float, wrong_way: bool) -> None:
        """Advance the motor speed against a load at its shaft, positive against raising."""
        gear = self.gear
        motor = self.motor
        inertia = self.motor_inertia
        friction = motor.drag_nm
        if self.brake.is_set:
            friction += self.wrong_way_torque_nm if wrong_way else self.brake_torque_nm
        if gear.intact:
            inertia += self.drum_inertia / (gear.ratio * gear.ratio)
            friction += self.drum_drag_nm / gear.ratio
        if motor.slope < 0.0:
            inertia -= dt_s * motor.slope
        speed = self.motor_rad_s + dt_s * (motor.torque_nm - load_nm) / inertia
        size = load_nm if load_nm >= 0.0 else -load_nm
        if speed * load_nm >= 0.0:
            friction += size * gear.drive_friction
        elif wrong_way:
            friction += size * gear.slip_friction
        else:
            friction += size * gear.back_friction
        lost = dt_s * friction / inertia
        if speed > lost:
            self.motor_rad_s = speed - lost
        elif speed < -lost:
            self.motor_rad_s = speed + lost
        else:
            self.motor_rad_s = 0.0

    def _coast_drum(self, dt_s: float, load_nm: float) -> float:
        """Return the speed of a drum that its gear no longer holds."""
        speed = self.drum_rad_s - dt_s * load_nm / self.drum_inertia
        lost = dt_s * self.drum_drag_nm / self.drum_inertia
        if speed > lost:
            return speed - lost
        if speed < -lost:
            return speed + lost
        return 0.0
