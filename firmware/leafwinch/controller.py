"""The drive's state machine: one pass every 5 ms, from contacts to outputs.

Pure integers, no hardware, no allocation in a pass. Supervision rules each live in
a module of their own and return candidate faults; this module owns the states.
"""

from leafwinch.contactors import DIRECTION, LINE, MIRRORS, OFF, RUNNING
from leafwinch.control import HALFWAY_MS
from leafwinch.faults import (
    LOOP_LATE,
    NO_FAULT,
    PROGRAM_ERROR,
    SETTINGS_BAD,
    SETTINGS_FOREIGN,
    SUPPLY_LOST,
    WATCHDOG_BOOT,
    is_serious,
)
from leafwinch.held import why_held
from leafwinch.inputs import SETTLE_MS
from leafwinch.kept import record_of, take_over
from leafwinch.numbers import LOWER, NO_DIRECTION, RAISE, TICKS_MASK, const
from leafwinch.recovery import AWAY_ONLY
from leafwinch.reset_button import PRESSED, STUCK
from leafwinch.settings import Settings
from leafwinch.signals import (
    BOTTOM_END,
    BOTTOM_FINAL,
    CHAIN_OK,
    LOWER_OFF,
    LOWER_PATH,
    NO_SAMPLE,
    OUT_LINE_PULSE,
    OUT_LOWER,
    OUT_RAISE,
    RAISE_OFF,
    RAISE_PATH,
    RECOVERY_OFF,
    RESET,
    SERVICE_LINK,
    STOP_OK,
    TOP_END,
    TOP_FINAL,
)
from leafwinch.states import (
    ALLOWED,
    ENDED_BOTTOM,
    ENDED_CAUSE,
    ENDED_FINAL_CLOSED,
    ENDED_HALFWAY,
    ENDED_NOT,
    ENDED_RELEASED,
    ENDED_TOP,
    FAULT,
    HELD,
    HELD_NEUTRAL_WAIT,
    HELD_RESOLVING,
    HELD_SETTLING,
    HELD_SUPPLY,
    IDLE,
    LOWERING,
    RAISING,
    REFUSED_BUDGET,
    REFUSED_END,
    REFUSED_NOT,
    REFUSED_RECOVERY,
    REFUSED_SLACK,
    REFUSED_UNPROVEN,
    WARN_DRIFT,
    WARN_HALFWAY,
    WARN_KEPT_ACTUATED,
    WARN_NOTHING,
    WARN_RECOVERY_REFUSED,
    WARN_RESET_REFUSED,
    WARN_RESET_STUCK,
    WARN_SERVICE_LINK,
)
from leafwinch.stops import why_stop
from leafwinch.supervision import Supervision

BOOT_WATCHDOG = const(1)  # boot flags
BOOT_SETTINGS_BAD = const(2)
BOOT_SETTINGS_FOREIGN = const(4)
BOOT_SELF_TEST = const(8)

LATE_MS = const(15)  # longest time between two passes while an output is wanted
STEP_MS_MAX = const(1000)  # a longer gap counts as this much
DEMAND_MS = const(300)  # NC and NO contact of one actuation may be this far apart
KEPT_ACTUATED_MS = const(10000)
STORE_FAULT_MS = const(500)  # a latched fault is stored so long after everything went off

_OFFS = RAISE_OFF | LOWER_OFF
_CONTROL = RAISE_OFF | LOWER_OFF | RAISE_PATH | LOWER_PATH
_RESETTABLE = STOP_OK | TOP_FINAL | BOTTOM_FINAL | CHAIN_OK | RECOVERY_OFF | MIRRORS
_ENDS = TOP_END | BOTTOM_END


class Controller(Supervision):
    """Decides every 5 ms what the contactors, lamps and buzzer do.

    settings: checked settings. kept: record stored by an earlier run (see kept.py),
    or None, which counts as the conservative value of each entry. boot: BOOT_ flags.
    """

    FIELDS: "tuple[str, ...]" = (
        "last_ms",
        "stepped",
        "state",
        "fault",
        "later_fault",
        "held_reasons",
        "refused",
        "ended",
        "demand_ms",
        "kept_actuated_ms",
        "record_due",
        "warning",
        "warnings",
        "pulse",
    )

    def __init__(
        self, settings: Settings, kept: "tuple[int, ...] | None" = None, boot: int = 0
    ) -> None:
        super().__init__(settings)
        self.last_ms = 0
        self.stepped = 0  # 0 until the first pass
        self.held_reasons = HELD_SETTLING
        self.refused = REFUSED_NOT
        self.ended = ENDED_NOT
        self.demand_ms = 0
        self.kept_actuated_ms = 0
        self.record_due = 0  # 1: the record should be stored; held is not left before
        self.warning = WARN_NOTHING
        self.warnings = 0  # how many so far, modulo 2^16
        self.pulse = 0
        if kept is not None:
            self.fault = take_over(self, kept)
        if boot & BOOT_WATCHDOG and not self.fault:
            self.fault = WATCHDOG_BOOT
        if boot & BOOT_SELF_TEST:
            self.fault = PROGRAM_ERROR
        if boot & BOOT_SETTINGS_FOREIGN:
            self.fault = SETTINGS_FOREIGN
        if boot & BOOT_SETTINGS_BAD:
            self.fault = SETTINGS_BAD
        if self.fault:
            self.state = FAULT

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        """Run one pass and return the output mask.

        now_ms: milliseconds, wrapping at 2^30. contacts: raw contact mask.
        current_ma: RMS (AC) or signed mean (DC) in mA, or NO_SAMPLE. supply_mv: the
        24 V control supply in mV.
        """
        dt_ms = (now_ms - self.last_ms) & TICKS_MASK if self.stepped else 0
        self.stepped = 1
        self.last_ms = now_ms
        if dt_ms > LATE_MS:
            if dt_ms > STEP_MS_MAX:
                dt_ms = STEP_MS_MAX
            if self.contactors.phase != OFF:
                self._candidate(LOOP_LATE)
        inputs = self.inputs
        c = inputs.seen
        steady = c == contacts == inputs.one == inputs.two and inputs.settle_ms >= SETTLE_MS
        if not steady or supply_mv < inputs.supply_low_mv or inputs.low_ticks:
            inputs.step(dt_ms, contacts, supply_mv)
            c = inputs.seen
        current = self.current
        fault = NO_FAULT
        if current_ma == NO_SAMPLE or current.stalled_ms:
            fault = current.sample(dt_ms, current_ma)
        else:
            current.value_ma = current_ma
        if inputs.low_ticks >= 2:
            self._unsupplied(dt_ms)
        elif inputs.settle_ms < SETTLE_MS:
            self._blind(dt_ms, HELD_SETTLING)
        else:
            if fault:
                self._candidate(fault)
            recovery = self.recovery
            if recovery.mode and recovery.step(c) and self.contactors.phase != OFF:
                self._end_travel(ENDED_FINAL_CLOSED)
            self._judge(dt_ms, c)
            self._act(dt_ms, c)
        out = self.indicator.step(dt_ms, self.state, self.fault)
        contactors = self.contactors
        phase = contactors.phase
        if phase >= DIRECTION:
            out |= OUT_RAISE if contactors.way == RAISE else OUT_LOWER
        pulse = 1 - self.pulse if phase >= LINE else contactors.park_high
        self.pulse = pulse
        return out | OUT_LINE_PULSE if pulse else out

    # --- passes in which inputs cannot be believed -------------------------------

    def _unsupplied(self, dt_ms: int) -> None:
        """Without 24 V every input is dead: stop, forget all proofs, judge nothing else."""
        if self.state == RAISING or self.state == LOWERING or self.cause.is_open:
            self._candidate(SUPPLY_LOST)
        self._blind(dt_ms, HELD_SUPPLY)
        # What the deck does meanwhile is unseen, so no direction is remembered for it.
        self.contactors.way = NO_DIRECTION

    def _blind(self, dt_ms: int, reason: int) -> None:
        if self.state == RAISING or self.state == LOWERING:
            self._end_travel(ENDED_CAUSE)
        elif self.state == IDLE:
            self._enter(HELD)
        self._forget()
        self.demand_ms = 0
        self.thermal.step(dt_ms, self.current.value_ma, False)
        if self.cause.is_open:
            self._resolve(dt_ms, 0)
        self.held_reasons = reason
        if self.cause.is_open:
            self.held_reasons |= HELD_RESOLVING

    # --- the cause ------------------------------------------------------------------

    def _resolve(self, dt_ms: int, c: int) -> None:
        """Latch the cause once its open window is over."""
        cause = self.cause
        if not cause.due(dt_ms):
            return
        fault = cause.candidate
        cause.close()
        if fault:
            self._latch(fault)
        elif self.ended == ENDED_HALFWAY and c:
            self._name_ending(c)
        self.budget.ended()

    def _name_ending(self, c: int) -> None:
        """Name what stopped a travel by its path alone, now that all contacts had time."""
        way = self.contactors.way
        if self.control.ended_by_path_alone(way, c):
            return
        if not c & (TOP_END if way == RAISE else BOTTOM_END):
            self.ended = ENDED_TOP if way == RAISE else ENDED_BOTTOM
            self.ends.travel_completed()
        elif c & (RAISE_OFF if way == RAISE else LOWER_OFF):
            self.ended = ENDED_RELEASED

    # --- the state machine --------------------------------------------------------

    def _act(self, dt_ms: int, c: int) -> None:
        """Stops first, then the fault, then resets, and only then a start."""
        state = self.state
        cause = self.cause
        contactors = self.contactors
        if state == RAISING or state == LOWERING:
            amid = c & _ENDS == _ENDS and self.control.asked == contactors.way
            if not amid or cause.is_open or self.recovery.mode:
                ended = why_stop(self, c)
                if ended:
                    self._end_travel(ended)
        elif state == IDLE and cause.is_open:
            self._enter(HELD)
        if cause.is_open:
            self._resolve(dt_ms, c)
        button = self.reset_button
        if c & RESET or button.pressed_ms or not button.armed:
            self._pressed(button.step(dt_ms, c), c)
        if self.control.halfway_ms >= HALFWAY_MS or self.ends.drifted:
            self._warn_of_contacts()
        state = self.state
        if state == HELD:
            if self.ended == ENDED_TOP or self.ended == ENDED_BOTTOM:
                self._watch_hand(dt_ms, c)
            self.held_reasons = why_held(self, self.record_due, c)
            if not self.held_reasons:
                self._enter(IDLE)
        elif state == IDLE:
            if c & _CONTROL == _OFFS:
                self.demand_ms = 0
            else:
                self._demanded(dt_ms, c)
        elif state == FAULT:
            self.held_reasons = 0
        elif contactors.phase != RUNNING:
            contactors.advance(c)

    def _pressed(self, pressed: int, c: int) -> None:
        if pressed == PRESSED and self.state == FAULT:
            self._reset(c)
        elif pressed == STUCK:
            self._warn(WARN_RESET_STUCK)

    def _end_travel(self, ended: int) -> None:
        """Take everything off at once and wait for the cause."""
        self.ended = ended
        self._enter(HELD)
        self.control.travel_ended()
        self.kept_actuated_ms = 0
        if ended == ENDED_TOP or ended == ENDED_BOTTOM:
            self.ends.travel_completed()
        self.cause.open()
        self.record_due = 1

    def _latch(self, fault: int) -> None:
        self.fault = fault
        self.later_fault = NO_FAULT
        self._enter(FAULT)
        self.recovery.leave()
        if is_serious(fault):
            self.record_due = 1

    def _reset(self, c: int) -> None:
        """Answer a deliberate press: to held, to recovery, or refused."""
        neutral = c & _CONTROL == _OFFS
        quiet = c & MIRRORS == MIRRORS and not self.current.rest_over_ms
        repaired = self.fault != SETTINGS_BAD and self.fault != SETTINGS_FOREIGN
        if not neutral or not quiet or not repaired or self.current.stalled():
            self._warn(WARN_RESET_REFUSED)
            return
        if self.recovery.bridges_one_final(c):
            if not self.recovery.begin(c, self.chain):
                self._warn(WARN_RECOVERY_REFUSED)
                return
        elif c & _RESETTABLE != _RESETTABLE or not self.control.neutral() or not c & _ENDS:
            self._warn(WARN_RESET_REFUSED)
            return
        if c & SERVICE_LINK:
            # Spent accounts have no other way out once their cause was mended.
            self.current.grant_start()
            self.budget.grant_leaving()
        self.fault = NO_FAULT
        self.later_fault = NO_FAULT
        self.ended = ENDED_NOT
        self.record_due = 1
        self._enter(HELD)

    def _demanded(self, dt_ms: int, c: int) -> None:
        """In idle: start a proven demand, or lock out until neutral if it is refused."""
        self.demand_ms += dt_ms
        way = self.control.asked
        if way == NO_DIRECTION:
            towards_end = (not c & RAISE_OFF and not c & TOP_END) or (
                not c & LOWER_OFF and not c & BOTTOM_END
            )
            if towards_end:
                self._refuse(REFUSED_END)
            elif self.demand_ms > DEMAND_MS:
                self._refuse(REFUSED_UNPROVEN)
            return
        refused = self._why_refused(way, c)
        if refused:
            self._refuse(refused)
            return
        self.refused = REFUSED_NOT
        self.demand_ms = 0
        self.budget.start(way, c)
        self._enter(RAISING if way == RAISE else LOWERING)
        self.contactors.start(way)

    def _why_refused(self, way: int, c: int) -> int:
        recovery = self.recovery
        if recovery.mode == AWAY_ONLY and way != recovery.away:
            return REFUSED_RECOVERY
        if not c & (TOP_END if way == RAISE else BOTTOM_END):
            return REFUSED_END
        budget = self.budget
        if budget.spent(way) and not (c & SERVICE_LINK and budget.grant_extra(way)):
            return REFUSED_BUDGET
        if way == LOWER and self.slack.refuses_lowering(c, budget.down_ms, budget.known):
            return REFUSED_SLACK
        return REFUSED_NOT

    def _refuse(self, refused: int) -> None:
        self.refused = refused
        self.demand_ms = 0
        self.indicator.chirp()
        self._enter(HELD)

    def _enter(self, state: int) -> None:
        """Make a transition: the only place that changes the state."""
        if not ALLOWED[self.state] & (1 << state):
            if state == self.state:
                return
            self.fault = PROGRAM_ERROR
            state = FAULT
        self.state = state
        self.held_reasons = 0
        if state != RAISING and state != LOWERING:
            self.contactors.stop()
        if state == HELD:
            self.control.neutral_ms = 0
            self.held_reasons = HELD_NEUTRAL_WAIT
        elif state == IDLE and self.inputs.seen & SERVICE_LINK:
            self._warn(WARN_SERVICE_LINK)

    # --- warnings -----------------------------------------------------------------

    def _warn_of_contacts(self) -> None:
        """Say what is odd but no fault: a control held halfway, a limit that moved at rest."""
        control = self.control
        if control.halfway_ms >= HALFWAY_MS and not control.halfway_said:
            control.halfway_said = 1
            self._warn(WARN_HALFWAY)
        if self.ends.drifted:
            self._warn(WARN_DRIFT)

    def _watch_hand(self, dt_ms: int, c: int) -> None:
        """Warn once of a control that stays actuated after its end was reached."""
        own_off = RAISE_OFF if self.ended == ENDED_TOP else LOWER_OFF
        if c & own_off:
            self.kept_actuated_ms = KEPT_ACTUATED_MS + 1  # released: said no more
        elif self.kept_actuated_ms < KEPT_ACTUATED_MS:
            self.kept_actuated_ms += dt_ms
            if self.kept_actuated_ms >= KEPT_ACTUATED_MS:
                self._warn(WARN_KEPT_ACTUATED)

    def _warn(self, warning: int) -> None:
        self.warning = warning
        self.warnings = (self.warnings + 1) & 0xFFFF
        self.indicator.chirp()

    # --- between passes: storing, time, snapshots ---------------------------------

    def at_rest(self) -> bool:
        """Tell whether flash may be written: all is off and no cause is being sought.

        With a fault latched the record must not wait for mirrors that cannot be seen to close,
        of a contactor that never lets go, or of any while the control supply is lost.
        """
        contactors = self.contactors
        if contactors.phase != OFF or self.cause.is_open:
            return False
        unseen = contactors.off_ms >= STORE_FAULT_MS or not self.inputs.supplied()
        return contactors.quiet_ms > 0 or (self.state == FAULT and unseen)

    def record(self) -> "tuple[int, ...]":
        """Return what must survive power loss (allocates: call at rest only)."""
        return record_of(self)

    def stored(self, now_ms: int) -> None:
        """Note that the record was written; time is taken anew and proofs start again."""
        self.record_due = 0
        self.resync(now_ms)

    def resync(self, now_ms: int) -> None:
        """Take the time anew after a pause of the loop at rest."""
        self.last_ms = now_ms
        self.inputs.forget()
        self._forget()
        self.demand_ms = 0
