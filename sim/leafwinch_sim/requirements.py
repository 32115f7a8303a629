"""The requirements as monitors: one implementation for bench, campaign and recorded traces.

R6 and R11 are judged over many runs: R6 on what R1, R2 and R4 say while a defect is
present (`started_alone`), R11 by listing what only gravity did.
"""

from dataclasses import dataclass
from typing import Any

from leafwinch.requirement_limits import R1_OFF_MS, REQUIREMENTS
from leafwinch.settings_schema import settings_from
from leafwinch.states import STATE_NAMES
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.monitor_state import (
    put_latch,
    put_motion,
    put_starts,
    put_times,
    take_latch,
    take_motion,
    take_starts,
    take_times,
)
from leafwinch_sim.observation import Observation
from leafwinch_sim.operator import Operator
from leafwinch_sim.requirements_motion import CALM_MS, Motion
from leafwinch_sim.requirements_starts import Latch, Starts
from leafwinch_sim.requirements_times import Times
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.netlist import Netlist

NAMES = tuple(row[0] for row in REQUIREMENTS)
WITHOUT_CONTROLLER = ("R1", "R2", "R6", "R10", "R11")
ACTIVE_AFTER_MS = CALM_MS + 1500  # everything that follows a stop is over by then


@dataclass(frozen=True, slots=True)
class Broken:
    """One requirement's first break: when, and what happened in words."""

    t_ms: int
    text: str


class Monitors:
    """Judges every step of a run.

    Args:
        site: gives buffer, slack, dead wraps, budget and trip levels.
        net: tells whether there is a controller; without one only R1, R2, R6, R10 and
            R11 are judged (`judged`).

    `broken` holds the first break of each requirement. An end passed or a deck that
    moves with everything off for half a second appears there as R11.
    """

    __slots__ = (
        "_key",
        "_t_ms",
        "active_ms",
        "broken",
        "controlled",
        "judged",
        "latch",
        "motion",
        "starts",
        "steady_all_ms",
        "steady_ms",
        "times",
    )

    def __init__(self, site: Site, net: Netlist) -> None:
        self.motion = Motion(site)
        self.starts = Starts()
        self.latch = Latch()
        self.times = Times(settings_from(site.settings))
        self.controlled = net.has_controller
        self.judged = NAMES if net.has_controller else WITHOUT_CONTROLLER
        self.broken: dict[str, Broken] = {}
        self.active_ms = 0  # left until a machine at rest needs no look any more
        self.steady_all_ms = 0  # while the motor runs steadily nothing happens for so long
        self.steady_ms = 0  # and so much of it is left
        self._t_ms = 0
        self._key = -1  # all facts whose change calls for a look, packed

    def step(self, o: Observation) -> None:
        """Judge one step of 5 ms."""
        fed = o.powered_any
        motion = self.motion
        if (
            o.rope_out_m > motion.longest_m
            or o.drum_turns < motion.dead_wraps
            or o.buffer_force_n > motion.rated_n
        ):
            self._t_ms = o.t_ms
            motion.ends(o, self._report)
        key = (
            o.contacts << 16
            | o.fault << 10
            | (fed + 1) << 8
            | (o.asked + 1) << 6
            | (32 if o.board_on else 0)
            | (16 if o.hung else 0)
            | (8 if o.top_actuated else 0)
            | (4 if o.bottom_actuated else 0)
            | (2 if o.brake_fed else 0)
            | (1 if o.both_pulled_any else 0)
        )
        if key != self._key:
            self._key = key
            self.active_ms = ACTIVE_AFTER_MS
        elif fed:
            level_a = self.times.level_a
            if self.steady_ms and -level_a < o.current_a < level_a:
                self.steady_ms -= STEP_MS
                return
            self.active_ms = ACTIVE_AFTER_MS
        elif not self.active_ms and o.free_end_m == motion.rest_m and not self.latch.press_ms:
            return
        self._judge(o, fed)

    def _judge(self, o: Observation, fed: int) -> None:
        if self.steady_all_ms:
            self._catch_up()
        self._t_ms = o.t_ms
        report = self._report
        self.motion.step(o, fed, report)
        if self.active_ms:
            self.active_ms -= STEP_MS
        if not self.controlled:
            if fed and self.motion.quiet():
                self.steady_all_ms = self.steady_ms = ACTIVE_AFTER_MS
            return
        self.starts.step(o, fed, report)
        self.times.step(o, fed, report)
        self.latch.step(o, report)
        if fed and self.motion.quiet() and not self.latch.press_ms:
            self.steady_all_ms = self.steady_ms = self.times.steady_ms(o)

    def _catch_up(self) -> None:
        """Enter the steps skipped while the motor ran steadily into every account."""
        skipped_ms = self.steady_all_ms - self.steady_ms
        self.steady_all_ms = self.steady_ms = 0
        self.times.skip(skipped_ms)
        self.starts.skip(skipped_ms)

    def _report(self, name: str, text: str) -> None:
        if name not in self.broken and name in self.judged:
            self.broken[name] = Broken(self._t_ms, text)

    def finish(self, t_ms: int, operator: Operator) -> None:
        """Close a run with nothing wrong: every step must have ended as it should.

        Call it only for a run, or for a phase after mending, in which no defect is
        present. A latched fault that differs from the expected one breaks R5, what
        was waited for in vain breaks R10.
        """
        self._t_ms = t_ms
        if self.motion.worst_reaction_ms > R1_OFF_MS:
            # With a defect a late brake is the brake's own: control can only cut its coil.
            self._report(
                "R1",
                f"it took {self.motion.worst_reaction_ms} ms from a stop to no current and the "
                f"brake set; allowed are {R1_OFF_MS} ms",
            )
        for index in operator.given_up:
            until = operator.script.steps[index].until
            self._report("R10", f"step {index + 1} of the script waited for '{until}' in vain")
        for index in operator.surprised:
            expect = operator.script.steps[index].expect
            name = "R10" if expect in STATE_NAMES else "R5"
            self._report(name, f"step {index + 1} of the script did not end with '{expect}'")

    def first_broken(self) -> tuple[str, Broken] | None:
        """Return the requirement that broke first with its break, or None."""
        return min(self.broken.items(), key=lambda item: item[1].t_ms, default=None)

    def started_alone(self) -> bool:
        """Tell whether R6's first half fails: a start, or going on, that nobody asked for."""
        return "R1" in self.broken or "R2" in self.broken or "R4" in self.broken

    @property
    def worst_overrun_mm(self) -> float:
        """Longest way of the free end from release to standstill so far."""
        return self.motion.worst_overrun_mm

    @property
    def worst_rope_overrun_mm(self) -> float:
        """The same in mm of rope."""
        return self.motion.worst_rope_overrun_mm

    @property
    def worst_stop_mm(self) -> float:
        """Longest way of the free end from any stop (also limit, final, stop) to standstill."""
        return self.motion.worst_stop_mm

    @property
    def worst_reaction_ms(self) -> int:
        """Longest time from release, limit, stop or final to no current and brake set."""
        return self.motion.worst_reaction_ms

    @property
    def worst_release_ms(self) -> int:
        """Longest time from release to motor and brake coil switched off, which R1 limits."""
        return self.motion.worst_release_ms

    @property
    def worst_drop_mm(self) -> float:
        """Longest way of the free end with everything off and the coasting over."""
        return self.motion.worst_drop_mm

    def snapshot(self) -> tuple[Any, ...]:
        """Return the whole state."""
        return (
            take_motion(self.motion),
            take_starts(self.starts),
            take_latch(self.latch),
            take_times(self.times),
            self.active_ms,
            self.steady_all_ms,
            self.steady_ms,
            self._key,
            tuple(self.broken.items()),
        )

    def restore(self, state: tuple[Any, ...]) -> None:
        """Take over a state from snapshot()."""
        (
            motion,
            starts,
            latch,
            times,
            self.active_ms,
            self.steady_all_ms,
            self.steady_ms,
            self._key,
            broken,
        ) = state
        put_motion(self.motion, motion)
        put_starts(self.starts, starts)
        put_latch(self.latch, latch)
        put_times(self.times, times)
        self.broken = dict(broken)
