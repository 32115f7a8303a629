"""Recovery from a final limit under power: only away, in short pulses, key turned."""

from leafwinch.chain import Chain
from leafwinch.numbers import LOWER, NO_DIRECTION, RAISE, const
from leafwinch.signals import BOTTOM_FINAL, CHAIN_OK, RECOVERY_OFF, STOP_OK, TOP_FINAL

OFF = const(0)
AWAY_ONLY = const(1)
KEY_TO_RELEASE = const(2)  # the final has closed again

PULSE_MS = const(500)


class Recovery:
    """Holds the recovery mode, the way that leads away, and what it excuses."""

    FIELDS = ("mode", "away", "exempt")

    def __init__(self) -> None:
        self.mode = OFF
        self.away = NO_DIRECTION
        self.exempt = 0  # the final contact that may stay open while the key is turned

    def bridges_one_final(self, c: int) -> bool:
        """Tell whether the key is turned, exactly one final actuated and the chain live."""
        if c & RECOVERY_OFF or not c & CHAIN_OK or not c & STOP_OK:
            return False
        top = c & TOP_FINAL
        bottom = c & BOTTOM_FINAL
        return (not top and bottom != 0) or (not bottom and top != 0)

    def begin(self, c: int, chain: Chain) -> bool:
        """Enter recovery if the final was met the right way; False where it is refused.

        Refused after an end reached the wrong way (a rope wound backwards would pull
        further into the limit) and with the direction unknown.
        """
        if not c & TOP_FINAL:
            if chain.top_final_way != RAISE:
                return False
            self.away = LOWER
            self.exempt = TOP_FINAL
        else:
            if chain.bottom_final_way != LOWER:
                return False
            self.away = RAISE
            self.exempt = BOTTOM_FINAL
        self.mode = AWAY_ONLY
        return True

    def step(self, c: int) -> bool:
        """Follow final and key; True in the pass in which the final closed again."""
        if self.mode == AWAY_ONLY:
            if c & self.exempt:
                self.mode = KEY_TO_RELEASE
                return True
        elif self.mode == KEY_TO_RELEASE and c & RECOVERY_OFF:
            self.leave()
        return False

    def leave(self) -> None:
        """Back to normal supervision."""
        self.mode = OFF
        self.away = NO_DIRECTION
        self.exempt = 0
