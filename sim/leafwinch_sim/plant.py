"""The machine: deck and winch joined by the rope, stepped in time.

Each step is semi-implicit Euler: forces from the positions, then speeds, then positions
from the new speeds. Dry friction (brake, gear, hinges, wheels) is applied last and never
reverses a speed, so a set brake holds exactly. The motor's steep speed curve enters
implicitly. Steps of 1 to 5 ms are stable; 1 ms is the one whose accuracy is checked.
"""

import math
from typing import Any

from leafwinch_sim.deck import Deck
from leafwinch_sim.plant_configure import arm, configure, disarm
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.plant_parts import rope_of
from leafwinch_sim.rope import Rope, capstan_ratio
from leafwinch_sim.site_schema import CapacitorRun, Site
from leafwinch_sim.winch import NO_JAM, Winch

_DEGREES_PER_RADIAN = 180.0 / math.pi
_SHEAVES_PER_M_PER_S = 500.0  # the sheaves' losses are complete at 2 mm/s of rope

Snapshot = tuple[Any, ...]


class Plant:
    """One installation at one moment, at first flat, at rest, the rope just taut.

    Args:
        site: what is installed.
        defects: defects that are there from the start.

    Attributes:
        tension_n: mean of the two rope parts in newtons; line_n: at the drum.
        slack_m: rope paid out beyond its path; the whole path when the rope is gone.
        fast_rest: skip the work while nothing can change (the results are the same).
    """

    __slots__ = (
        "_active",
        "_idle",
        "_still",
        "deck",
        "fast_rest",
        "line_n",
        "rope",
        "site",
        "slack_m",
        "tension_n",
        "winch",
    )

    def __init__(self, site: Site, defects: tuple[PlantDefect, ...] = ()) -> None:
        self.site: Site = site
        self.deck: Deck = Deck(site)
        self.rope: Rope = rope_of(site)
        self.winch: Winch = Winch(site, self._path_m())
        self.fast_rest: bool = True
        alternating = isinstance(site.motor, CapacitorRun)
        self._idle: tuple[float, ...] = (0.0, 0.0) if alternating else (0.0,)
        self._active: tuple[PlantDefect, ...] = ()
        self._still: bool = False
        self.tension_n: float = 0.0
        self.slack_m: float = 0.0
        self.line_n: float = 0.0
        configure(self)
        self._refresh()
        for defect in defects:
            self.apply(defect)

    @property
    def angle_rad(self) -> float:
        """Leaf A above horizontal."""
        return self.deck.angle_rad

    @property
    def motor_rad_s(self) -> float:
        """Motor speed, positive raising."""
        return self.winch.motor_rad_s

    @property
    def rope_out_m(self) -> float:
        """Rope between drum and anchor."""
        return self.winch.rope_out_m

    @property
    def drum_turns(self) -> float:
        """What a counter geared to the drum shaft shows."""
        return self.winch.turns - self.winch.turn_offset

    @property
    def brake_set(self) -> bool:
        """Whether the brake grips."""
        return self.winch.brake.is_set

    @property
    def current_a(self) -> float:
        """RMS line current (AC) or signed armature current (DC)."""
        return self.winch.current_a

    @property
    def supply_ratio(self) -> float:
        """Supply at the motor over nominal at this moment."""
        return self.winch.supply_ratio

    @property
    def buffer_force_n(self) -> float:
        """Force of the free end on buffer and wall."""
        return self.deck.buffer_force_n

    @property
    def free_end_m(self) -> float:
        """Distance of the wheel axle from the wall hinge."""
        return self.deck.mechanism.free_end_m

    @property
    def moving(self) -> bool:
        """Whether deck, motor or drum turns."""
        winch = self.winch
        return self.deck.angle_rate != 0.0 or winch.motor_rad_s != 0.0 or winch.drum_rad_s != 0.0

    @property
    def defects(self) -> tuple[PlantDefect, ...]:
        """The defects that are there now, in the order of their coming."""
        return self._active

    def sensed(self, kind: str) -> float:
        """Return what a limit senses: leaf_angle (deg), drum_turns, rope_slack (mm)."""
        if kind == "leaf_angle":
            return self.deck.angle_rad * _DEGREES_PER_RADIAN
        if kind == "drum_turns":
            return self.winch.turns - self.winch.turn_offset
        if kind == "rope_slack":
            return self.slack_m * 1000.0
        raise ValueError(f"a limit cannot sense {kind!r}")

    def place(self, angle_rad: float, slack_m: float = 0.0) -> None:
        """Put the machine at rest at an angle, the rope holding the deck or slack.

        Args:
            angle_rad: from 0 to the wall's angle.
            slack_m: rope paid out beyond its path; 0 for a rope that carries the deck.

        Raises:
            ValueError: for an angle outside that range.
        """
        if not 0.0 <= angle_rad <= math.radians(self.site.buffer.wall):
            raise ValueError(f"cannot place the deck at {angle_rad * _DEGREES_PER_RADIAN:g} deg")
        deck = self.deck
        pull = deck.mechanism.line_pull_n(angle_rad)
        path = self._path_m()
        stretch = 0.0
        if angle_rad > 0.0 and slack_m == 0.0 and math.isfinite(pull):
            stretch = pull / (self.rope.stiffness_n + pull) * path
        deck.angle_rad = angle_rad
        deck.angle_rate = 0.0
        deck.buffer_force_n = 0.0
        self.winch.rest_with(path + slack_m - stretch)
        self._refresh()

    def refit_rope(self) -> None:
        """Hook the rope on and wind it up the right way, just taut at this angle."""
        self.winch.jam_turns = NO_JAM
        self.winch.turn_offset = 0.0
        self.winch.wind_to(self._path_m())

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
        was_moving = self.moving
        self.deck.step(dt_ms * 0.001, self.tension_n)
        winch = self.winch
        rope_in = winch.step(dt_ms, windings, brake_energised, self.line_n)
        self._step_rope(rope_in)
        self._still = (
            not was_moving
            and winch.supply_steady
            and not brake_energised
            and winch.brake.steady
            and not self.moving
        )

    def _path_m(self) -> float:
        return 2.0 * self.deck.mechanism.path_m + self.rope.lead_m

    def _refresh(self) -> None:
        """Bring what follows from the state up to date after a change from outside."""
        self._still = False
        self.deck.mechanism.update(self.deck.angle_rad)
        self._step_rope(0.0)

    def _step_rope(self, rope_in_m_per_s: float) -> None:
        """Work out the tension from the new positions and speeds."""
        deck = self.deck
        mechanism = deck.mechanism
        rope = self.rope
        stretch_rate = 2.0 * mechanism.path_rate * deck.angle_rate + rope_in_m_per_s
        path_m = 2.0 * mechanism.path_m + rope.lead_m
        rope.update(path_m, self.winch.rope_out_m, stretch_rate)
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
        bent = capstan_ratio(rope.wrap_loss, mechanism.bend_rad)
        raising = rope.raising_factor * bent
        lowering = rope.lowering_factor / bent
        self.line_n = tension * 0.5 * (raising + lowering + turning * (raising - lowering))

    def snapshot(self) -> Snapshot:
        """Return the whole state as a flat tuple, for `restore` of a plant of the site.

        Whether it may rest is not part of it: the next step finds that out anew.
        """
        deck = self.deck
        winch = self.winch
        brake = winch.brake
        return (
            self._active,
            self.tension_n,
            self.line_n,
            self.slack_m,
            deck.angle_rad,
            deck.angle_rate,
            deck.buffer_force_n,
            deck.obstacle_low_rad,
            deck.obstacle_high_rad,
            winch.motor_rad_s,
            winch.drum_rad_s,
            winch.turns,
            winch.turn_offset,
            winch.jam_turns,
            winch.rope_out_m,
            winch.current_a,
            winch.supply_ratio,
            winch.motor.current_a,
            brake.is_set,
            brake.timer_ms,
        )

    def restore(self, state: Snapshot) -> None:
        """Take back a state from `snapshot`, bit for bit, with its defects."""
        active = self._active
        deck = self.deck
        winch = self.winch
        brake = winch.brake
        (
            self._active,
            self.tension_n,
            self.line_n,
            self.slack_m,
            deck.angle_rad,
            deck.angle_rate,
            deck.buffer_force_n,
            deck.obstacle_low_rad,
            deck.obstacle_high_rad,
            winch.motor_rad_s,
            winch.drum_rad_s,
            winch.turns,
            winch.turn_offset,
            winch.jam_turns,
            winch.rope_out_m,
            winch.current_a,
            winch.supply_ratio,
            winch.motor.current_a,
            brake.is_set,
            brake.timer_ms,
        ) = state
        if self._active is not active:
            configure(self)
        self._still = False
        deck.mechanism.update(deck.angle_rad)
