"""All supervision rules side by side: one pass over them collects the candidate faults."""

from leafwinch.budget import Budget
from leafwinch.cause import Cause
from leafwinch.chain import HEALTHY, Chain
from leafwinch.contactors import LINE, OFF, Contactors
from leafwinch.control import CONTROL, NEUTRAL, NEUTRAL_MS, Control
from leafwinch.current import AT_REST_MS as CURRENT_JUDGED_MS
from leafwinch.current import Current
from leafwinch.ends import AT_REST_MS, LEFT_MS, Ends
from leafwinch.faults import NO_FAULT
from leafwinch.indicator import Indicator
from leafwinch.inputs import Inputs
from leafwinch.numbers import NO_DIRECTION, TYPE_CHECKING
from leafwinch.recovery import OFF as RECOVERY_OFF
from leafwinch.recovery import Recovery
from leafwinch.reset_button import ResetButton
from leafwinch.settings import Settings
from leafwinch.signals import BOTTOM_END, LINE_RELEASED, ROPE_TAUT, TOP_END
from leafwinch.slack import TAUT_MS, Slack
from leafwinch.states import FAULT, HELD
from leafwinch.thermal import Thermal

_ENDS = TOP_END | BOTTOM_END

if TYPE_CHECKING:
    from typing import Any


class Supervision:
    """Owns the rule modules, lets each look at a pass, and can save and restore them all."""

    FIELDS: "tuple[str, ...]" = ()  # the controller, which is one of its own parts, has them

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.inputs = Inputs(settings)
        self.chain = Chain()
        self.ends = Ends()
        self.control = Control()
        self.contactors = Contactors(settings)
        self.current = Current(settings)
        self.slack = Slack(settings)
        self.budget = Budget(settings)
        self.thermal = Thermal(settings)
        self.cause = Cause()
        self.recovery = Recovery()
        self.reset_button = ResetButton()
        self.indicator = Indicator()
        self.state = HELD
        self.fault = NO_FAULT
        self.later_fault = NO_FAULT  # first other candidate seen while latched

    def _judge(self, dt_ms: int, c: int) -> None:
        """Let every rule look at this pass and collect its candidates.

        A call costs a small board more than most rules' own work. So a rule is left out here in
        passes in which it would find nothing and change nothing.
        """
        contactors = self.contactors
        phase = contactors.phase
        way = contactors.way
        energised = phase >= LINE or (not c & LINE_RELEASED and contactors.energised(c))
        travel_way = way
        if phase == OFF and not energised and contactors.off_ms >= AT_REST_MS:
            travel_way = NO_DIRECTION
        chain = self.chain
        if c & HEALTHY != HEALTHY or chain.finals_open or chain.key_ms:
            recovery = self.recovery
            fault = chain.step(dt_ms, c, travel_way, recovery.exempt, recovery.mode != RECOVERY_OFF)
            if fault:
                self._candidate(fault)
        ends = self.ends
        amid = c & _ENDS == _ENDS and ends.top_left_ms >= LEFT_MS and ends.bottom_left_ms >= LEFT_MS
        if not amid or not energised or ends.rest_ms:
            fault = ends.step(dt_ms, c, energised, travel_way)
            if fault:
                self._candidate(fault)
        control = self.control
        if c & CONTROL != NEUTRAL or control.neutral_ms < NEUTRAL_MS or control.eased_ms:
            fault = control.step(dt_ms, c)
            if fault:
                self._candidate(fault)
        fault = contactors.at_rest(dt_ms, c) if phase == OFF else contactors.step(dt_ms, c)
        if fault:
            self._candidate(fault)
        budget = self.budget
        if energised or budget.full:
            fault = budget.step(dt_ms, c, energised, way)
            if fault:
                self._candidate(fault)
        elif c & _ENDS != _ENDS:
            budget.known_at_end(c)
        current = self.current
        value_ma = current.value_ma
        if energised:
            settings = self.settings
            slack = self.slack
            if settings.slack_fitted and (
                not c & ROPE_TAUT or slack.taut_ms < TAUT_MS or slack.slack_ms
            ):
                fault = slack.step(dt_ms, c, way, budget.down_ms, budget.known)
                if fault:
                    self._candidate(fault)
            bucket = budget.bucket(way) if settings.envelope_learned else -1
            fault = current.energised(dt_ms, way, contactors.run_ms, bucket)
            if fault:
                self._candidate(fault)
        elif (
            current.rest_ms < CURRENT_JUDGED_MS
            or current.rest_over_ms
            or not -current.rest_ma <= value_ma <= current.rest_ma
        ):
            fault = current.at_rest(dt_ms)
            if fault:
                self._candidate(fault)
        fault = self.thermal.step(dt_ms, value_ma, energised)
        if fault:
            self._candidate(fault)

    def _candidate(self, fault: int) -> None:
        """Collect a candidate, or note it as a later one while a fault is latched."""
        if self.state != FAULT:
            self.cause.add(fault)
        elif not self.later_fault and fault != self.fault:
            self.later_fault = fault

    def _forget(self) -> None:
        self.control.forget()
        self.chain.forget()
        self.ends.forget()
        self.contactors.forget()
        self.current.forget()
        self.reset_button.forget()

    def parts(self) -> "tuple[Any, ...]":
        """Return every object that holds state, in snapshot order.

        The whole state of each is the integers named in its FIELDS.
        """
        return (
            self,
            self.inputs,
            self.chain,
            self.ends,
            self.control,
            self.contactors,
            self.current,
            self.slack,
            self.budget,
            self.thermal,
            self.cause,
            self.recovery,
            self.reset_button,
            self.indicator,
        )

    def snapshot(self) -> "tuple[int, ...]":
        """Return the whole state as a flat tuple of integers."""
        values: "list[int]" = []
        for part in self.parts():
            for name in part.FIELDS:
                values.append(getattr(part, name))
        return tuple(values)

    def restore(self, snapshot: "tuple[int, ...]") -> None:
        """Take over a state returned by snapshot() of a controller with equal settings."""
        index = 0
        for part in self.parts():
            for name in part.FIELDS:
                setattr(part, name, snapshot[index])
                index += 1

    def canonical(self) -> "tuple[int, ...]":
        """Return the state without absolute time, lamp phases and warning count.

        Two controllers with equal canonical forms drive the contactors alike for
        ever after under equal inputs, so the form may be hashed for exploration.
        """
        values: "list[int]" = []
        for part in self.parts():
            if part is self.indicator:
                continue
            for name in part.FIELDS:
                if part is self and (name == "last_ms" or name[:7] == "warning"):
                    continue
                values.append(getattr(part, name))
        return tuple(values)
