"""R3, R4 and R5: one direction at a time, no start without neutral, latched causes."""

from leafwinch.fault_texts import FAULTS
from leafwinch.faults import is_serious
from leafwinch.requirement_limits import R3_PAUSE_MS
from leafwinch.reset_button import PRESS_MAX_MS, PRESS_MIN_MS
from leafwinch.signals import RESET, STOP_OK
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.observation import Observation
from leafwinch_sim.requirements_motion import LONG_MS, WAY_WORDS, Report

NEW_START_MS = 30  # fed again after so long without is a start and no bounce
AFTER_PRESS_MS = 150  # a press takes effect within this, filter and flash write included
STORED_MS = 1000  # a serious fault is stored at the latest so long after the outputs are off
PRESS_SLACK_MS = 50  # bounce at both ends of a press
PRESS_GAP_MS = 10  # a shorter gap, such as a dip of the supply, does not end a press
BLIP_MS = 100  # contactors on their way in when the stop came may close for so long


class Starts:
    """Watches both directions' contactors, and that each start came after neutral."""

    FIELDS = ("raised_ms", "lowered_ms", "idle_ms", "armed", "unarmed_ms", "why", "before")
    __slots__ = FIELDS
    WHY = ("power-up", "a fault", "a stop")

    def __init__(self) -> None:
        self.raised_ms = LONG_MS  # since the motor was last fed to raise
        self.lowered_ms = LONG_MS
        self.idle_ms = LONG_MS
        self.armed = 0
        self.unarmed_ms = 0  # fed so long since a start without neutral
        self.why = 0
        self.before = 0  # packed STOP_OK, hung and board_on of the last step, STOP_OK before it

    def step(self, o: Observation, fed: int, report: Report) -> None:
        """Judge one step in which the motor is fed, was fed lately, or something changed."""
        if o.both_pulled_any:
            report("R3", "both direction contactors had their main contacts closed at once")
        stop_ok = 1 if o.contacts & STOP_OK else 0
        before = self.before
        now = (2 if o.hung else 0) | (4 if o.board_on else 0) | stop_ok | (before & 1) << 3
        self.before = now
        if (now & 4 and not before & 4) or (before & 2 and not now & 2):
            self._disarm(0)
        elif o.fault:
            self._disarm(1)
        elif not stop_ok and before & 9 == 8:
            # Open for one step alone it is no stop but a dip of the supply, or bounce.
            self._disarm(2)
        if o.asked == 0:
            self.armed = 1
        if not fed:
            self._rest()
            return
        starts = not self.armed and self.idle_ms >= NEW_START_MS and o.asked != 0
        if starts or self.unarmed_ms:
            self._unarmed(fed, report)
        self.idle_ms = 0
        self._pause(fed, report)

    def _unarmed(self, fed: int, report: Report) -> None:
        """Count how long a start without neutral lasts."""
        self.unarmed_ms += STEP_MS
        if self.unarmed_ms > BLIP_MS:
            self.unarmed_ms = 0
            report(
                "R4",
                f"the motor started {WAY_WORDS[fed]} after {self.WHY[self.why]} although the "
                "control had not been in the middle",
            )

    def skip(self, skipped_ms: int) -> None:
        """Let time pass in which the motor was fed one way and nothing else happened."""
        if self.raised_ms:
            self.raised_ms = min(LONG_MS, self.raised_ms + skipped_ms)
        if self.lowered_ms:
            self.lowered_ms = min(LONG_MS, self.lowered_ms + skipped_ms)

    def _disarm(self, why: int) -> None:
        self.armed = 0
        self.why = why

    def _rest(self) -> None:
        if self.idle_ms < LONG_MS:
            self.idle_ms += STEP_MS
        if self.idle_ms >= NEW_START_MS:
            self.unarmed_ms = 0
        if self.raised_ms < LONG_MS:
            self.raised_ms += STEP_MS
        if self.lowered_ms < LONG_MS:
            self.lowered_ms += STEP_MS

    def _pause(self, fed: int, report: Report) -> None:
        other_ms = self.lowered_ms if fed == 1 else self.raised_ms
        if fed != 2 and other_ms < R3_PAUSE_MS:
            report("R3", f"the motor was reversed after {other_ms} ms; allowed are {R3_PAUSE_MS}")
        if fed == 1:
            self.raised_ms = 0
            if self.lowered_ms < LONG_MS:
                self.lowered_ms += STEP_MS
        elif fed == -1:
            self.lowered_ms = 0
            if self.raised_ms < LONG_MS:
                self.raised_ms += STEP_MS


class Latch:
    """Watches that a fault, once latched, stays until a deliberate press or power-up."""

    FIELDS = (
        "fault",
        "fault_ms",
        "press_ms",
        "press_gap_ms",
        "since_press_ms",
        "board_was_on",
        "was_hung",
    )
    __slots__ = FIELDS

    def __init__(self) -> None:
        self.fault = 0
        self.fault_ms = 0  # latched so long with every contactor released
        self.press_ms = 0
        self.press_gap_ms = 0
        self.since_press_ms = LONG_MS
        self.board_was_on = 0
        self.was_hung = 0

    def step(self, o: Observation, report: Report) -> None:
        """Judge one step; needed while a fault is latched or the reset button moves."""
        if o.contacts & RESET:
            self.press_ms += STEP_MS
            self.press_gap_ms = 0
        elif self.press_ms:
            if PRESS_MIN_MS - PRESS_SLACK_MS <= self.press_ms <= PRESS_MAX_MS + PRESS_SLACK_MS:
                self.since_press_ms = 0
            self.press_ms += STEP_MS
            self.press_gap_ms += STEP_MS
            if self.press_gap_ms > PRESS_GAP_MS:
                self.press_ms = 0
                self.press_gap_ms = 0
        if self.since_press_ms < LONG_MS:
            self.since_press_ms += STEP_MS
        bitten = self.was_hung > o.hung  # the watchdog has restarted the board
        booted = o.board_on > self.board_was_on or bitten
        self.board_was_on = 1 if o.board_on else 0
        self.was_hung = 1 if o.hung else 0
        if not o.board_on:
            return
        fault = o.fault
        if fault == self.fault:
            released = not (o.line_pulled or o.raise_pulled or o.lower_pulled)
            # A program that stands still can store nothing; what it latches next is judged.
            if fault and released and not o.hung and self.fault_ms < LONG_MS:
                self.fault_ms += STEP_MS
            return
        latched = self.fault
        if latched:
            self._changed(latched, fault, booted, report)
            if bitten and not fault:
                name = FAULTS[latched - 1][0]
                report(
                    "R5", f"after the watchdog's restart no fault was latched in place of {name}"
                )
        self.fault = fault
        self.fault_ms = 0

    def _changed(self, latched: int, fault: int, booted: bool, report: Report) -> None:
        name = FAULTS[latched - 1][0]
        if booted:
            if is_serious(latched) and self.fault_ms > STORED_MS:
                report("R5", f"the serious fault {name} was gone after power-up")
        elif self.since_press_ms > AFTER_PRESS_MS:
            became = FAULTS[fault - 1][0] if fault else "no fault"
            report("R5", f"the latched fault {name} became {became} without a deliberate reset")
