"""Learning the current envelope from ordinary travels; it only watches and never judges.

While armed, the lowest and the highest current in each part of a full travel from end to end are
recorded. What was recorded becomes a setting only when a person accepts it.
"""

from array import array

from leafwinch.edge.settings_store import envelopes
from leafwinch.numbers import LOWER, NO_DIRECTION, NUMBER_MAX, RAISE, TYPE_CHECKING, const
from leafwinch.settings import BUCKETS, Settings
from leafwinch.states import ENDED_BOTTOM, ENDED_TOP

if TYPE_CHECKING:
    from leafwinch.controller import Controller

TRAVELS_MIN = const(3)  # full travels each way before it can be accepted; common practice
TRAVELS_MAX = const(1000)

# In parts of BUCKETS words: four envelopes as in the settings, then the travel under way, low and
# high.
_TRAVEL = const(64)
_TRAVEL_HIGH = const(80)
_WORDS = const(96)


class Learning:
    """Lowest and highest current per part and direction, in mA.

    Signed as the envelope's judgement sees it: with a signed current, lowering counts negative.
    """

    def __init__(self) -> None:
        self.armed = 0
        self.full = 0  # 1: the travel under way began at the opposite end
        self.way = NO_DIRECTION
        self.raised = 0  # full travels recorded
        self.lowered = 0
        self.words = array("i", [0] * _WORDS)
        self.drop()

    def arm(self) -> None:
        """Begin anew."""
        self.drop()
        self.armed = 1

    def drop(self) -> None:
        """Forget what was recorded and stop recording."""
        self.armed = 0
        self.full = 0
        self.raised = 0
        self.lowered = 0
        for first in range(0, _WORDS, BUCKETS):
            self._clear(first)

    def _clear(self, first: int) -> None:
        empty = -NUMBER_MAX if first // BUCKETS & 1 else NUMBER_MAX
        words = self.words
        for index in range(first, first + BUCKETS):
            words[index] = empty

    def started(self, way: int, full: int) -> None:
        """Note the start of a travel; full: 1 from the opposite end."""
        self.way = way
        self.full = full
        self._clear(_TRAVEL)
        self._clear(_TRAVEL_HIGH)

    def look(self, controller: "Controller") -> None:
        """Record one pass of a travel, once the inrush is over."""
        if not self.full:
            return
        settings = controller.settings
        if controller.contactors.run_ms <= settings.inrush_ms:
            return
        way = self.way
        bucket = controller.budget.bucket(way)
        if bucket < 0:
            self.full = 0
            return
        value = controller.current.value_ma
        if settings.current_signed and way != RAISE:
            value = -value
        words = self.words
        at = _TRAVEL + bucket
        if value < words[at]:
            words[at] = value
        if value > words[at + BUCKETS]:
            words[at + BUCKETS] = value

    def ended(self, ended: int) -> None:
        """Take a travel over if it led from end to end; ended: ENDED_ number, or 0 to discard."""
        if not self.full:
            return
        self.full = 0
        if self.way == RAISE and ended == ENDED_TOP:
            self.raised = self.raised + 1 if self.raised < TRAVELS_MAX else TRAVELS_MAX
            low = 0
        elif self.way == LOWER and ended == ENDED_BOTTOM:
            self.lowered = self.lowered + 1 if self.lowered < TRAVELS_MAX else TRAVELS_MAX
            low = 2 * BUCKETS
        else:
            return
        words = self.words
        for index in range(BUCKETS):
            value = words[_TRAVEL + index]
            if value < words[low + index]:
                words[low + index] = value
            value = words[_TRAVEL_HIGH + index]
            if value > words[low + BUCKETS + index]:
                words[low + BUCKETS + index] = value

    def ready(self) -> bool:
        """Tell whether enough full travels were recorded both ways."""
        return self.raised >= TRAVELS_MIN and self.lowered >= TRAVELS_MIN

    def settings(self, old: Settings) -> "Settings | None":
        """Return settings with the recorded envelope, or None where there is not enough.

        A part that no travel reached, as the last one of a travel quicker than its setting, takes
        the nearest one's values.
        """
        if not self.ready():
            return None
        from leafwinch.settings_schema import SETTING_NAMES

        new = Settings()
        for name in SETTING_NAMES:
            setattr(new, name, getattr(old, name))
        new.envelope_learned = 1
        first = 0
        for envelope in envelopes(new):
            for bucket in range(BUCKETS):
                nearest = self._nearest(first, bucket)
                if nearest < 0:
                    return None
                envelope[bucket] = self.words[nearest]
            first += BUCKETS
        return new

    def _nearest(self, first: int, bucket: int) -> int:
        words = self.words
        for away in range(BUCKETS):
            for index in (bucket - away, bucket + away):
                if 0 <= index < BUCKETS and abs(words[first + index]) != NUMBER_MAX:
                    return first + index
        return -1
