"""The contact filter: what counts as closed, and since when the inputs can be trusted."""

from leafwinch.numbers import const
from leafwinch.settings import Settings

SETTLE_MS = const(100)  # after power or supply returns, before anything is judged
# A late pass counts as so much of it: it takes three samples until a contact reads closed.
SETTLE_STEP_MS = const(30)


class Inputs:
    """Filters the raw contact mask and watches the control supply.

    A contact reads open after two open samples in a row, and closed after three
    closed ones: opening is the safe side and must be quick, while a bouncing or
    half-made contact must not count as closed. `seen` is the filtered mask.
    """

    FIELDS = ("one", "two", "seen", "low_ticks", "settle_ms")

    def __init__(self, settings: Settings) -> None:
        self.supply_low_mv = settings.supply_low_mv
        self.one = 0  # the sample before this one
        self.two = 0  # the sample before that
        self.seen = 0
        self.low_ticks = 2
        self.settle_ms = 0

    def step(self, dt_ms: int, contacts: int, supply_mv: int) -> None:
        """Take one sample; dt_ms is the time since the last one."""
        if supply_mv < self.supply_low_mv:
            if self.low_ticks < 2:
                self.low_ticks += 1
        else:
            self.low_ticks = 0
        if self.low_ticks >= 2:
            self.forget()
            return
        one = self.one
        self.seen = ((contacts | one) & self.seen) | (contacts & one & self.two)
        self.two = one
        self.one = contacts
        if self.settle_ms < SETTLE_MS:
            self.settle_ms += dt_ms if dt_ms < SETTLE_STEP_MS else SETTLE_STEP_MS

    def forget(self) -> None:
        """Start proofs again: everything reads open until it was seen closed anew."""
        self.one = 0
        self.two = 0
        self.seen = 0
        self.settle_ms = 0

    def supplied(self) -> bool:
        """Tell whether the control supply is there (lost after two low samples)."""
        return self.low_ticks < 2

    def ready(self) -> bool:
        """Tell whether the inputs have settled and may be judged."""
        return self.settle_ms >= SETTLE_MS
