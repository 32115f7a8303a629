"""How many steps are due: bench time at a multiple of real time, which may fall behind.

Pure logic, the time is given. A machine that is too slow, or was asleep, is not chased further
than BEHIND_S: bench time then simply falls behind, and `lag_s` tells by how much.
"""

import math

from leafwinch_sim.board import STEP_MS

BEHIND_S = 0.2
"""Real seconds that are caught up at most."""

LAG_WINDOW_S = 1.0
"""Time lost is told for so long."""

ENDLESS = 1 << 30


class Pace:
    """Tells how many steps of 5 ms are due. speed: bench seconds in a second, inf for no limit."""

    def __init__(self, speed: float, now_s: float) -> None:
        self.speed = speed
        self.due_s = now_s  # when the next step is due
        self._lost: list[tuple[float, float]] = []  # (when, real seconds) given up

    @property
    def step_s(self) -> float:
        """Real seconds for one step, 0 without limit."""
        return STEP_MS / 1000.0 / self.speed

    def rest(self, now_s: float) -> None:
        """Let no step be due before now: the bench is paused, or its speed has changed."""
        self.due_s = now_s
        self._lost.clear()

    def due(self, now_s: float) -> int:
        """Return how many steps are due; what is behind too far is given up."""
        if math.isinf(self.speed):
            self.due_s = now_s
            return ENDLESS
        behind_s = now_s - self.due_s
        if behind_s > BEHIND_S:
            self._lost.append((now_s, behind_s - BEHIND_S))
            self.due_s = now_s - BEHIND_S
        if now_s < self.due_s:
            return 0
        return 1 + math.floor((now_s - self.due_s) / self.step_s)

    def done(self) -> None:
        """Note that one step was made."""
        self.due_s += self.step_s

    def wait_s(self, now_s: float) -> float:
        """Return the real seconds until the next step."""
        return max(0.0, self.due_s - now_s)

    def lag_s(self, now_s: float) -> float:
        """Return the real seconds by which the bench fell behind lately; 0 when it keeps up."""
        self._lost = [row for row in self._lost if now_s - row[0] <= LAG_WINDOW_S]
        return sum(seconds for _, seconds in self._lost)
