"""The three-position control: which way is asked, and whether its contacts can be believed."""

from leafwinch.faults import (
    BOTTOM_END_DISAGREES,
    CONTROL_BOTH,
    LOWER_CONTACT_STUCK,
    NO_FAULT,
    RAISE_CONTACT_STUCK,
    TOP_END_DISAGREES,
)
from leafwinch.numbers import LOWER, NO_DIRECTION, RAISE, const
from leafwinch.signals import (
    BOTTOM_END,
    CHAIN_OK,
    LOWER_OFF,
    LOWER_PATH,
    RAISE_OFF,
    RAISE_PATH,
    TOP_END,
)

_OFF = RAISE_OFF | LOWER_OFF
_PATHS = RAISE_PATH | LOWER_PATH
NEUTRAL = RAISE_OFF | LOWER_OFF | CHAIN_OK
CONTROL = RAISE_OFF | LOWER_OFF | RAISE_PATH | LOWER_PATH | CHAIN_OK
_ASKS_RAISE = LOWER_OFF | RAISE_PATH | CHAIN_OK
_ASKS_LOWER = RAISE_OFF | LOWER_PATH | CHAIN_OK

STUCK_MS = const(50)  # path live with its NC contact closed
BOTH_MS = const(500)
NEUTRAL_MS = const(300)
HALFWAY_MS = const(3000)
END_DISAGREES_MS = const(50)  # second end contact open, path live, at a new demand
END_DOUBTED_MS = const(1000)  # path dead, second end contact closed, at the next demand
EASED_MS = const(100)  # its NC contact closes within this: only a hand that let go slowly


class Control:
    """Judges the control's two directions from NC contact and coil path.

    Paths are judged only with the chain live, and neutral counts only then. The
    end contact in a path and the second end contact may open apart when the deck
    creeps, so they are compared at the next demand that way, never at the stop.
    """

    FIELDS = (
        "asked",
        "neutral_ms",
        "raise_stuck_ms",
        "lower_stuck_ms",
        "both_ms",
        "halfway_ms",
        "halfway_said",
        "disagree_ms",
        "new_demand",
        "top_doubted",
        "bottom_doubted",
        "eased_ms",
        "eased_way",
    )

    def __init__(self) -> None:
        self.asked = NO_DIRECTION
        self.neutral_ms = 0
        self.raise_stuck_ms = 0
        self.lower_stuck_ms = 0
        self.both_ms = 0
        self.halfway_ms = 0
        self.halfway_said = 0  # 1: the warning for this actuation was given
        self.disagree_ms = 0
        self.new_demand = 0  # 1: neutral was seen since the last travel ended
        self.top_doubted = 0  # 1: the last raise ended by its path alone
        self.bottom_doubted = 0
        self.eased_ms = 0  # so long a doubt can still turn out to be a slow hand
        self.eased_way = NO_DIRECTION

    def forget(self) -> None:
        """Start the proofs again: after a lost supply or a flash write."""
        self.asked = NO_DIRECTION
        self.neutral_ms = 0
        self.raise_stuck_ms = 0
        self.lower_stuck_ms = 0
        self.both_ms = 0
        self.halfway_ms = 0
        self.disagree_ms = 0
        self.eased_ms = 0

    def step(self, dt_ms: int, c: int) -> int:
        """Judge one pass and return a candidate fault or NO_FAULT; c is the filtered mask."""
        if self.eased_ms > 0:
            self._ease(dt_ms, c)
        control = c & CONTROL
        if control == NEUTRAL:
            if self.neutral_ms < NEUTRAL_MS:
                self.neutral_ms += dt_ms
                if self.neutral_ms >= NEUTRAL_MS:
                    self.new_demand = 1
                self.asked = NO_DIRECTION
                self.halfway_said = 0
                self._nothing_odd()
            return NO_FAULT
        self.neutral_ms = 0
        asked = self.asked  # in the last pass
        if control == _ASKS_RAISE:
            self.asked = RAISE
            if c & TOP_END:
                if asked != RAISE or self.disagree_ms:
                    self._nothing_odd()
                self.top_doubted = 0
                return NO_FAULT
        elif control == _ASKS_LOWER:
            self.asked = LOWER
            if c & BOTTOM_END:
                if asked != LOWER or self.disagree_ms:
                    self._nothing_odd()
                self.bottom_doubted = 0
                return NO_FAULT
        else:
            self.asked = NO_DIRECTION
        if not c & CHAIN_OK:
            self.forget()
            return NO_FAULT
        fault = self._stuck(dt_ms, c)
        if self._both(dt_ms, c) and not fault:
            fault = CONTROL_BOTH
        return self._ends_compared(dt_ms, c, fault)

    def _nothing_odd(self) -> None:
        """Start the proofs of everything odd again: the contacts agree."""
        self.raise_stuck_ms = 0
        self.lower_stuck_ms = 0
        self.both_ms = 0
        self.halfway_ms = 0
        self.disagree_ms = 0

    def _stuck(self, dt_ms: int, c: int) -> int:
        """Find a path that is live although its NC contact is closed: welded or bridged."""
        fault = NO_FAULT
        if c & LOWER_PATH and c & LOWER_OFF:
            self.lower_stuck_ms += dt_ms
            if self.lower_stuck_ms > STUCK_MS:
                self.lower_stuck_ms = STUCK_MS
                fault = LOWER_CONTACT_STUCK
        else:
            self.lower_stuck_ms = 0
        if c & RAISE_PATH and c & RAISE_OFF:
            self.raise_stuck_ms += dt_ms
            if self.raise_stuck_ms > STUCK_MS:
                self.raise_stuck_ms = STUCK_MS
                fault = RAISE_CONTACT_STUCK
        else:
            self.raise_stuck_ms = 0
        return fault

    def _both(self, dt_ms: int, c: int) -> bool:
        if c & _OFF and c & _PATHS != _PATHS:
            self.both_ms = 0
            return False
        if self.both_ms < BOTH_MS:
            self.both_ms += dt_ms
        return self.both_ms >= BOTH_MS

    def _ends_compared(self, dt_ms: int, c: int, fault: int) -> int:
        """Compare end and path while exactly one direction is actuated.

        fault: what the control itself showed; the ends are upstream of it.
        """
        if not c & RAISE_OFF and c & LOWER_OFF:
            path = c & RAISE_PATH
            end = c & TOP_END
            doubted = self.top_doubted
            disagrees = TOP_END_DISAGREES
        elif not c & LOWER_OFF and c & RAISE_OFF:
            path = c & LOWER_PATH
            end = c & BOTTOM_END
            doubted = self.bottom_doubted
            disagrees = BOTTOM_END_DISAGREES
        else:
            self.halfway_ms = 0
            self.disagree_ms = 0
            return fault
        if path:
            self.halfway_ms = 0
            if end:
                self.disagree_ms = 0
                self._doubt(disagrees, 0)
            elif self.new_demand:
                self.disagree_ms += dt_ms
                if self.disagree_ms > END_DISAGREES_MS:
                    self.disagree_ms = END_DISAGREES_MS
                    return disagrees
            return fault
        self.disagree_ms = 0
        if not end:
            self.halfway_ms = 0
            self._doubt(disagrees, 0)
            return fault
        if self.halfway_ms < HALFWAY_MS:
            self.halfway_ms += dt_ms
        if doubted and self.new_demand and self.halfway_ms >= END_DOUBTED_MS:
            return disagrees
        return fault

    def _doubt(self, disagrees: int, doubted: int) -> None:
        if disagrees == TOP_END_DISAGREES:
            self.top_doubted = doubted
        else:
            self.bottom_doubted = doubted

    def _ease(self, dt_ms: int, c: int) -> None:
        """Take a fresh doubt back if the hand has only let the control go slowly."""
        if self.eased_way == RAISE:
            if c & RAISE_OFF:
                self.top_doubted = 0
                self.eased_ms = 0
                return
        elif c & LOWER_OFF:
            self.bottom_doubted = 0
            self.eased_ms = 0
            return
        self.eased_ms = self.eased_ms - dt_ms if self.eased_ms > dt_ms else 0

    def travel_ended(self) -> None:
        """Note that a travel ended: what is actuated now is no new demand."""
        self.new_demand = 0

    def ended_by_path_alone(self, direction: int, c: int) -> bool:
        """Tell whether, after the cause window, only the path speaks for a stop.

        True while the NC contact is still open, the chain live, the path dead and
        the second end contact closed; the end is then doubted at the next demand,
        unless the NC contact follows within 100 ms.
        """
        if not c & CHAIN_OK:
            return False
        if direction == RAISE:
            if not c & RAISE_OFF and not c & RAISE_PATH and c & TOP_END:
                self.top_doubted = 1
                self.eased_ms = EASED_MS
                self.eased_way = RAISE
                return True
        elif not c & LOWER_OFF and not c & LOWER_PATH and c & BOTTOM_END:
            self.bottom_doubted = 1
            self.eased_ms = EASED_MS
            self.eased_way = LOWER
            return True
        return False

    def neutral(self) -> bool:
        """Tell whether the control has been neutral, the chain live, for 300 ms."""
        return self.neutral_ms >= NEUTRAL_MS
