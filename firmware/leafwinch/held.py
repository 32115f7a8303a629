"""Why the drive stays held: every reason as a bit, cause first."""

from leafwinch.contactors import MIRRORS
from leafwinch.recovery import KEY_TO_RELEASE
from leafwinch.signals import CHAIN_OK, LOWER_OFF, LOWER_PATH, RAISE_OFF, RAISE_PATH
from leafwinch.states import (
    HELD_ACTUATED,
    HELD_BOTH_WAYS,
    HELD_CHAIN,
    HELD_CONTACTOR,
    HELD_DUTY,
    HELD_NEUTRAL_WAIT,
    HELD_PAUSE,
    HELD_RECORD,
    HELD_RECOVERY_KEY,
    HELD_RESOLVING,
    HELD_THERMAL,
)
from leafwinch.supervision import Supervision

_OFFS = RAISE_OFF | LOWER_OFF
_CONTROL = RAISE_OFF | LOWER_OFF | RAISE_PATH | LOWER_PATH


def why_held(rules: Supervision, record_due: int, c: int) -> int:
    """Return the reasons that keep the drive held as HELD_ bits, 0 where it may go idle.

    rules: the supervision rules after this pass. record_due: 1 while the record of the
    last travel is not stored. c: the filtered contact mask.
    """
    reasons = 0
    if rules.cause.is_open:
        reasons |= HELD_RESOLVING
    if not c & CHAIN_OK:
        reasons |= HELD_CHAIN
    if rules.recovery.mode == KEY_TO_RELEASE:
        reasons |= HELD_RECOVERY_KEY
    if c & MIRRORS != MIRRORS:
        reasons |= HELD_CONTACTOR
    if not c & _OFFS:
        reasons |= HELD_BOTH_WAYS
    elif c & _CONTROL != _OFFS:
        reasons |= HELD_ACTUATED
    elif not rules.control.neutral():
        reasons |= HELD_NEUTRAL_WAIT
    if rules.contactors.quiet_ms < rules.settings.pause_ms:
        reasons |= HELD_PAUSE
    if record_due:
        reasons |= HELD_RECORD
    if rules.thermal.warm():
        reasons |= HELD_THERMAL
    if rules.thermal.worked():
        reasons |= HELD_DUTY
    return reasons
