"""The two working limits: left, reached, reached the wrong way, both at once, moving at rest."""

from leafwinch.faults import BOTH_ENDS, DRIFT, END_WRONG_WAY, NO_FAULT
from leafwinch.numbers import LOWER, RAISE, const
from leafwinch.signals import BOTTOM_END, BOTTOM_FINAL, TOP_END, TOP_FINAL

_ENDS = TOP_END | BOTTOM_END
_LIMITS = TOP_END | BOTTOM_END | TOP_FINAL | BOTTOM_FINAL

LEFT_MS = const(200)  # an end contact closed this long proves that the end was left
BOTH_MS = const(50)
AT_REST_MS = const(1000)  # coasting and bouncing are over this long after the stop
DRIFTS_MAX = const(2)


class Ends:
    """Judges the second contacts of the working limits (open: that end is reached)."""

    FIELDS = (
        "top_left_ms",
        "bottom_left_ms",
        "both_ms",
        "rest_ms",
        "rest_limits",
        "drifts",
        "drifted",
    )

    def __init__(self) -> None:
        self.top_left_ms = 0
        self.bottom_left_ms = 0
        self.both_ms = 0
        self.rest_ms = 0
        self.rest_limits = 0
        self.drifts = 0
        self.drifted = 0  # 1 in the pass in which a limit moved at rest

    def forget(self) -> None:
        """Start the timed proofs again; rest positions are taken anew."""
        self.top_left_ms = 0
        self.bottom_left_ms = 0
        self.both_ms = 0
        self.rest_ms = 0
        self.drifted = 0

    def step(self, dt_ms: int, c: int, energised: bool, travel_way: int) -> int:
        """Judge one pass and return a candidate fault or NO_FAULT.

        travel_way: direction of a travel that runs or has just ended, else 0.
        """
        fault = NO_FAULT
        if not c & _ENDS:
            if self.both_ms < BOTH_MS:
                self.both_ms += dt_ms
            else:
                fault = BOTH_ENDS
        else:
            self.both_ms = 0
        if c & TOP_END:
            if self.top_left_ms < LEFT_MS:
                self.top_left_ms += dt_ms
        else:
            if travel_way == LOWER and self.top_left_ms >= LEFT_MS:
                fault = END_WRONG_WAY
            self.top_left_ms = 0
        if c & BOTTOM_END:
            if self.bottom_left_ms < LEFT_MS:
                self.bottom_left_ms += dt_ms
        else:
            if travel_way == RAISE and self.bottom_left_ms >= LEFT_MS:
                fault = END_WRONG_WAY
            self.bottom_left_ms = 0
        self.drifted = 0
        if energised:
            self.rest_ms = 0
            return fault
        limits = c & _LIMITS
        if self.rest_ms < AT_REST_MS:
            self.rest_ms += dt_ms
            self.rest_limits = limits
        elif limits != self.rest_limits:
            self.rest_limits = limits
            if self._drifted() and not fault:
                return DRIFT
        return fault

    def _drifted(self) -> bool:
        """Count a limit that moved at rest; the second such move is a fault."""
        self.drifted = 1
        if self.drifts < DRIFTS_MAX:
            self.drifts += 1
        return self.drifts >= DRIFTS_MAX

    def travel_completed(self) -> None:
        """A powered travel reached its end: earlier drifts are settled."""
        self.drifts = 0
