"""The travel budget: energised time in one direction since the opposite end."""

from leafwinch.faults import END_NOT_LEFT, NO_FAULT, TRAVEL_EARLY, TRAVEL_LATE
from leafwinch.numbers import LOWER, NO_DIRECTION, RAISE
from leafwinch.settings import BUCKETS, Settings
from leafwinch.signals import BOTTOM_END, LOWER_RELEASED, RAISE_RELEASED, TOP_END

_ENDS = TOP_END | BOTTOM_END


class Budget:
    """Keeps one account per direction, in ms of energised time.

    An account starts at the opposite end and grows while energised that way;
    travel the other way gives it back. Neither pauses, resets nor power cycles
    renew it: after power-up away from both ends the position is unknown and both
    accounts count as spent. A stated part of each start is free, up to a total.
    """

    FIELDS = (
        "up_ms",
        "down_ms",
        "up_free_ms",
        "down_free_ms",
        "start_free_ms",
        "up_leave_ms",
        "down_leave_ms",
        "up_extra_used",
        "down_extra_used",
        "known",
        "full",
        "run_way",
    )

    def __init__(self, settings: Settings) -> None:
        self.s = settings
        self.up_ms = settings.budget_raise_ms
        self.down_ms = settings.budget_lower_ms
        self.up_free_ms = settings.start_allow_total_ms
        self.down_free_ms = settings.start_allow_total_ms
        self.start_free_ms = 0
        self.up_leave_ms = 0  # raised so long with the bottom end still actuated
        self.down_leave_ms = 0
        self.up_extra_used = 0
        self.down_extra_used = 0
        self.known = 0  # 1: the accounts also tell the position
        self.full = 0  # 1: this travel began at the end and was not interrupted
        self.run_way = NO_DIRECTION

    def start(self, way: int, c: int) -> None:
        """Begin a travel: grant the free part of the start; c is the filtered mask."""
        self.run_way = way
        s = self.s
        if way == RAISE:
            free_ms = s.start_allow_total_ms - self.up_free_ms
            self.full = 1 if not c & BOTTOM_END else 0
        else:
            free_ms = s.start_allow_total_ms - self.down_free_ms
            self.full = 1 if not c & TOP_END else 0
        self.start_free_ms = free_ms if free_ms < s.start_allow_ms else s.start_allow_ms

    def ended(self) -> None:
        """Note that the travel is over, its cause window included: it is not judged any more."""
        self.full = 0
        self.start_free_ms = 0

    def step(self, dt_ms: int, c: int, energised: bool, way: int) -> int:
        """Keep the accounts for one pass and return a candidate fault or NO_FAULT.

        way: direction of the travel that is energised or was last.
        """
        fault = NO_FAULT
        if energised:
            if way == RAISE:
                fault = self._raised(dt_ms, c)
            elif way == LOWER:
                fault = self._lowered(dt_ms, c)
        if self.full and c & _ENDS != _ENDS and self._too_early(c):
            fault = TRAVEL_EARLY
        if not energised:
            self.known_at_end(c)
        elif way == RAISE:
            if not c & TOP_END:
                self._at_top()
        elif not c & BOTTOM_END:
            self._at_bottom()
        return fault

    def _too_early(self, c: int) -> bool:
        """Judge an uninterrupted travel that has reached its end, once."""
        if self.run_way == RAISE:
            if c & TOP_END:
                return False
            self.full = 0
            return self.up_ms < self.s.early_raise_ms
        if c & BOTTOM_END:
            return False
        self.full = 0
        return self.down_ms < self.s.early_lower_ms

    def known_at_end(self, c: int) -> None:
        """At rest an actuated end tells the position, unless both seem actuated."""
        if c & TOP_END:
            if not c & BOTTOM_END:
                self._at_bottom()
        elif c & BOTTOM_END:
            self._at_top()

    def _at_bottom(self) -> None:
        self.up_ms = 0
        self.up_free_ms = 0
        self.up_extra_used = 0
        self.down_leave_ms = 0
        self.down_ms = self.s.travel_lower_ms
        self.known = 1

    def _at_top(self) -> None:
        self.down_ms = 0
        self.down_free_ms = 0
        self.down_extra_used = 0
        self.up_leave_ms = 0
        self.up_ms = self.s.travel_raise_ms
        self.known = 1

    def _raised(self, dt_ms: int, c: int) -> int:
        s = self.s
        if not c & RAISE_RELEASED:  # a line contactor alone moves nothing and gives nothing back
            self.down_ms = self.down_ms - dt_ms if self.down_ms > dt_ms else 0
        if c & BOTTOM_END:
            self.up_leave_ms = 0
        self.down_leave_ms = 0
        if self.start_free_ms > 0:
            self.start_free_ms -= dt_ms
            self.up_free_ms += dt_ms
            return NO_FAULT
        if self.up_ms < s.budget_raise_ms:
            self.up_ms += dt_ms
        if not c & BOTTOM_END:
            if self.up_leave_ms < s.leave_bottom_ms:
                self.up_leave_ms += dt_ms
            else:
                return END_NOT_LEFT
        if self.up_ms >= s.budget_raise_ms:
            return TRAVEL_LATE
        return NO_FAULT

    def _lowered(self, dt_ms: int, c: int) -> int:
        s = self.s
        if not c & LOWER_RELEASED:
            self.up_ms = self.up_ms - dt_ms if self.up_ms > dt_ms else 0
        if c & TOP_END:
            self.down_leave_ms = 0
        self.up_leave_ms = 0
        if self.start_free_ms > 0:
            self.start_free_ms -= dt_ms
            self.down_free_ms += dt_ms
            return NO_FAULT
        if self.down_ms < s.budget_lower_ms:
            self.down_ms += dt_ms
        if not c & TOP_END:
            if self.down_leave_ms < s.leave_top_ms:
                self.down_leave_ms += dt_ms
            else:
                return END_NOT_LEFT
        if self.down_ms >= s.budget_lower_ms:
            return TRAVEL_LATE
        return NO_FAULT

    def spent(self, way: int) -> bool:
        """Tell whether the budget this way is used up."""
        if way == RAISE:
            return self.up_ms >= self.s.budget_raise_ms
        return self.down_ms >= self.s.budget_lower_ms

    def grant_extra(self, way: int) -> bool:
        """Grant the one bounded extra allowance this way; False where it was used before."""
        s = self.s
        if way == RAISE:
            if self.up_extra_used or not s.extra_ms:
                return False
            self.up_extra_used = 1
            self.up_ms = s.budget_raise_ms - s.extra_ms if s.budget_raise_ms > s.extra_ms else 0
            return True
        if self.down_extra_used or not s.extra_ms:
            return False
        self.down_extra_used = 1
        self.down_ms = s.budget_lower_ms - s.extra_ms if s.budget_lower_ms > s.extra_ms else 0
        return True

    def grant_leaving(self) -> None:
        """Allow both ends the full time to be left once more."""
        self.up_leave_ms = 0
        self.down_leave_ms = 0

    def bucket(self, way: int) -> int:
        """Return the envelope bucket (0 to BUCKETS - 1), or -1 with the position unknown."""
        if not self.known:
            return -1
        if way == RAISE:
            index = self.up_ms * BUCKETS // self.s.travel_raise_ms
        else:
            index = self.down_ms * BUCKETS // self.s.travel_lower_ms
        return index if index < BUCKETS else BUCKETS - 1
