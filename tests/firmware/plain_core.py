"""A core that leaves nothing out: every rule is asked in every pass, whatever it costs.

The real core asks a rule only where it could find or change something. This one is what it must
equal; it shares the rules themselves, which have tests of their own.
"""

from leafwinch.contactors import DIRECTION, LINE, OFF
from leafwinch.controller import LATE_MS, STEP_MS_MAX, Controller
from leafwinch.ends import AT_REST_MS
from leafwinch.faults import LOOP_LATE
from leafwinch.held import why_held
from leafwinch.inputs import SETTLE_MS
from leafwinch.numbers import NO_DIRECTION, RAISE, TICKS_MASK
from leafwinch.recovery import OFF as RECOVERY_OFF
from leafwinch.settings import Settings
from leafwinch.signals import (
    LOWER_OFF,
    LOWER_PATH,
    OUT_LINE_PULSE,
    OUT_LOWER,
    OUT_RAISE,
    RAISE_OFF,
    RAISE_PATH,
)
from leafwinch.states import (
    ENDED_BOTTOM,
    ENDED_FINAL_CLOSED,
    ENDED_TOP,
    FAULT,
    HELD,
    HELD_SETTLING,
    IDLE,
    LOWERING,
    RAISING,
)
from leafwinch.stops import why_stop

_OFFS = RAISE_OFF | LOWER_OFF
_CONTROL = RAISE_OFF | LOWER_OFF | RAISE_PATH | LOWER_PATH


class PlainCore(Controller):
    """The drive's state machine with every rule asked in every pass."""

    def __init__(
        self, settings: Settings, kept: "tuple[int, ...] | None" = None, boot: int = 0
    ) -> None:
        super().__init__(settings, kept, boot)
        self.thermal.unfelt_ma = -1

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        dt_ms = (now_ms - self.last_ms) & TICKS_MASK if self.stepped else 0
        self.stepped = 1
        self.last_ms = now_ms
        if dt_ms > LATE_MS:
            dt_ms = min(dt_ms, STEP_MS_MAX)
            if self.contactors.phase != OFF:
                self._candidate(LOOP_LATE)
        inputs = self.inputs
        inputs.step(dt_ms, contacts, supply_mv)
        fault = self.current.sample(dt_ms, current_ma)
        if not inputs.supplied():
            self._unsupplied(dt_ms)
        elif inputs.settle_ms < SETTLE_MS:
            self._blind(dt_ms, HELD_SETTLING)
        else:
            self._found(fault)
            if self.recovery.step(inputs.seen) and self.contactors.phase != OFF:
                self._end_travel(ENDED_FINAL_CLOSED)
            self._judge(dt_ms, inputs.seen)
            self._act(dt_ms, inputs.seen)
        return self.commanded(dt_ms)

    def commanded(self, dt_ms: int) -> int:
        """Return the outputs of this pass."""
        out = self.indicator.step(dt_ms, self.state, self.fault)
        contactors = self.contactors
        if contactors.phase >= DIRECTION:
            out |= OUT_RAISE if contactors.way == RAISE else OUT_LOWER
        if contactors.phase >= LINE:
            self.pulse = 1 - self.pulse
        else:
            self.pulse = contactors.park_high
        return out | (OUT_LINE_PULSE if self.pulse else 0)

    def _found(self, fault: int) -> None:
        if fault:
            self._candidate(fault)

    def _judge(self, dt_ms: int, c: int) -> None:
        contactors, budget, recovery = self.contactors, self.budget, self.recovery
        energised = contactors.energised(c)
        way = contactors.way
        at_rest = contactors.phase == OFF and not energised and contactors.off_ms >= AT_REST_MS
        travel_way = NO_DIRECTION if at_rest else way
        key_excused = recovery.mode != RECOVERY_OFF
        self._found(self.chain.step(dt_ms, c, travel_way, recovery.exempt, key_excused))
        self._found(self.ends.step(dt_ms, c, energised, travel_way))
        self._found(self.control.step(dt_ms, c))
        self._found(contactors.step(dt_ms, c))
        self._found(budget.step(dt_ms, c, energised, way))
        if energised:
            self._found(self.slack.step(dt_ms, c, way, budget.down_ms, budget.known))
            run_ms, bucket = contactors.run_ms, budget.bucket(way)
            self._found(self.current.energised(dt_ms, way, run_ms, bucket))
        else:
            self._found(self.current.at_rest(dt_ms))
        self._found(self.thermal.step(dt_ms, self.current.value_ma, energised))

    def _act(self, dt_ms: int, c: int) -> None:
        if self.state in (RAISING, LOWERING):
            ended = why_stop(self, c)
            if ended:
                self._end_travel(ended)
        elif self.state == IDLE and self.cause.is_open:
            self._enter(HELD)
        self._resolve(dt_ms, c)
        self._pressed(self.reset_button.step(dt_ms, c), c)
        self._warn_of_contacts()
        if self.state == HELD:
            if self.ended in (ENDED_TOP, ENDED_BOTTOM):
                self._watch_hand(dt_ms, c)
            self.held_reasons = why_held(self, self.record_due, c)
            if not self.held_reasons:
                self._enter(IDLE)
        elif self.state == IDLE:
            if c & _CONTROL == _OFFS:
                self.demand_ms = 0
            else:
                self._demanded(dt_ms, c)
        elif self.state == FAULT:
            self.held_reasons = 0
        else:
            self.contactors.advance(c)
