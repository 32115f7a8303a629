"""Geometry and energies of two hinged leaves folded by a rope along the ground.

Coordinates: x away from the wall, y up, the origin at the wall hinge, which is also
the level of the sheaves and of the wheel axle. One coordinate describes the deck: the
angle of leaf A above horizontal, 0 flat and 90 degrees upright at the wall. Leaf A
runs from the wall hinge to the mid hinge, leaf B from the mid hinge to the free end,
which rolls on the ground.

A kicker post hangs from the mid hinge; the roller at its foot is `kicker_depth_m`
below the hinge and bends the two rope parts downwards while it is lower than the
sheave line. Above asin(depth / length of leaf A) the rope runs clear of it.

All forces follow from virtual work: dE/d(angle) = -F * d(length)/d(angle).
"""

import math

GRAVITY = 9.80665
"""Standard acceleration of free fall in m/s^2 (ISO 80000-3)."""


class Mechanism:
    """Evaluates the deck at one angle; the results are attributes.

    Args:
        length_a_m, length_b_m: leaf lengths between hinge centres, B to the axle.
        mass_a_kg, mass_b_kg: masses of the leaves.
        centre_a_m: centre of mass of leaf A from the wall hinge.
        centre_b_m: centre of mass of leaf B from the mid hinge.
        end_mass_kg: wheels, axle and moving sheave at the free end.
        kicker_depth_m: depth of the roller below the mid hinge, 0 for no kicker.
    """

    __slots__ = (
        "angle_limit_rad",
        "bend_rad",
        "centre_a_m",
        "centre_b_m",
        "deck_load_kg",
        "end_mass_kg",
        "free_end_m",
        "free_end_rate",
        "gravity_nm",
        "half_inertia_rate",
        "inertia",
        "inertia_a",
        "inertia_b",
        "kicker_depth_m",
        "length_a_m",
        "length_b_m",
        "mass_a_kg",
        "mass_b_kg",
        "path_m",
        "path_rate",
        "turn_b",
        "wheel_n",
        "wind_arm",
    )

    def __init__(
        self,
        length_a_m: float,
        length_b_m: float,
        mass_a_kg: float,
        mass_b_kg: float,
        centre_a_m: float,
        centre_b_m: float,
        end_mass_kg: float,
        kicker_depth_m: float,
    ) -> None:
        self.length_a_m: float = length_a_m
        self.length_b_m: float = length_b_m
        self.mass_a_kg: float = mass_a_kg
        self.mass_b_kg: float = mass_b_kg
        self.centre_a_m: float = centre_a_m
        self.centre_b_m: float = centre_b_m
        self.end_mass_kg: float = end_mass_kg
        self.kicker_depth_m: float = kicker_depth_m
        self.deck_load_kg: float = 0.0
        # Each leaf is a uniform slab: its own inertia is m L^2 / 12 about its centre.
        self.inertia_a: float = mass_a_kg * (centre_a_m**2 + length_a_m**2 / 12.0)
        self.inertia_b: float = mass_b_kg * length_b_m**2 / 12.0
        self.angle_limit_rad: float = math.asin(min(1.0, length_b_m / length_a_m))
        self.free_end_m: float = 0.0
        self.free_end_rate: float = 0.0
        self.path_m: float = 0.0
        self.path_rate: float = 0.0
        self.bend_rad: float = 0.0
        self.gravity_nm: float = 0.0
        self.inertia: float = 0.0
        self.half_inertia_rate: float = 0.0
        self.wheel_n: float = 0.0
        self.turn_b: float = 0.0
        self.wind_arm: float = 0.0
        self.update(0.0)

    def update(self, angle_rad: float) -> None:
        """Evaluate everything at one angle, 0 <= angle < `angle_limit_rad`.

        Sets: `free_end_m` and its rate per radian; `path_m`, the rope length of one
        part between wall and free end, and its rate; `bend_rad`, by which the roller
        turns one part; `gravity_nm` = d(potential energy)/d(angle); `inertia` in
        kg m^2 and half its rate; `wheel_n`, the static wheel load; `turn_b`, turn of
        leaf B per turn of leaf A; `wind_arm`, the torque per newton of level force on
        the upright area of leaf B, pushing towards the wall.
        """
        length_a = self.length_a_m
        length_b = self.length_b_m
        centre_b = self.centre_b_m
        mass_b = self.mass_b_kg
        end_mass = self.end_mass_kg
        load = self.deck_load_kg
        s = math.sin(angle_rad)
        c = math.cos(angle_rad)
        if length_a == length_b:
            sin_b = s
            cos_b = c
            turn_b = 1.0
            turn_rate = 0.0
        else:
            sin_b = length_a * s / length_b
            cos_b = math.sqrt(max(1e-12, 1.0 - sin_b * sin_b))
            turn_b = length_a * c / (length_b * cos_b)
            turn_rate = sin_b * (turn_b * turn_b - 1.0) / cos_b
        hinge_x = length_a * c
        hinge_y = length_a * s
        span_b = length_b * cos_b
        end = hinge_x + span_b
        end_rate = -hinge_y * (1.0 + turn_b)
        share = 1.0 - centre_b / length_b
        x_rate = -hinge_y - centre_b * sin_b * turn_b
        y_rate = hinge_x * share
        self.turn_b = turn_b
        self.free_end_m = end
        self.free_end_rate = end_rate
        moment = self.mass_a_kg * self.centre_a_m + (mass_b * share + load) * length_a
        self.gravity_nm = GRAVITY * moment * c
        self.inertia = (
            self.inertia_a
            + load * length_a * length_a
            + mass_b * (x_rate * x_rate + y_rate * y_rate)
            + self.inertia_b * turn_b * turn_b
            + end_mass * end_rate * end_rate
        )
        end_curve = -hinge_x * (1.0 + turn_b) - hinge_y * turn_rate
        x_curve = -hinge_x - centre_b * (cos_b * turn_b * turn_b + sin_b * turn_rate)
        self.half_inertia_rate = (
            mass_b * (x_rate * x_curve - y_rate * hinge_y * share)
            + self.inertia_b * turn_b * turn_rate
            + end_mass * end_rate * end_curve
        )
        # Moments of all weights about the wall hinge; the rope passes through it.
        weights = (self.mass_a_kg * self.centre_a_m + (mass_b + load) * length_a) * c
        weights += mass_b * centre_b * cos_b
        self.wheel_n = GRAVITY * (end_mass + weights / max(end, 1e-6))
        self.wind_arm = -x_rate * sin_b
        if self.kicker_depth_m > hinge_y:
            self._bend_rope(hinge_x, hinge_y, span_b)
        else:
            self.path_m = end
            self.path_rate = end_rate
            self.bend_rad = 0.0

    def _bend_rope(self, hinge_x: float, hinge_y: float, span_b: float) -> None:
        """Set the rope's path over the roller, which hangs lower than the sheave line."""
        drop = self.kicker_depth_m - hinge_y
        part_a = math.sqrt(hinge_x * hinge_x + drop * drop)
        part_b = math.sqrt(span_b * span_b + drop * drop)
        self.path_m = part_a + part_b
        self.path_rate = (
            -(hinge_x * hinge_y + drop * hinge_x) / part_a
            - (span_b * hinge_y * self.turn_b + drop * hinge_x) / part_b
        )
        self.bend_rad = math.asin(drop / part_a) + math.asin(drop / part_b)

    def potential_j(self, angle_rad: float) -> float:
        """Return the potential energy of the deck above its flat position in joules."""
        share = 1.0 - self.centre_b_m / self.length_b_m
        load = self.mass_b_kg * share + self.deck_load_kg
        moment = self.mass_a_kg * self.centre_a_m + load * self.length_a_m
        return GRAVITY * moment * math.sin(angle_rad)

    def line_pull_n(self, angle_rad: float) -> float:
        """Return the frictionless static pull in each of the two rope parts in newtons.

        Infinite where the rope has no lever, which is the flat deck without a kicker.
        """
        self.update(angle_rad)
        if self.path_rate >= 0.0:
            return math.inf
        return self.gravity_nm / (-2.0 * self.path_rate)
