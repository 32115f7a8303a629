"""The cut-off chain: emergency stop, final limits, recovery key, and the chain's own voltage."""

from leafwinch.faults import (
    BOTTOM_FINAL_ACTUATED,
    CHAIN_BRIDGED,
    CHAIN_DEAD,
    NO_FAULT,
    RECOVERY_KEY_TURNED,
    STOP_ACTUATED,
    TOP_FINAL_ACTUATED,
)
from leafwinch.numbers import NO_DIRECTION, const
from leafwinch.signals import BOTTOM_FINAL, CHAIN_OK, RECOVERY_OFF, STOP_OK, TOP_FINAL

_FINALS = TOP_FINAL | BOTTOM_FINAL
HEALTHY = TOP_FINAL | BOTTOM_FINAL | STOP_OK | CHAIN_OK | RECOVERY_OFF

KEY_MS = const(100)  # key turned with no final actuated


class Chain:
    """Compares the chain's voltage with the second contacts of what is in it.

    Remembers for each final the direction of travel in which it was actuated: a
    recovery under power is allowed only away from a final met the right way.
    """

    FIELDS = ("key_ms", "top_final_way", "bottom_final_way", "finals_open")

    def __init__(self) -> None:
        self.key_ms = 0
        self.top_final_way = NO_DIRECTION
        self.bottom_final_way = NO_DIRECTION
        self.finals_open = 0  # finals seen actuated, as contact bits

    def forget(self) -> None:
        """Start the timed proofs again."""
        self.key_ms = 0

    def step(self, dt_ms: int, c: int, travel_way: int, exempt: int, key_excused: bool) -> int:
        """Judge one pass and return a candidate fault or NO_FAULT.

        travel_way: direction of a travel that runs or has just ended, else 0.
        exempt: final contact bits that recovery is allowed to leave open.
        key_excused: the key may stay turned until it is released.
        """
        if c & HEALTHY == HEALTHY:
            if self.finals_open:
                self._note_finals(c, travel_way)
            self.key_ms = 0
            return NO_FAULT
        self._note_finals(c, travel_way)
        finals_closed = c & _FINALS == _FINALS
        key_turned = not c & RECOVERY_OFF
        if c & CHAIN_OK:
            return self._judged_live(dt_ms, c, exempt, key_excused, finals_closed, key_turned)
        if not c & STOP_OK:
            return STOP_ACTUATED
        if not c & TOP_FINAL and not (key_turned and exempt & TOP_FINAL):
            return TOP_FINAL_ACTUATED
        if not c & BOTTOM_FINAL and not (key_turned and exempt & BOTTOM_FINAL):
            return BOTTOM_FINAL_ACTUATED
        return CHAIN_DEAD

    def _judged_live(
        self,
        dt_ms: int,
        c: int,
        exempt: int,
        key_excused: bool,
        finals_closed: bool,
        key_turned: bool,
    ) -> int:
        if not c & STOP_OK or (not finals_closed and not key_turned):
            # Should the chain die within the cause window, then stop or final is named.
            return CHAIN_BRIDGED
        open_finals = ~c & _FINALS
        if key_turned:
            open_finals &= ~exempt
        if open_finals & TOP_FINAL:
            return TOP_FINAL_ACTUATED
        if open_finals & BOTTOM_FINAL:
            return BOTTOM_FINAL_ACTUATED
        if key_turned and finals_closed and not key_excused:
            if self.key_ms < KEY_MS:
                self.key_ms += dt_ms
            elif not exempt:
                return RECOVERY_KEY_TURNED
        else:
            self.key_ms = 0
        return NO_FAULT

    def _note_finals(self, c: int, travel_way: int) -> None:
        """Remember the way in which each final was first actuated, until it closes again."""
        opened = ~c & _FINALS & ~self.finals_open
        if opened & TOP_FINAL:
            self.top_final_way = travel_way
        if opened & BOTTOM_FINAL:
            self.bottom_final_way = travel_way
        self.finals_open = ~c & _FINALS
        if c & TOP_FINAL:
            self.top_final_way = NO_DIRECTION
        if c & BOTTOM_FINAL:
            self.bottom_final_way = NO_DIRECTION
