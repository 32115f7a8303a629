"""Who may move the controls, and for how long: the lease that stands for a finger on the switch.

Pure logic, the time is given. The control of the deck is hold-to-run: it is actuated only while
beats keep coming, one every 50 ms, and it lets go 200 ms after the last one. A lease that has run
out does not come back by itself when beats go on: the finger must be lifted first, so that a
page that hung does not start the deck again when it wakes up.

A page is known by a number. One of them has the right to hold, the others watch.
"""

from dataclasses import dataclass

BEAT_MS = 50.0
"""How often a page sends a beat while a control is held."""

LEASE_MS = 200.0
"""How long a control stays actuated after the last beat."""

NOBODY = 0
"""No page has this number."""


class Lease:
    """One control that springs back. `way` is what it is held to, empty while it is not."""

    def __init__(self) -> None:
        self.way = ""
        self.number = -1  # of the last beat
        self.beat_ms = 0.0  # when it came
        self.lapsed = False  # it ran out: only a new press counts

    def beat(self, way: str, number: int, now_ms: float) -> bool:
        """Take one beat and tell whether it holds the control.

        Args:
            way: what the control is held to.
            number: of the beat, counting up; one that counts anew is a new press.
            now_ms: monotonic time.
        """
        self.held(now_ms)
        if self.lapsed and number >= self.number:
            self.number = number
            return False
        if self.way == way and number <= self.number:
            return False  # an old one gives no more time
        self.lapsed = False
        self.way = way
        self.number = number
        self.beat_ms = now_ms
        return True

    def held(self, now_ms: float) -> str:
        """Return what the control is held to at this time, empty for not at all."""
        if self.way and now_ms - self.beat_ms > LEASE_MS:
            self.drop()
        return self.way

    def release(self) -> None:
        """Let go: the finger was lifted, so that the next beat is a new press."""
        self.way = ""
        self.number = -1
        self.lapsed = False

    def drop(self) -> None:
        """Let go although the finger may still be there: beats that go on do not count."""
        self.lapsed = self.lapsed or bool(self.way)
        self.way = ""


@dataclass(frozen=True, slots=True)
class Springs:
    """What is held at one moment. way: 1 raise, -1 lower, 0 neither."""

    way: int = 0
    key: bool = False
    reset: bool = False


WAYS = {"raise": 1, "lower": -1, "": 0}


class Hold:
    """The right to hold and everything that springs back: control, recovery key, reset button."""

    def __init__(self) -> None:
        self.holder = NOBODY
        self.lever = Lease()
        self.key = Lease()
        self.reset = False

    def springs(self, now_ms: float) -> Springs:
        """Return what is held at this time."""
        return Springs(WAYS[self.lever.held(now_ms)], bool(self.key.held(now_ms)), self.reset)

    def ask(self, page: int, now_ms: float) -> bool:
        """Give a page the right to hold unless another one holds something at this time."""
        if self.holder not in (NOBODY, page):
            if self.springs(now_ms) != Springs():
                return False
            self.gone(self.holder)
        self.holder = page
        return True

    def may(self, page: int) -> bool:
        """Tell whether a page has the right; it gets it where nobody has it."""
        if self.holder == NOBODY:
            self.holder = page
        return self.holder == page

    def beat(self, page: int, way: str, number: int, now_ms: float) -> bool:
        """Take a beat of the control (way: raise or lower) and tell whether it holds it."""
        return self.may(page) and self.lever.beat(way, number, now_ms)

    def beat_key(self, page: int, number: int, now_ms: float) -> bool:
        """Take a beat of the recovery key and tell whether it holds it."""
        return self.may(page) and self.key.beat("turned", number, now_ms)

    def press_reset(self, page: int) -> bool:
        """Press the reset button, which stays pressed until it is let go or the page is gone."""
        self.reset = self.may(page) or self.reset
        return self.holder == page

    def release(self, page: int) -> None:
        """Let the control go, as its holder says."""
        if page == self.holder:
            self.lever.release()

    def release_key(self, page: int) -> None:
        """Let the recovery key go, as its holder says."""
        if page == self.holder:
            self.key.release()

    def release_reset(self, page: int) -> None:
        """Let the reset button go, as its holder says."""
        if page == self.holder:
            self.reset = False

    def let_go(self) -> None:
        """Let everything go at once; what is still pressed must be pressed anew."""
        self.lever.drop()
        self.key.drop()
        self.reset = False

    def gone(self, page: int) -> None:
        """A page's line is cut: whatever it held is let go at once, and the right is free."""
        if page == self.holder:
            self.holder = NOBODY
            self.lever.release()
            self.key.release()
            self.reset = False
