"""Watches over the control supply: the isolator takes it away, and gives it back."""

from leafwinch.states import HELD
from leafwinch_host.board.serial_lines import Sample
from leafwinch_host.commissioning.results import Measured
from leafwinch_host.commissioning.watching import DRIVEN, SETTLED, Watch

SUPPLY_BAND_MV = (20_400, 28_800)  # 24 V -15 % / +20 %, IEC 61131-2 (from memory)
DEAD_MV = 4000
OFF_WORDS = "the isolator off: control supply gone"
ON_WORDS = "the isolator on: control supply back"


def dead(sample: Sample) -> bool:
    """Tell whether the control supply and every input are dead."""
    return sample.supply_mv < DEAD_MV and not sample.contacts


class SupplyGone(Watch):
    """Sees the isolator off: control supply and every input dead."""

    gaps_allowed = True  # a board without USB power falls silent

    def __init__(self, at_most_s: float = 900.0) -> None:
        super().__init__(at_most_s)
        self.count = 0
        self.waits = OFF_WORDS

    def see(self, sample: Sample, before: Sample) -> None:
        """Count dead samples."""
        self.count = self.count + 1 if dead(sample) else 0
        if self.count >= SETTLED:
            self._seen("dead, all inputs open")

    def _seen(self, words: str) -> None:
        self.measured.append(Measured("control supply off", words))
        self.passed()

    def silence(self, seconds: float) -> None:
        """A board that is fed by the supply alone falls silent, which tells the same."""
        if not self.over:
            self._seen("the board is silent")


class SupplySeen(Watch):
    """Sees the isolator take the control supply away and give it back, within its tolerance."""

    gaps_allowed = True  # a board without USB power restarts
    PATIENCE = 100  # samples of a supply that never becomes good enough

    def __init__(self, band_mv: tuple[int, int], at_most_s: float = 900.0) -> None:
        super().__init__(at_most_s)
        self.band_mv = band_mv
        self.dead = 0
        self.live = 0
        self.slow = 0
        self.silent = False
        self.waits = OFF_WORDS

    def see(self, sample: Sample, before: Sample) -> None:
        """Count dead samples, then live ones."""
        if sample.outputs & DRIVEN:
            self.fail("a contactor was driven")
        elif self.dead < SETTLED and not self.silent:
            self.dead = self.dead + 1 if dead(sample) else 0
            if self.dead >= SETTLED:
                self.waits = ON_WORDS
        elif sample.supply_mv < DEAD_MV:
            self.live = self.slow = 0
        else:
            taken = not (sample.state == HELD and sample.held_reasons & 1)
            self.live = self.live + 1 if taken else 0
            self.slow += 1
            if self.live >= 4 * SETTLED or self.slow >= self.PATIENCE:
                self._judge(sample)

    def _judge(self, sample: Sample) -> None:
        low, high = self.band_mv
        self.measured.append(Measured("control supply off", "dead, all inputs open"))
        self.measured.append(
            Measured(
                "control supply on",
                round(sample.supply_mv / 1000, 2),
                "V",
                f"{low / 1000:g} to {high / 1000:g} V",
                low <= sample.supply_mv <= high,
            )
        )
        self.passed()

    def silence(self, seconds: float) -> None:
        """A board that is fed by the supply alone falls silent, which tells the same."""
        self.silent = True
        self.waits = ON_WORDS
