"""Slack rope: stops lowering only, with allowances where slack is healthy."""

from leafwinch.faults import NO_FAULT, ROPE_SLACK
from leafwinch.numbers import LOWER, const
from leafwinch.settings import Settings
from leafwinch.signals import BOTTOM_END, ROPE_TAUT

TAUT_MS = const(100)  # taut this long while energised clears the account


class Slack:
    """Keeps the account of lowering with a slack rope.

    Gravity cannot follow a full-speed start near the top, so slack is allowed
    there for longer; at the bottom end it is normal. The account is not renewed
    by pauses or resets, only by a rope that was taut while energised.
    """

    FIELDS = ("slack_ms", "taut_ms")

    def __init__(self, settings: Settings) -> None:
        self.s = settings
        self.slack_ms = 0
        self.taut_ms = 0

    def step(self, dt_ms: int, c: int, way: int, down_ms: int, known: int) -> int:
        """Judge an energised pass and return a candidate fault or NO_FAULT.

        down_ms: lowering account; known: 1 where it also tells the position.
        """
        if not self.s.slack_fitted:
            return NO_FAULT
        if c & ROPE_TAUT:
            if self.taut_ms < TAUT_MS:
                self.taut_ms += dt_ms
            else:
                self.slack_ms = 0
            return NO_FAULT
        self.taut_ms = 0
        if way != LOWER or not c & BOTTOM_END:
            return NO_FAULT
        allowed_ms = self.allowed_ms(down_ms, known)
        if self.slack_ms < allowed_ms:
            self.slack_ms += dt_ms
            return NO_FAULT
        return ROPE_SLACK

    def allowed_ms(self, down_ms: int, known: int) -> int:
        """Return how much lowering with a slack rope is healthy here, in ms."""
        if known and down_ms < self.s.slack_zone_ms:
            return self.s.slack_top_ms
        return self.s.slack_allow_ms

    def refuses_lowering(self, c: int, down_ms: int, known: int) -> bool:
        """Tell whether the rope is slack and the allowance for lowering is used up."""
        if not self.s.slack_fitted or c & ROPE_TAUT or not c & BOTTOM_END:
            return False
        return self.slack_ms >= self.allowed_ms(down_ms, known)
