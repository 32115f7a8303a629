"""How near each supervision of the controller came to its limit in a run with nothing wrong.

A share of 1 is where the rule trips. Shares are read off the controller's own accounts,
one for each rule that time, current or position can bring near its limit.
"""

from dataclasses import dataclass

from leafwinch.contactors import DIRECTION, LINE, MIRRORS, OFF
from leafwinch.control import END_DISAGREES_MS, STUCK_MS
from leafwinch.controller import Controller
from leafwinch.current import (
    BLOCKED_MS,
    MISSING_MS,
    REST_OVER_MS,
    STALLED_MS,
    WRONG_WAY_MS,
)
from leafwinch.ends import BOTH_MS, DRIFTS_MAX
from leafwinch.faults import (
    BLOCKED,
    BOTH_ENDS,
    CURRENT_AT_REST,
    CURRENT_MISSING,
    CURRENT_TRIP,
    CURRENT_WRONG_WAY,
    DRIFT,
    DUTY,
    END_NOT_LEFT,
    JAM,
    LINE_NOT_PULLED,
    LINE_NOT_RELEASED,
    RAISE_CONTACT_STUCK,
    ROPE_SLACK,
    SAMPLES_STALLED,
    SUPPLY_LOST,
    THERMAL,
    TOP_END_DISAGREES,
    TRAVEL_EARLY,
    TRAVEL_LATE,
    UNDERLOAD,
)
from leafwinch.numbers import LOWER, RAISE
from leafwinch.settings import Settings
from leafwinch.thermal import FULL
from leafwinch_sim.bench import Bench
from leafwinch_sim.observation import Observation


@dataclass(frozen=True, slots=True)
class Margin:
    """One supervision: a short key, the fault that it latches, and what the share is of."""

    key: str
    fault: int
    words: str


MARGINS = (
    Margin("supply", SUPPLY_LOST, "lowest control supply: lost level over lowest value"),
    Margin("both_ends", BOTH_ENDS, "both ends open at once, time"),
    Margin("end_skew", TOP_END_DISAGREES, "the two contacts of an end apart at a demand, time"),
    Margin("control_skew", RAISE_CONTACT_STUCK, "control path live with its other contact closed"),
    Margin("release", LINE_NOT_RELEASED, "contactors releasing, time"),
    Margin("pull", LINE_NOT_PULLED, "contactors pulling in, time"),
    Margin("rest_current", CURRENT_AT_REST, "current at rest, time"),
    Margin("samples", SAMPLES_STALLED, "no fresh current sample, time"),
    Margin("start_current", CURRENT_TRIP, "peak current while starting"),
    Margin("run_current", CURRENT_TRIP, "peak current while running"),
    Margin("over_time", CURRENT_TRIP, "current above the trip level, time"),
    Margin("wrong_way", CURRENT_WRONG_WAY, "current against the direction, time"),
    Margin("missing", CURRENT_MISSING, "current missing, time"),
    Margin("blocked", BLOCKED, "blocked account"),
    Margin("jam", JAM, "current above the learned envelope, time"),
    Margin("underload", UNDERLOAD, "current below the learned envelope, time"),
    Margin("slack", ROPE_SLACK, "lowering with a slack rope, account"),
    Margin("leave", END_NOT_LEFT, "time to leave an end"),
    Margin("early", TRAVEL_EARLY, "shortest full travel: early limit over travel"),
    Margin("raise_budget", TRAVEL_LATE, "raising budget used"),
    Margin("lower_budget", TRAVEL_LATE, "lowering budget used"),
    Margin("thermal", THERMAL, "thermal replica"),
    Margin("duty", DUTY, "duty account"),
    Margin("drift", DRIFT, "limits that moved at rest"),
)
KEYS = tuple(margin.key for margin in MARGINS)


class MarginMeter:
    """Keeps the highest share of each margin; `observe` is an observer for run_script."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.shares = dict.fromkeys(KEYS, 0.0)
        self.was_full = 0
        self.run_way = 0
        self.cleared = (
            False  # the blocked account begins at its power-up value, which is no reading
        )

    def row(self) -> tuple[float, ...]:
        """Return the shares in the order of MARGINS, rounded to 5 digits."""
        return tuple(round(self.shares[key], 5) for key in KEYS)

    def observe(self, bench: Bench, o: Observation) -> None:
        """Take in one step."""
        board = bench.board
        if board is None or not board.powered:
            return
        c = board.controller
        if not isinstance(c, Controller):
            return
        self._always(c, o)
        if c.contactors.phase >= LINE:
            self._fed(c)
        self._sequence(c, o)
        self._travelled(c)

    def _keep(self, key: str, amount: float, limit: float) -> None:
        if amount > 0.0 and limit > 0.0:
            share = amount / limit
            if share > self.shares[key]:
                self.shares[key] = share

    def _always(self, c: Controller, o: Observation) -> None:
        keep, s = self._keep, self.settings
        if o.supply_mv > 0:
            keep("supply", s.supply_low_mv, o.supply_mv)
        keep("both_ends", c.ends.both_ms, BOTH_MS)
        keep("end_skew", c.control.disagree_ms, END_DISAGREES_MS)
        keep("control_skew", max(c.control.raise_stuck_ms, c.control.lower_stuck_ms), STUCK_MS)
        keep("rest_current", c.current.rest_over_ms, REST_OVER_MS)
        keep("samples", c.current.stalled_ms, STALLED_MS)
        keep("drift", c.ends.drifts, DRIFTS_MAX)
        keep("thermal", c.thermal.level, FULL)
        keep("duty", c.thermal.duty_ms100, c.thermal.duty_max)

    def _fed(self, c: Controller) -> None:
        keep, s, current, budget = self._keep, self.settings, c.current, c.budget
        size_ma = abs(current.value_ma)
        if c.contactors.run_ms > s.inrush_ms:
            keep("run_current", size_ma, s.trip_ma)
        else:
            keep("start_current", size_ma, s.inrush_trip_ma)
        keep("over_time", current.over_ms, s.trip_ms)
        keep("wrong_way", current.wrong_ms, WRONG_WAY_MS)
        keep("missing", current.missing_ms, MISSING_MS)
        if current.blocked_ms == 0:
            self.cleared = True
        elif self.cleared:
            keep("blocked", current.blocked_ms, BLOCKED_MS)
        keep("jam", current.jam_ms, s.jam_ms)
        keep("underload", current.under_ms, s.under_ms)
        keep("slack", c.slack.slack_ms, c.slack.allowed_ms(budget.down_ms, budget.known))
        if c.contactors.way == RAISE:
            keep("raise_budget", budget.up_ms, s.budget_raise_ms)
            keep("leave", budget.up_leave_ms, s.leave_bottom_ms)
        elif c.contactors.way == LOWER:
            keep("lower_budget", budget.down_ms, s.budget_lower_ms)
            keep("leave", budget.down_leave_ms, s.leave_top_ms)

    def _sequence(self, c: Controller, o: Observation) -> None:
        contactors = c.contactors
        if contactors.phase in (DIRECTION, LINE):
            self._keep("pull", contactors.phase_ms, self.settings.pull_ms)
        elif contactors.phase == OFF and o.contacts & MIRRORS != MIRRORS:
            self._keep("release", contactors.off_ms, self.settings.release_ms)

    def _travelled(self, c: Controller) -> None:
        """Take the length of an uninterrupted travel in the pass that judges it."""
        budget, s = c.budget, self.settings
        if budget.full and c.contactors.phase >= LINE:
            self.was_full = 1
            self.run_way = budget.run_way
            self.up_ms, self.down_ms = budget.up_ms, budget.down_ms
        elif self.was_full and not budget.full:
            self.was_full = 0
            at_end = budget.up_ms == 0 if self.run_way == LOWER else budget.down_ms == 0
            if at_end and self.run_way == RAISE:
                self._keep("early", s.early_raise_ms, self.up_ms)
            elif at_end:
                self._keep("early", s.early_lower_ms, self.down_ms)
