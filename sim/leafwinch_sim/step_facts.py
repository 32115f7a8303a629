"""What one step of a script shows: faults, warnings, and how long the motor was fed."""

from leafwinch_sim.board import STEP_MS
from leafwinch_sim.observation import Observation


class StepFacts:
    """Faults and warnings that came up during one step, and the time the motor was fed."""

    __slots__ = ("faults", "powered_ms", "warnings")

    def __init__(self) -> None:
        self.faults: set[int] = set()
        self.warnings: set[int] = set()
        self.powered_ms = 0

    def add(self, o: Observation, warned: bool) -> None:
        """Take in one observation; `warned` tells that a warning has just come."""
        if o.fault:
            self.faults.add(o.fault)
        if warned:
            self.warnings.add(o.warning)
        if o.powered_any:
            self.powered_ms += STEP_MS
