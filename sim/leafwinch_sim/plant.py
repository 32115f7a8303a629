"""The machine: deck, rope, drum, gear, brake and motor, stepped in time.

Two degrees of freedom meet in the rope: the deck's angle and the drum's turns. Each
step is semi-implicit Euler: forces from the positions, then speeds, then positions from
the new speeds. Dry friction (brake, gear, hinges, wheels) is applied last and never
reverses a speed, so a set brake holds exactly. The motor's steep speed curve enters
implicitly. Steps of 1 to 5 ms are stable; 1 ms is the one whose accuracy is checked.
"""

import math
from typing import Any

from leafwinch_sim.plant_configure import arm, configure, disarm
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.plant_parts import (
    brake_of,
    drum_of,
    gear_of,
    mechanism_of,
    motor_of,
    rope_of,
)
from leafwinch_sim.site_schema import Site

_DEGREES_PER_RADIAN = 180.0 / math.pi
_TURNS_PER_RADIAN = 0.5 / math.pi
_SHEAVES_PER_M_PER_S = 500.0  # the sheaves' losses are complete at 2 mm/s of rope
_SUPPLY_LAG_S = 0.005
_SOLID_WALL = 20.0  # the wall is this many times as stiff as the buffer
_OBSTACLE_N_PER_M = 100_000.0  # a crate or a foot of timber under the mid hinge
_CONTACT_DAMPING_S = 0.01  # damping of an obstacle over its stiffness
NO_JAM = -1e9

Snapshot = tuple[Any, ...]


class Plant:
    """One installation at one moment.

    Args:
        site: what is installed.
        defects: defects that are there from the start.

    Attributes (for users read-only):
        angle_rad, angle_rate: leaf A above horizontal in rad, and its rate in rad/s.
        motor_rad_s: motor speed, positive raising.
        turns: rope turns from the bare drum, negative when wound the other way.
        rope_out_m: rope between drum and anchor.
        tension_n: mean of the two rope parts; line_n: at the drum.
        slack_m: rope paid out beyond its path; the whole path when the rope is gone.
        current_a: RMS line current (AC) or signed armature current (DC).
        supply_ratio: motor supply over nominal at this moment.
        buffer_force_n: force of the free end on buffer and wall.
    """

    __slots__ = (
        "_active",
        "_idle",
        "_still",
        "angle_rad",
        "angle_rate",
        "brake",
        "brake_torque_nm",
        "buffer_damping",
        "buffer_force_n",
        "buffer_start_m",
        "buffer_stiffness",
        "current_a",
        "drag_nm",
        "drum",
        "drum_drag_nm",
        "drum_inertia",
        "drum_rad_s",
        "extra_friction_nm",
        "fast_rest",
        "gear",
        "hinge_arm_m",
        "jam_turns",
        "line_n",
        "mechanism",
        "motor",
        "motor_inertia",
        "motor_rad_s",
        "obstacle_high_rad",
        "obstacle_low_rad",
        "obstacle_stiffness",
        "rope",
        "rope_m",
        "rope_out_m",
        "site",
        "slack_m",
        "supply_factor",
        "supply_ratio",
        "supply_sag_per_a",
        "tension_n",
        "turn_offset",
        "turns",
        "wall_m",
        "wheel_drag_n",
        "wheel_resistance",
        "wind_n",
        "wrong_way_torque_nm",
    )

    # Worked out by `configure` from the site and the defects.
    brake_torque_nm: float
    extra_friction_nm: float
    hinge_arm_m: float
    supply_factor: float
    wheel_drag_n: float
    wheel_resistance: float
    wind_n: float
    wrong_way_torque_nm: float

    def __init__(self, site: Site, defects: tuple[PlantDefect, ...] = ()) -> None:
        self.site: Site = site
        self.mechanism = mechanism_of(site)
        self.rope = rope_of(site)
        self.drum = drum_of(site)
        self.gear = gear_of(site)
        self.brake = brake_of(site)
        self.motor = motor_of(site)
        self._idle: tuple[float, ...] = (0.0, 0.0) if site.supply.frequency else (0.0,)
        self._active: tuple[PlantDefect, ...] = ()
        self._still: bool = False
        self.fast_rest: bool = True
        self._take_site(site)
        configure(self)
        self.mechanism.update(0.0)
        path = 2.0 * self.mechanism.path_m + self.rope.lead_m
        self.rope_m: float = path + self.drum.wound_m(site.drum.turns_at_flat)
        self.place(0.0)
        for defect in defects:
            self.apply(defect)

    def _take_site(self, site: Site) -> None:
        """Set the constants that no defect changes, and a neutral state."""
        mechanism = self.mechanism
        mechanism.update(math.radians(site.buffer.place))
        self.buffer_start_m: float = mechanism.free_end_m
        mechanism.update(math.radians(site.buffer.wall))
        self.wall_m: float = mechanism.free_end_m
        self.buffer_stiffness: float = site.buffer.stiffness
        self.buffer_damping: float = site.buffer.damping
        self.obstacle_stiffness: float = _OBSTACLE_N_PER_M * site.deck.leaf_a.length**2
        self.motor_inertia: float = site.motor.inertia
        self.drum_inertia: float = site.drum.inertia
        self.drum_drag_nm: float = site.drum.drag
        self.drag_nm: float = site.motor.drag + site.drum.drag / site.gear.ratio
        self.supply_sag_per_a: float = site.supply.source_resistance / site.supply.voltage
        self.obstacle_low_rad: float = -1.0
        self.obstacle_high_rad: float = 10.0
        self.jam_turns: float = NO_JAM
        self.turn_offset: float = 0.0
        self.turns: float = 0.0
        self.angle_rad: float = 0.0
        self.buffer_force_n: float = 0.0

    def place(self, angle_rad: float, slack_m: float = 0.0) -> None:
        """Put the machine at rest at an angle, the rope holding the deck or slack.

        Args:
            angle_rad: from 0 to less than the wall's angle.
            slack_m: rope paid out beyond its path; 0 for a rope that carries the deck.

        Raises:
            ValueError: for an angle outside that range.
        """
        if not 0.0 <= angle_rad <= math.radians(self.site.buffer.wall):
            raise ValueError(f"cannot place the deck at {angle_rad * _DEGREES_PER_RADIAN:g} deg")
        mechanism = self.mechanism
        pull = mechanism.line_pull_n(angle_rad)
        path = 2.0 * mechanism.path_m + self.rope.lead_m
        stretch = 0.0
        if angle_rad > 0.0 and slack_m == 0.0:
            stretch = pull / (self.rope.stiffness_n + pull) * path
        self.angle_rad = angle_rad
        self.angle_rate: float = 0.0
        self.motor_rad_s: float = 0.0
        self.drum_rad_s: float = 0.0
        self._wind_to(path + slack_m - stretch)
        self.brake.is_set = not self.brake.stuck_off
        self.brake.timer_ms = 0.0
        self.motor.current_a = 0.0
        self.current_a: float = 0.0
        self.supply_ratio: float = self.supply_factor
        self.buffer_force_n = 0.0
        self._refresh()

    def refit_rope(self) -> None:
        """Hook the rope on and wind it up the right way, just taut at this angle."""
        self.jam_turns = NO_JAM
        self.turn_offset = 0.0
        self._wind_to(2.0 * self.mechanism.path_m + self.rope.lead_m)
        self._refresh()

    def _wind_to(self, out_m: float) -> None:
        self.rope_out_m: float = out_m
        self.turns = self.drum.turns_for(max(0.0, self.rope_m - out_m))

    def _refresh(self) -> None:
        """Bring everything that follows from the state up to date after a change."""
        self._still = False
        self.mechanism.update(self.angle_rad)
        self.rope.update(2.0 * self.mechanism.path_m + self.rope.lead_m, self.rope_out_m, 0.0)
        self.tension_n: float = self.rope.tension_n
        self.slack_m: float = self.rope.slack_m
        middle = 0.5 * (self.rope.raising_factor + self.rope.lowering_factor)
        self.line_n: float = self.tension_n * middle

    @property
    def defects(self) -> tuple[PlantDefect, ...]:
        """The defects that are there now, in the order of their coming."""
        return self._active

    @property
    def brake_set(self) -> bool:
        """Whether the brake grips."""
        return self.brake.is_set

    @property
    def drum_turns(self) -> float:
        """What a counter geared to the drum shaft shows, in turns."""
        return self.turns - self.turn_offset

    @property
    def free_end_m(self) -> float:
        """Distance of the wheel axle from the wall hinge in metres."""
        return self.mechanism.free_end_m

    @property
    def moving(self) -> bool:
        """Whether deck, motor or drum turns."""
        return self.angle_rate != 0.0 or self.motor_rad_s != 0.0 or self.drum_rad_s != 0.0

    def sensed(self, kind: str) -> float:
        """Return what a limit senses: leaf_angle (deg), drum_turns, rope_slack (mm)."""
        if kind == "leaf_angle":
            return self.angle_rad * _DEGREES_PER_RADIAN
        if kind == "drum_turns":
            return self.turns - self.turn_offset
        if kind == "rope_slack":
            return self.slack_m * 1000.0
        raise ValueError(f"a limit cannot sense {kind!r}")

    def apply(self, defect: PlantDefect) -> None:
        """Let a defect come at this moment; one that is already there is left alone."""
        if defect not in self._active:
            self._active = (*self._active, defect)
            arm(self, defect)
            configure(self)
            self._refresh()

    def remove(self, defect: PlantDefect) -> None:
        """Repair a defect at this moment; a torn or tangled rope is fitted afresh."""
        if defect in self._active:
            self._active = tuple(other for other in self._active if other != defect)
            configure(self)
            disarm(self, defect)
            self._refresh()

    def step(self, dt_ms: float, windings: tuple[float, ...], brake_energised: bool) -> None:
        """Advance by `dt_ms` (1 to 5 ms).

        Args:
            dt_ms: length of the step.
            windings: winding voltages over nominal: (main, auxiliary) for a
                capacitor-run motor, (armature,) for direct current.
            brake_energised: whether the brake coil is pulled.
        """
        if self._still and not brake_energised and windings == self._idle and self.fast_rest:
            return
        dt_s = dt_ms * 0.001
        speed = self.motor_rad_s
        resting = speed == 0.0 and self.angle_rate == 0.0 and self.drum_rad_s == 0.0
        self.brake.update(dt_ms, brake_energised)
        motor = self.motor
        motor.update(windings, speed, self.supply_ratio, dt_s)
        current = motor.current_a
        self.current_a = current
        if current < 0.0:
            current = -current
        supply = self.supply_factor * (1.0 - self.supply_sag_per_a * current)
        change = supply - self.supply_ratio
        if -1e-9 < change < 1e-9:
            self.supply_ratio = supply
        else:
            self.supply_ratio += change * dt_s / (dt_s + _SUPPLY_LAG_S)
        self._step_deck(dt_s)
        rope_in = self._step_drive(dt_s)
        mechanism = self.mechanism
        mechanism.update(self.angle_rad)
        self._step_rope(rope_in)
        self._still = (
            resting
            and self.motor_rad_s == 0.0
            and self.angle_rate == 0.0
            and self.drum_rad_s == 0.0
            and change == 0.0
            and current == 0.0
            and not brake_energised
            and self.brake.timer_ms == 0.0
        )

    def _step_drive(self, dt_s: float) -> float:
        """Advance motor and drum; return the rope speed onto the drum in m/s."""
        gear = self.gear
        motor = self.motor
        turns = self.turns
        sense = 1.0
        if turns < self.jam_turns:
            turns = 2.0 * self.jam_turns - turns
            sense = -1.0
        wrong_way = turns < 0.0
        if wrong_way:
            sense = -sense
        arm_m = self.drum.radius_m(turns) * sense
        load = self.line_n * arm_m
        friction = motor.drag_nm
        if self.brake.is_set:
            friction += self.wrong_way_torque_nm if wrong_way else self.brake_torque_nm
        slope = motor.slope
        inertia = self.motor_inertia
        if gear.intact:
            inertia += self.drum_inertia / (gear.ratio * gear.ratio)
            load /= gear.ratio
            friction += self.drum_drag_nm / gear.ratio
        else:
            load = 0.0
        if slope < 0.0:
            inertia -= dt_s * slope
        speed = self.motor_rad_s + dt_s * (motor.torque_nm - load) / inertia
        size = load if load >= 0.0 else -load
        if speed * load >= 0.0:
            friction += size * gear.drive_friction
        elif wrong_way:
            friction += size * gear.slip_friction
        else:
            friction += size * gear.back_friction
        lost = dt_s * friction / inertia
        if speed > lost:
            speed -= lost
        elif speed < -lost:
            speed += lost
        else:
            speed = 0.0
        self.motor_rad_s = speed
        drum_speed = speed / gear.ratio if gear.intact else self._coast_drum(dt_s, arm_m)
        self.drum_rad_s = drum_speed
        if drum_speed == 0.0:
            return 0.0
        turns = self.turns + drum_speed * dt_s * _TURNS_PER_RADIAN
        self.turns = turns
        if turns < self.jam_turns:
            turns = 2.0 * self.jam_turns - turns
        self.rope_out_m = self.rope_m - self.drum.wound_m(turns)
        return arm_m * drum_speed

    def _coast_drum(self, dt_s: float, arm_m: float) -> float:
        """Return the speed of a drum whose gear no longer holds it."""
        speed = self.drum_rad_s - dt_s * self.line_n * arm_m / self.drum_inertia
        lost = dt_s * self.drum_drag_nm / self.drum_inertia
        if speed > lost:
            return speed - lost
        if speed < -lost:
            return speed + lost
        return 0.0

    def _step_deck(self, dt_s: float) -> None:
        """Advance the deck's angle under rope, weight, contacts and friction."""
        mechanism = self.mechanism
        tension = self.tension_n
        rate = self.angle_rate
        angle = self.angle_rad
        end_rate = mechanism.free_end_rate
        push = -2.0 * tension * mechanism.path_rate - mechanism.gravity_nm
        push -= mechanism.half_inertia_rate * rate * rate
        if self.wind_n != 0.0:
            push += self.wind_n * mechanism.wind_arm
        if mechanism.free_end_m < self.buffer_start_m:
            push += self._buffer(mechanism.free_end_m, end_rate * rate) * end_rate
        elif self.buffer_force_n != 0.0:
            self.buffer_force_n = 0.0
        if angle < self.obstacle_low_rad or angle > self.obstacle_high_rad:
            push += self._obstacle(angle, rate)
        wheel_n = mechanism.wheel_n
        friction = self.extra_friction_nm
        friction += self.hinge_arm_m * (wheel_n + 2.0 * tension) * (1.0 + mechanism.turn_b)
        friction -= (self.wheel_resistance * wheel_n + self.wheel_drag_n) * end_rate
        inertia = mechanism.inertia
        rate += dt_s * push / inertia
        lost = dt_s * friction / inertia
        if rate > lost:
            rate -= lost
        elif rate < -lost:
            rate += lost
        else:
            self.angle_rate = 0.0
            return
        angle += dt_s * rate
        if angle <= 0.0:
            # The leaves land on their bearers and stay there.
            angle = 0.0
            if rate < 0.0:
                rate = 0.0
        elif angle >= mechanism.angle_limit_rad - 0.002:
            angle = mechanism.angle_limit_rad - 0.002
            rate = 0.0
        self.angle_rate = rate
        self.angle_rad = angle

    def _buffer(self, free_end_m: float, opening_m_per_s: float) -> float:
        """Return and keep the force of buffer and wall on the free end in newtons."""
        force = self.buffer_stiffness * (self.buffer_start_m - free_end_m)
        if free_end_m < self.wall_m:
            force += _SOLID_WALL * self.buffer_stiffness * (self.wall_m - free_end_m)
        force -= self.buffer_damping * opening_m_per_s
        self.buffer_force_n = force if force > 0.0 else 0.0
        # The force opens the deck, along the growing distance of the free end.
        return self.buffer_force_n

    def _obstacle(self, angle: float, rate: float) -> float:
        """Return the torque of an obstacle, which pushes but never holds, in N m."""
        if angle < self.obstacle_low_rad:
            depth = self.obstacle_low_rad - angle
            return max(0.0, self.obstacle_stiffness * (depth - _CONTACT_DAMPING_S * rate))
        depth = angle - self.obstacle_high_rad
        return -max(0.0, self.obstacle_stiffness * (depth + _CONTACT_DAMPING_S * rate))

    def _step_rope(self, rope_in_m_per_s: float) -> None:
        """Work out the tension from the new positions and speeds."""
        mechanism = self.mechanism
        rope = self.rope
        stretch_rate = 2.0 * mechanism.path_rate * self.angle_rate + rope_in_m_per_s
        rope.update(2.0 * mechanism.path_m + rope.lead_m, self.rope_out_m, stretch_rate)
        tension = rope.tension_n
        self.tension_n = tension
        self.slack_m = rope.slack_m
        if tension == 0.0:
            self.line_n = 0.0
            return
        turning = rope_in_m_per_s * _SHEAVES_PER_M_PER_S
        if turning > 1.0:
            turning = 1.0
        elif turning < -1.0:
            turning = -1.0
        bent = rope.wrap_loss * mechanism.bend_rad
        raising = rope.raising_factor * (1.0 + bent)
        lowering = rope.lowering_factor * (1.0 - bent)
        self.line_n = tension * 0.5 * (raising + lowering + turning * (raising - lowering))

    def snapshot(self) -> Snapshot:
        """Return the whole state as a flat tuple, for `restore` of a plant of the site."""
        return (
            self._active,
            self.angle_rad,
            self.angle_rate,
            self.motor_rad_s,
            self.drum_rad_s,
            self.turns,
            self.turn_offset,
            self.rope_out_m,
            self.tension_n,
            self.line_n,
            self.slack_m,
            self.current_a,
            self.supply_ratio,
            self.buffer_force_n,
            self.obstacle_low_rad,
            self.obstacle_high_rad,
            self.jam_turns,
            self._still,
            self.brake.is_set,
            self.brake.timer_ms,
            self.motor.current_a,
        )

    def restore(self, state: Snapshot) -> None:
        """Take back a state from `snapshot`, bit for bit, with its defects."""
        active = self._active
        (
            self._active,
            self.angle_rad,
            self.angle_rate,
            self.motor_rad_s,
            self.drum_rad_s,
            self.turns,
            self.turn_offset,
            self.rope_out_m,
            self.tension_n,
            self.line_n,
            self.slack_m,
            self.current_a,
            self.supply_ratio,
            self.buffer_force_n,
            self.obstacle_low_rad,
            self.obstacle_high_rad,
            self.jam_turns,
            self._still,
            self.brake.is_set,
            self.brake.timer_ms,
            self.motor.current_a,
        ) = state
        if self._active is not active:
            configure(self)
        self.mechanism.update(self.angle_rad)
