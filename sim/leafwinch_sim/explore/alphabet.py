"""The inputs an exploration may give: healthy patterns, single disturbances, and for how long.

A pattern is everything that hands and deck can do in good order: which way the control is
actuated, where the deck stands, stop, recovery key, service link. A disturbance on top of it
is one contact that reads the opposite, or one thing wrong with current, supply or loop time.
"""

from dataclasses import dataclass

from leafwinch.signals import (
    BOTTOM_END,
    BOTTOM_FINAL,
    CHAIN_OK,
    CONTACT_NAMES,
    LOWER_OFF,
    LOWER_PATH,
    RAISE_OFF,
    RAISE_PATH,
    RECOVERY_OFF,
    ROPE_TAUT,
    SERVICE_LINK,
    STOP_OK,
    TOP_END,
    TOP_FINAL,
)

NEUTRAL, UP, DOWN, BOTH_WAYS = range(4)
ASKS = ("control neutral", "control to raise", "control to lower", "control both ways")
AT_BOTTOM_FINAL, AT_BOTTOM, BETWEEN, AT_TOP, AT_TOP_FINAL = range(5)
PLACES = (
    "deck beyond the bottom final",
    "deck at the bottom end",
    "deck between the ends",
    "deck at the top end",
    "deck beyond the top final",
)
_ALL_WELL = TOP_END | BOTTOM_END | TOP_FINAL | BOTTOM_FINAL | STOP_OK | RECOVERY_OFF | ROPE_TAUT
_OPEN_AT = (BOTTOM_END | BOTTOM_FINAL, BOTTOM_END, 0, TOP_END, TOP_END | TOP_FINAL)

# Things wrong other than a contact; the numbers follow those of the contacts.
(
    NO_CURRENT,
    HIGH_CURRENT,
    BAND_CURRENT,
    REVERSED_CURRENT,
    REST_CURRENT,
    STALE_CURRENT,
    LOW_SUPPLY,
    LATE_PASS,
) = range(100, 108)
ANALOG_WORDS = (
    "no current although energised",
    "current above the trip",
    "current above the running band",
    "current against the direction",
    "current at rest",
    "no fresh current sample",
    "control supply lost",
    "every pass late",
)
ANALOG = tuple(range(100, 108))
UNDISTURBED = -1


@dataclass(frozen=True, slots=True, order=True)
class Pattern:
    """What hands and deck do in good order."""

    ask: int = NEUTRAL
    place: int = AT_BOTTOM
    stopped: bool = False
    key: bool = False
    link: bool = False

    def mask(self) -> int:
        """Return the contacts of sound wiring, all but the mirrors and the reset button."""
        c: int = _ALL_WELL & ~_OPEN_AT[self.place]
        if self.stopped:
            c &= ~STOP_OK
        if self.key:
            c &= ~RECOVERY_OFF
        if self.link:
            c |= SERVICE_LINK
        finals = TOP_FINAL | BOTTOM_FINAL
        if not self.stopped and (self.key or c & finals == finals):
            c |= CHAIN_OK
        if self.ask in (UP, BOTH_WAYS):
            c |= RAISE_PATH if c & CHAIN_OK and c & TOP_END else 0
        else:
            c |= RAISE_OFF
        if self.ask in (DOWN, BOTH_WAYS):
            c |= LOWER_PATH if c & CHAIN_OK and c & BOTTOM_END else 0
        else:
            c |= LOWER_OFF
        return c

    def words(self) -> str:
        """Return the pattern as words."""
        parts = [ASKS[self.ask], PLACES[self.place]]
        if self.stopped:
            parts.append("stop pressed")
        if self.key:
            parts.append("recovery key turned")
        if self.link:
            parts.append("service link fitted")
        return ", ".join(parts)


def disturbance_words(disturbance: int) -> str:
    """Return a disturbance as words, nothing for UNDISTURBED."""
    if disturbance == UNDISTURBED:
        return ""
    if disturbance >= ANALOG[0]:
        return ANALOG_WORDS[disturbance - ANALOG[0]]
    bit, closed = disturbance >> 1, disturbance & 1
    return f"{CONTACT_NAMES[bit]} reads {'closed' if closed else 'open'}"


def stuck(bit: int, closed: bool) -> int:
    """Return the disturbance in which this contact reads closed, or open, whatever it is."""
    return 2 * bit + closed


def all_flips() -> "tuple[int, ...]":
    """Return every contact reading open and every contact reading closed."""
    bits = range(len(CONTACT_NAMES))
    return tuple(stuck(bit, closed) for bit in bits for closed in (False, True))
