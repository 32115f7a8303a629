"""Watches: small machines that are fed with trace samples and pass on evidence only.

A watch knows nothing of ports, keyboards or clocks: time is the board's own, out of the samples.
It never passes because somebody says so, because time is over or because lines are missing.
"""

from leafwinch.signals import CONTACT_NAMES, OUT_LOWER, OUT_RAISE
from leafwinch.state_texts import HELD_REASONS
from leafwinch.states import FAULT, HELD, IDLE
from leafwinch_host.board.serial_lines import Sample
from leafwinch_host.commissioning.results import FAIL, PASS, Measured, Outcome
from leafwinch_host.texts import fault_name

TIME_MASK = (1 << 30) - 1
GAP_MS = 400  # at rest a line comes every 50 ms; a longer gap hides what happened in it
SETTLED = 3  # samples in a row that make a contact's state more than a bounce
DRIVEN = OUT_RAISE | OUT_LOWER
BITS = {name: 1 << bit for bit, name in enumerate(CONTACT_NAMES)}


def spoken(name: str) -> str:
    """Return a contact's name in words."""
    return name.replace("_", " ")


def closed(sample: Sample, name: str) -> bool:
    """Tell whether a contact is closed in a sample."""
    return bool(sample.contacts & BITS[name])


def word(state: bool) -> str:
    """Return the state of a contact in words."""
    return "closed" if state else "open"


class Watch:
    """Base of all watches. Feed samples to `take`, until `verdict` is not empty.

    Args:
        at_most_s: board time after which it fails.

    Attributes:
        verdict, why: PASS or FAIL and the reason in one sentence; empty while it watches.
        measured: values so far.
        waits: what is awaited at the moment, in words.
        t_ms: board time since the first sample.
    """

    gaps_allowed = False  # a watch that expects a restart or silence sets this

    def __init__(self, at_most_s: float) -> None:
        self.limit_ms = round(at_most_s * 1000)
        self.verdict = ""
        self.why = ""
        self.measured: list[Measured] = []
        self.waits = ""
        self.t_ms = 0
        self.before_ms = 0  # time of the sample before
        self._last: Sample | None = None

    def take(self, sample: Sample) -> None:
        """Look at one sample; nothing happens once there is a verdict."""
        if self.verdict:
            return
        self.before_ms = self.t_ms
        if self._last is not None:
            passed = (sample.t_ms - self._last.t_ms) & TIME_MASK
            if passed > GAP_MS:
                if not self.gaps_allowed:
                    self.fail(
                        "the board restarted meanwhile"
                        if passed > TIME_MASK // 2
                        else f"the trace has a gap of {passed} ms, which may hide something: repeat"
                    )
                    return
                passed = GAP_MS
            self.t_ms += passed
        before, self._last = self._last, sample
        self.see(sample, sample if before is None else before)
        if not self.over and self.t_ms > self.limit_ms:
            self.fail(self.too_late())

    @property
    def over(self) -> bool:
        """Whether there is a verdict."""
        return bool(self.verdict)

    def see(self, sample: Sample, before: Sample) -> None:
        """Judge one sample; `before` is the one before it."""
        raise RuntimeError("a watch says what it sees")

    def too_late(self) -> str:
        """Return why it fails when time is over."""
        return f"not seen within {self.limit_ms / 1000:g} s: {self.waits}"

    def silence(self, seconds: float) -> None:
        """Be told that no line came for so long."""
        if not self.verdict and not self.gaps_allowed:
            self.fail(f"the board's lines stopped coming for {seconds:.0f} s")

    def passed(self, why: str = "") -> None:
        """End: seen, and every measured value keeps its limit; otherwise it fails."""
        for row in self.measured:
            if not row.within:
                self.fail(f"{row.name} is {row.shown()}, required is {row.required}")
                return
        self.verdict, self.why = PASS, why

    def fail(self, why: str) -> None:
        """End with a failure."""
        self.verdict, self.why = FAIL, why

    def outcome(self) -> Outcome:
        """Return what it came to."""
        return Outcome(self.verdict or FAIL, self.why, tuple(self.measured))


class Steady:
    """Contacts as they are when bounces are over: a change counts after SETTLED equal samples."""

    def __init__(self) -> None:
        self.mask = -1  # settled contacts; -1: none yet
        self._raw = -1
        self._count = 0

    def take(self, contacts: int) -> int:
        """Take the contacts of one sample; return the settled ones, or -1."""
        self._count = self._count + 1 if contacts == self._raw else 1
        self._raw = contacts
        if self._count >= SETTLED:
            self.mask = contacts
        return self.mask


class Ready(Watch):
    """Waits until the drive is ready, and says what it waits for; a fault has to be reset first.

    It fails when a fault can't be reset: still latched after two whole presses of the button.
    """

    gaps_allowed = True  # it waits for a state, and nothing that a gap may hide counts
    PRESS_MS = 2000
    AFTER_MS = 1500
    STUCK_MS = 60_000  # a held reason that does not go by itself
    SLOW = 1 << 11 | 1 << 12  # thermal and duty: only waiting helps

    def __init__(self, at_most_s: float = 1800.0) -> None:
        super().__init__(at_most_s)
        self.idle = 0
        self.pressed_ms = -1
        self.let_ms = -1
        self.presses = 0
        self.held_since = -1

    def see(self, sample: Sample, before: Sample) -> None:
        """Follow state, reset button and held reasons."""
        self.idle = self.idle + 1 if sample.state == IDLE else 0
        if self.idle >= SETTLED:
            self.passed()
            return
        self._button(sample)
        if sample.state == FAULT:
            self.waits = (
                f"fault {sample.fault} {fault_name(sample.fault)}: control in the middle, then "
                "press reset for 2 s to 10 s"
            )
            if self.presses >= 2 and self.t_ms - self.let_ms > self.AFTER_MS:
                self.fail(f"fault {sample.fault} {fault_name(sample.fault)} can't be reset")
        elif sample.state == HELD:
            self.waits = f"ready again: {held_words(sample.held_reasons)}"
        if sample.state != HELD or sample.held_reasons & self.SLOW:
            self.held_since = -1
        elif self.held_since < 0:
            self.held_since = self.t_ms
        elif self.t_ms - self.held_since > self.STUCK_MS:
            self.fail(f"it does not become ready: {held_words(sample.held_reasons)}")

    def _button(self, sample: Sample) -> None:
        if closed(sample, "reset"):
            if self.pressed_ms < 0:
                self.pressed_ms = self.t_ms
        elif self.pressed_ms >= 0:
            if self.t_ms - self.pressed_ms >= self.PRESS_MS:
                self.presses += 1
                self.let_ms = self.t_ms
            self.pressed_ms = -1


class AtRest(Watch):
    """Waits until nothing is driven."""

    gaps_allowed = True

    def __init__(self, at_most_s: float = 600.0) -> None:
        super().__init__(at_most_s)
        self.count = 0
        self.waits = ""

    def see(self, sample: Sample, before: Sample) -> None:
        """Count samples without a driven contactor."""
        moves = sample.outputs & DRIVEN
        self.count = 0 if moves else self.count + 1
        if moves:
            self.waits = "the drive at rest: let the control go"
        if self.count >= SETTLED:
            self.passed()

    def silence(self, seconds: float) -> None:
        """Nothing to wait for."""
        self.fail(f"the board's lines stopped coming for {seconds:.0f} s")


class Latched(Watch):
    """Waits until a fault is latched, which keeps everything off.

    Args:
        fault: the one that it must be, or 0 for any.
    """

    gaps_allowed = True

    def __init__(self, fault: int = 0, at_most_s: float = 300.0) -> None:
        super().__init__(at_most_s)
        self.fault = fault
        self.count = 0
        self.waits = "a latched fault: press the emergency stop for two seconds and release it"

    def see(self, sample: Sample, before: Sample) -> None:
        """Count samples with the fault and with the emergency stop released."""
        found = sample.fault if sample.state == FAULT and closed(sample, "stop_ok") else 0
        right = bool(found) and self.fault in (0, found)
        self.count = self.count + 1 if right else 0
        if found and not right:
            self.waits = (
                f"fault {self.fault} {fault_name(self.fault)} instead of {found} "
                f"{fault_name(found)}: press reset for 2 s to 10 s, then the emergency stop"
            )
        if self.count >= SETTLED:
            self.passed()


def held_words(reasons: int) -> str:
    """Return the first reason why the drive is held, in words."""
    for bit, (_, words) in enumerate(HELD_REASONS):
        if reasons >> bit & 1:
            return str(words)
    return "no reason is given"
