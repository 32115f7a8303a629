"""Time as the drive counts it, and how long something has been so."""

LONGEST_PASS_MS = 1000.0  # a pass that comes later counts as this much
LATE_PASS_MS = 15.0
WRAP_MS = 1 << 30


class Clock:
    """Counts time in ms from a clock that wraps; the first pass takes no time."""

    def __init__(self) -> None:
        self.now = 0.0
        self.before = 0.0  # time of the pass before this one
        self.step = 0.0
        self.late = False
        self._raw: int | None = None

    def tick(self, raw_ms: int) -> None:
        """Take the raw clock of one pass."""
        gap = 0 if self._raw is None else (raw_ms - self._raw) % WRAP_MS
        self._raw = raw_ms
        self.late = gap > LATE_PASS_MS
        self.step = min(float(gap), LONGEST_PASS_MS)
        self.before = self.now
        self.now += self.step

    def skip_to(self, raw_ms: int) -> None:
        """Leave out the time in which the loop stood still to write flash."""
        self._raw = raw_ms


class Held:
    """How long something has been so, seen pass by pass.

    It counts from the last pass in which it was not so. `age` includes this pass,
    `age_before` does not: a limit that is compared first and counted afterwards is
    reached one pass later.
    """

    def __init__(self) -> None:
        self._since: float | None = None
        self.age = 0.0
        self.age_before = 0.0

    def watch(self, clock: Clock, holds: bool) -> float:
        """Look at this pass; return the age."""
        if not holds:
            self.restart()
            return 0.0
        if self._since is None:
            self._since = clock.before
        self.age = clock.now - self._since
        self.age_before = clock.before - self._since
        return self.age

    def restart(self) -> None:
        """Count anew from here."""
        self._since = None
        self.age = 0.0
        self.age_before = 0.0
