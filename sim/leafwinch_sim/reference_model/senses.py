"""What the drive believes of its contacts: bounce is ignored, opening is quicker than closing."""

from leafwinch_sim.reference_model.timing import Clock

# In the order of the inputs.
NAMES = (
    "raise_off",
    "lower_off",
    "raise_path",
    "lower_path",
    "top_end",
    "bottom_end",
    "top_final",
    "bottom_final",
    "stop_ok",
    "chain_ok",
    "line_released",
    "raise_released",
    "lower_released",
    "rope_taut",
    "recovery_off",
    "reset",
    "service_link",
)
CLOSES_AFTER = 3  # samples in a row
OPENS_AFTER = 2
SUPPLY_GONE_AFTER = 2
SETTLING_MS = 100.0
SETTLING_PASS_MS = 30.0  # of a late pass only so much counts, as one sample proves nothing


class Senses:
    """Filtered contacts as a set of names that read closed, and whether they can be believed."""

    def __init__(self, supply_low_mv: int) -> None:
        self.supply_low_mv = supply_low_mv
        self.closed: set[str] = set()
        self.supplied = False
        self._low_samples = SUPPLY_GONE_AFTER
        self._runs: dict[str, int] = {}  # samples in a row: closed positive, open negative
        self._sighted_ms = 0.0  # since the last pass without supply

    def forget(self) -> None:
        """Everything reads open until it was seen closed anew."""
        self.closed = set()
        self._runs = {}
        self._sighted_ms = 0.0

    def look(self, clock: Clock, mask: int, supply_mv: int) -> None:
        """Take one sample of everything."""
        low = supply_mv < self.supply_low_mv
        self._low_samples = self._low_samples + 1 if low else 0
        self.supplied = self._low_samples < SUPPLY_GONE_AFTER
        if not self.supplied:
            self.forget()
            return
        self._sighted_ms += min(clock.step, SETTLING_PASS_MS)
        runs = self._runs
        for place, name in enumerate(NAMES):
            run = runs.get(name, 0)
            if mask >> place & 1:
                run = run + 1 if run > 0 else 1
                if run >= CLOSES_AFTER:
                    self.closed.add(name)
            else:
                run = run - 1 if run < 0 else -1
                if run <= -OPENS_AFTER:
                    self.closed.discard(name)
            runs[name] = run

    def believable(self) -> bool:
        """Tell whether the supply is there and the contacts have settled."""
        return self.supplied and self._sighted_ms >= SETTLING_MS
