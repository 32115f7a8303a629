"""The moving deck: its angle under rope, weight, wind, contacts and friction."""

import math

from leafwinch_sim.mechanism import Mechanism
from leafwinch_sim.plant_parts import mechanism_of
from leafwinch_sim.site_schema import Site

_SOLID_WALL = 20.0  # the wall is this many times as stiff as the buffer
_OBSTACLE_N_PER_M = 100_000.0  # a crate or a foot of timber under the mid hinge
_CONTACT_DAMPING_S = 0.01  # damping of an obstacle over its stiffness
_SHORT_OF_UPRIGHT_RAD = 0.002
NO_OBSTACLE_BELOW_RAD = -1.0
NO_OBSTACLE_ABOVE_RAD = 10.0


class Deck:
    """Angle, rate and contacts of the two leaves of a site.

    Attributes:
        angle_rad, angle_rate: leaf A above horizontal, in rad and rad/s.
        buffer_force_n: force of the free end on buffer and wall.
        obstacle_low_rad, obstacle_high_rad: an obstacle pushes outside these angles.
        hinge_arm_m: friction torque per newton of hinge load, for both turns of a pin.
        wheel_resistance: rolling resistance over wheel load; wheel_drag_n: of a wedge.
        extra_friction_nm: friction torque of a seized hinge.
        wind_n: level force on the upright leaf B, positive to the wall.
    """

    __slots__ = (
        "angle_rad",
        "angle_rate",
        "buffer_damping",
        "buffer_force_n",
        "buffer_start_m",
        "buffer_stiffness",
        "extra_friction_nm",
        "hinge_arm_m",
        "mechanism",
        "obstacle_high_rad",
        "obstacle_low_rad",
        "obstacle_stiffness",
        "wall_m",
        "wheel_drag_n",
        "wheel_resistance",
        "wind_n",
    )

    def __init__(self, site: Site) -> None:
        mechanism = mechanism_of(site)
        self.mechanism: Mechanism = mechanism
        mechanism.update(math.radians(site.buffer.place))
        self.buffer_start_m: float = mechanism.free_end_m
        mechanism.update(math.radians(site.buffer.wall))
        self.wall_m: float = mechanism.free_end_m
        self.buffer_stiffness: float = site.buffer.stiffness
        self.buffer_damping: float = site.buffer.damping
        self.obstacle_stiffness: float = _OBSTACLE_N_PER_M * site.deck.leaf_a.length**2
        self.obstacle_low_rad: float = NO_OBSTACLE_BELOW_RAD
        self.obstacle_high_rad: float = NO_OBSTACLE_ABOVE_RAD
        self.hinge_arm_m: float = 0.0
        self.wheel_resistance: float = 0.0
        self.wheel_drag_n: float = 0.0
        self.extra_friction_nm: float = 0.0
        self.wind_n: float = 0.0
        self.angle_rad: float = 0.0
        self.angle_rate: float = 0.0
        self.buffer_force_n: float = 0.0
        mechanism.update(0.0)

    def step(self, dt_s: float, tension_n: float) -> None:
        """Advance by `dt_s` under a mean rope tension, then evaluate the new angle."""
        mechanism = self.mechanism
        rate = self.angle_rate
        angle = self.angle_rad
        end_rate = mechanism.free_end_rate
        push = -2.0 * tension_n * mechanism.path_rate - mechanism.gravity_nm
        push -= mechanism.half_inertia_rate * rate * rate
        if self.wind_n != 0.0:
            push += self.wind_n * mechanism.wind_arm
        if mechanism.free_end_m < self.buffer_start_m:
            # The force pushes the free end away from the wall, the way it grows.
            push += self._buffer(mechanism.free_end_m, end_rate * rate) * end_rate
        elif self.buffer_force_n != 0.0:
            self.buffer_force_n = 0.0
        if angle < self.obstacle_low_rad or angle > self.obstacle_high_rad:
            push += self._obstacle(angle, rate)
        wheel_n = mechanism.wheel_n
        friction = self.extra_friction_nm
        friction += self.hinge_arm_m * (wheel_n + 2.0 * tension_n) * (1.0 + mechanism.turn_b)
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
        elif angle >= mechanism.angle_limit_rad - _SHORT_OF_UPRIGHT_RAD:
            angle = mechanism.angle_limit_rad - _SHORT_OF_UPRIGHT_RAD
            rate = 0.0
        self.angle_rate = rate
        self.angle_rad = angle
        mechanism.update(angle)

    def _buffer(self, free_end_m: float, opening_m_per_s: float) -> float:
        """Return and keep the force of buffer and wall on the free end in newtons."""
        force = self.buffer_stiffness * (self.buffer_start_m - free_end_m)
        if free_end_m < self.wall_m:
            force += _SOLID_WALL * self.buffer_stiffness * (self.wall_m - free_end_m)
        force -= self.buffer_damping * opening_m_per_s
        self.buffer_force_n = force if force > 0.0 else 0.0
        return self.buffer_force_n

    def _obstacle(self, angle: float, rate: float) -> float:
        """Return the torque of an obstacle, which pushes but never holds, in N m."""
        if angle < self.obstacle_low_rad:
            depth = self.obstacle_low_rad - angle
            return max(0.0, self.obstacle_stiffness * (depth - _CONTACT_DAMPING_S * rate))
        depth = angle - self.obstacle_high_rad
        return -max(0.0, self.obstacle_stiffness * (depth + _CONTACT_DAMPING_S * rate))
