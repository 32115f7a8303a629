"""States, the transitions allowed between them, and the named reasons.

A held reason is a bit: the state held is left only when no bit is set. Bits are
ordered cause first, so the lowest set bit is the one to tell a person first. The words
are in state_texts.py, which the board never loads.
"""

from leafwinch.numbers import const

HELD = const(0)  # de-energised, load on the brake, restart locked out
IDLE = const(1)  # at rest, everything proven, ready
RAISING = const(2)
LOWERING = const(3)
FAULT = const(4)  # latched

STATE_NAMES = ("held", "idle", "raising", "lowering", "fault")

# Which states may follow each state, as bit masks indexed by state.
ALLOWED = (
    (1 << IDLE) | (1 << FAULT),
    (1 << RAISING) | (1 << LOWERING) | (1 << HELD) | (1 << FAULT),
    (1 << HELD) | (1 << FAULT),
    (1 << HELD) | (1 << FAULT),
    1 << HELD,
)

# Why held is not left.
HELD_SUPPLY = const(1 << 0)
HELD_SETTLING = const(1 << 1)
HELD_RESOLVING = const(1 << 2)
HELD_CHAIN = const(1 << 3)
HELD_RECOVERY_KEY = const(1 << 4)
HELD_CONTACTOR = const(1 << 5)
HELD_BOTH_WAYS = const(1 << 6)
HELD_ACTUATED = const(1 << 7)
HELD_NEUTRAL_WAIT = const(1 << 8)
HELD_PAUSE = const(1 << 9)
HELD_RECORD = const(1 << 10)
HELD_THERMAL = const(1 << 11)
HELD_DUTY = const(1 << 12)

# Why a demand from idle was refused (0: it was not).
REFUSED_NOT = const(0)
REFUSED_END = const(1)
REFUSED_BUDGET = const(2)
REFUSED_SLACK = const(3)
REFUSED_RECOVERY = const(4)
REFUSED_UNPROVEN = const(5)

# What ended the last travel (0: none yet since power-up).
ENDED_NOT = const(0)
ENDED_RELEASED = const(1)
ENDED_TOP = const(2)
ENDED_BOTTOM = const(3)
ENDED_HALFWAY = const(4)
ENDED_PULSE = const(5)
ENDED_FINAL_CLOSED = const(6)
ENDED_CAUSE = const(7)

# Warnings: journalled and chirped, no fault.
WARN_NOTHING = const(0)
WARN_HALFWAY = const(1)
WARN_KEPT_ACTUATED = const(2)
WARN_DRIFT = const(3)
WARN_RESET_REFUSED = const(4)
WARN_RESET_STUCK = const(5)
WARN_RECOVERY_REFUSED = const(6)
WARN_SERVICE_LINK = const(7)
