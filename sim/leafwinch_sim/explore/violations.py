"""What a core can break, as numbers and in words."""

# What can be broken: (requirement, what happened). Number 0 is nothing.
VIOLATIONS = (
    ("-", "nothing"),
    ("R1", "an output stayed on although the control did not ask that way"),
    ("R1", "an output stayed on although the control supply was lost"),
    ("R1", "an output stayed on although a pass came late"),
    ("R1", "the line pulse kept toggling without a direction"),
    ("R2", "the motor was commanded towards an end that is reached"),
    ("R2", "the motor was commanded with a final limit actuated, not away from it"),
    ("R2", "a recovery pulse lasted longer than 0.5 s"),
    ("R2", "lowering went on with a slack rope beyond every allowance"),
    ("R3", "both directions were commanded at once"),
    ("R3", "the line contactor was commanded without proof of its direction contactor"),
    ("R3", "the line contactor stayed commanded with the other direction's contactor pulled"),
    ("R3", "the motor was reversed without the pause"),
    ("R4", "a start came although neutral had not been seen for 300 ms"),
    ("R5", "a latched fault was left without a valid press of the reset button"),
    ("R5", "a latched fault was left although the drive was not ready for it"),
    ("R5", "a latched fault was replaced by another"),
    ("R5", "state and fault number contradict each other"),
    ("R5", "the cause was named before its window was over"),
    ("R5", "a cause was named although one further upstream was there"),
    ("R5", "a fault was latched without anything that speaks for it"),
    ("R5", "a serious fault was gone after a power cycle"),
    ("R5", "a limit moved twice at rest without a fault"),
    ("R7", "the motor was commanded up beyond the travel budget"),
    ("R7", "the motor was commanded down beyond the travel budget"),
    ("R7", "the motor ran outside its band for longer than the blocked account allows"),
    ("R5", "the core raised an error or made a forbidden transition"),
    ("R7", "a travel went on beyond every limit of this exploration"),
    ("R5", "a travel was ended by a lost control supply, but no fault says so"),
)
NOTHING = 0
NOT_ASKED = 1
NO_SUPPLY = 2
LATE = 3
PULSE_ALONE = 4
TOWARDS_END = 5
AT_FINAL = 6
PULSE_LONG = 7
SLACK = 8
BOTH = 9
UNPROVEN = 10
OTHER_PULLED = 11
NO_PAUSE = 12
NOT_NEUTRAL = 13
NO_PRESS = 14
NOT_READY = 15
REPLACED = 16
CONTRADICTION = 17
TOO_EARLY = 18
UPSTREAM = 19
NO_EVIDENCE = 20
FORGOTTEN = 21
DRIFTED = 22
UP_LATE = 23
DOWN_LATE = 24
BLOCKED_LATE = 25
CRASHED = 26
ENDLESS = 27
UNTOLD = 28
