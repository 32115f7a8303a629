"""Why a running travel must stop in this pass."""

from leafwinch.numbers import RAISE
from leafwinch.recovery import OFF, PULSE_MS
from leafwinch.signals import BOTTOM_END, LOWER_OFF, RAISE_OFF, TOP_END
from leafwinch.states import (
    ENDED_BOTTOM,
    ENDED_CAUSE,
    ENDED_HALFWAY,
    ENDED_NOT,
    ENDED_PULSE,
    ENDED_RELEASED,
    ENDED_TOP,
)
from leafwinch.supervision import Supervision


def why_stop(rules: Supervision, c: int) -> int:
    """Return why the running travel must stop now as ENDED_ number, or ENDED_NOT.

    rules: the supervision rules after this pass. c: the filtered contact mask.
    """
    if rules.cause.is_open:
        return ENDED_CAUSE
    contactors = rules.contactors
    way = contactors.way
    if way == RAISE:
        if not c & TOP_END:
            return ENDED_TOP
        own_off = RAISE_OFF
    else:
        if not c & BOTTOM_END:
            return ENDED_BOTTOM
        own_off = LOWER_OFF
    if rules.control.asked != way:
        return ENDED_RELEASED if c & own_off else ENDED_HALFWAY
    if rules.recovery.mode != OFF and contactors.run_ms >= PULSE_MS:
        return ENDED_PULSE
    return ENDED_NOT
