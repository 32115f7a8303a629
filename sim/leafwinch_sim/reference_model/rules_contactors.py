"""Contactors, believed only by their mirror contacts, which are closed while released."""

from leafwinch_sim.reference_model.timing import Clock, Held

UNCOMMANDED = {"line": 15, "raise": 16, "lower": 17}
NOT_RELEASED = {"line": 18, "raise": 19, "lower": 20}
NOT_PULLED = {"line": 21, "raise": 22, "lower": 23}
OTHER = {"raise": "lower", "lower": "raise"}
ORDER = ("line", "raise", "lower")

WAIT_MS = 50.0
RESIDUAL_MS = 1000.0


class ContactorRules:
    """Follows the start sequence by name: '', 'waiting', 'direction', 'line', 'running'."""

    def __init__(self, pull_ms: int, release_ms: int) -> None:
        self.pull_ms = pull_ms
        self.release_ms = release_ms
        self.phase = ""
        self.way = ""  # of the travel that is commanded, or was last
        self.parked_high = False
        self.off = Held()
        self.run = Held()
        self.quiet = Held()  # all three released with nothing commanded
        self._phase = Held()
        self._released: set[str] = set()  # seen released since the stop
        self._released_late: set[str] = set()  # commanded at the stop: may still pull in

    def forget(self) -> None:
        """Releases have to be seen anew."""
        self.off.restart()
        self.quiet.restart()
        self._released = set()

    def start(self, way: str) -> None:
        """Begin to wait before anything is commanded."""
        self.way = way
        self.run.restart()
        self.enter("waiting")

    def enter(self, phase: str) -> None:
        """Go to a phase of the start."""
        self.phase = phase
        self._phase.restart()

    def stop(self) -> None:
        """Take everything off; the pump's pin rests on the other level than last time."""
        self._released_late = set()
        if self.phase in ("direction", "line", "running"):
            self._released_late.add(self.way)
        if self.phase in ("line", "running"):
            self._released_late.add("line")
        self.phase = ""
        self.parked_high = not self.parked_high
        self.forget()

    def line_commanded(self) -> bool:
        """Tell whether the line contactor is commanded."""
        return self.phase in ("line", "running")

    def energised(self, closed: set[str]) -> bool:
        """Tell whether the motor must be taken as energised."""
        lingering = self.phase == "" and self.off.age < RESIDUAL_MS
        return self.line_commanded() or (lingering and "line_released" not in closed)

    def judge(self, clock: Clock, closed: set[str]) -> list[int]:
        """Return what speaks for a fault in this pass: one thing, the first that is wrong."""
        pulled = [name for name in ORDER if f"{name}_released" not in closed]
        if self.phase == "":
            return self._judge_off(clock, pulled)
        waited = self._phase.watch(clock, True)
        if self.line_commanded():
            self.run.watch(clock, True)
        if self.phase == "waiting":
            return [UNCOMMANDED[name] for name in pulled[:1]]
        if OTHER[self.way] in pulled:
            return [UNCOMMANDED[OTHER[self.way]]]
        own = self.way in pulled
        line = "line" in pulled
        if self.phase == "direction":
            if line:
                return [UNCOMMANDED["line"]]
            return [NOT_PULLED[self.way]] if not own and waited >= self.pull_ms else []
        if not own:
            return [NOT_PULLED[self.way]]
        late = self.phase == "running" or waited >= self.pull_ms
        return [NOT_PULLED["line"]] if not line and late else []

    def _judge_off(self, clock: Clock, pulled: list[str]) -> list[int]:
        off = self.off.watch(clock, True)
        self.quiet.watch(clock, not pulled)
        for name in ORDER:
            if name not in pulled and (name not in self._released_late or off >= self.release_ms):
                self._released.add(name)
        again = [name for name in pulled if name in self._released]
        if again:
            return [UNCOMMANDED[again[0]]]
        if pulled and off >= self.release_ms:
            if pulled[0] == "line":
                self.parked_high = False  # so that a pump passing a high level lets go
            return [NOT_RELEASED[pulled[0]]]
        return []

    def next_phase(self, closed: set[str]) -> str:
        """Return the phase that is proven by now, or '' to stay."""
        if self.phase == "waiting" and self._phase.age >= WAIT_MS:
            return "direction"
        if self.phase == "direction" and f"{self.way}_released" not in closed:
            return "line"
        if self.phase == "line" and "line_released" not in closed:
            return "running"
        return ""
