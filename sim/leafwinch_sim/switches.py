"""Switches as the bench moves them: actuation, contact skew and bounce."""

from typing import Final

from leafwinch_sim.chatter import noise


def snap_action(past: float, differential: float, before: bool) -> bool:
    """Tell whether a switch is actuated; between operating and reset point it stays as it was.

    Args:
        past: what it senses beyond its operating point, in the unit it senses.
        differential: from operating to reset point, in the same unit.
        before: whether it was actuated before.
    """
    return past >= 0.0 or (before and past > -differential)


class Switch:
    """One actuator with its contacts.

    After a change each contact keeps its old state for its own delay, then bounces for
    `bounce_ms`, then rests in its new state.
    """

    __slots__ = (
        "actuated",
        "bounce_ms",
        "contacts",
        "jammed",
        "lost",
        "name",
        "off_mask",
        "on_mask",
        "seed",
        "settle_ms",
        "t_ms",
    )

    def __init__(
        self,
        name: str,
        contacts: tuple[tuple[int, bool, int], ...],
        bounce_ms: int,
        seed: int,
    ) -> None:
        """Build a switch at rest; contacts are (bit, closed when actuated, delay in ms)."""
        self.name = name
        self.contacts = contacts
        self.bounce_ms = bounce_ms
        self.seed = seed
        self.on_mask = sum(1 << bit for bit, closes, _ in contacts if closes)
        self.off_mask = sum(1 << bit for bit, closes, _ in contacts if not closes)
        # At least 1 ms, so that the bench notices a change even without bounce and skew.
        self.settle_ms = max(1, bounce_ms + max((delay for _, _, delay in contacts), default=0))
        self.actuated = False
        self.t_ms = self.settle_ms
        self.lost = False  # defect: never actuated
        self.jammed = False  # defect: stays actuated

    def move(self, actuated: bool) -> None:
        """Advance by 1 ms with the actuator there or not."""
        if self.lost:
            actuated = False
        elif self.jammed:
            actuated = True
        if actuated != self.actuated:
            self.actuated = actuated
            self.t_ms = 0
        elif self.t_ms < self.settle_ms:
            self.t_ms += 1

    def packed(self) -> int:
        """Return the whole state as one number."""
        return (
            self.t_ms << 3
            | (4 if self.actuated else 0)
            | (2 if self.lost else 0)
            | (1 if self.jammed else 0)
        )

    def unpack(self, state: int) -> None:
        """Take over a state from packed()."""
        self.t_ms = state >> 3
        self.actuated = state & 4 != 0
        self.lost = state & 2 != 0
        self.jammed = state & 1 != 0

    def bits(self, t_ms: int) -> int:
        """Return the mask bits of the contacts that are closed at bench time t_ms."""
        if self.t_ms >= self.settle_ms:
            return self.on_mask if self.actuated else self.off_mask
        mask = 0
        since = self.t_ms
        for bit, closes, delay_ms in self.contacts:
            closed = closes == self.actuated
            if since < delay_ms:
                closed = not closed
            elif since < delay_ms + self.bounce_ms:
                closed = noise(self.seed, bit, t_ms) & 1 == 1
            if closed:
                mask |= 1 << bit
        return mask


class Lever:
    """The three-position control: a lever that travels, with two thresholds a side.

    Positions run from -1000 (lower) to 1000 (raise); its NC contact opens at 300 and
    its NO contact closes at 700, so halfway opens the one without closing the other.
    """

    __slots__ = ("per_ms", "position", "target", "tied")

    NC_OPENS: Final = 300
    NO_CLOSES: Final = 700
    FULL: Final = 1000
    HALFWAY: Final = 500

    def __init__(self, throw_ms: int) -> None:
        self.per_ms = self.FULL // throw_ms
        self.position = 0
        self.target = 0
        self.tied = 0  # defect: tied down that way

    def move(self) -> None:
        """Travel 1 ms towards the target."""
        target = self.tied if self.tied else self.target
        if self.position < target:
            self.position = min(target, self.position + self.per_ms)
        elif self.position > target:
            self.position = max(target, self.position - self.per_ms)

    def resting(self) -> bool:
        """Tell whether the lever is where it is wanted."""
        return self.position == (self.tied if self.tied else self.target)

    def way(self) -> int:
        """Return the direction actuated: any departure that opens an NC contact counts."""
        if self.position > self.NC_OPENS:
            return 1
        if self.position < -self.NC_OPENS:
            return -1
        return 0
