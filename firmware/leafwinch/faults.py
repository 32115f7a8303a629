"""Every fault the core can latch: number, severity, lamp code.

The numbers are ordered by cause, the most upstream first (supply, stop, final,
chain, end, control, contactor, current, travel, the controller itself): of all
candidates seen inside one cause window the lowest number is the cause. The
names and words for people are in fault_texts.py, which the board never loads.
"""

from leafwinch.numbers import const

NO_FAULT = const(0)
SUPPLY_LOST = const(1)
STOP_ACTUATED = const(2)
TOP_FINAL_ACTUATED = const(3)
BOTTOM_FINAL_ACTUATED = const(4)
CHAIN_DEAD = const(5)
CHAIN_BRIDGED = const(6)
RECOVERY_KEY_TURNED = const(7)
END_WRONG_WAY = const(8)
BOTH_ENDS = const(9)
TOP_END_DISAGREES = const(10)
BOTTOM_END_DISAGREES = const(11)
RAISE_CONTACT_STUCK = const(12)
LOWER_CONTACT_STUCK = const(13)
CONTROL_BOTH = const(14)
LINE_UNCOMMANDED = const(15)
RAISE_UNCOMMANDED = const(16)
LOWER_UNCOMMANDED = const(17)
LINE_NOT_RELEASED = const(18)
RAISE_NOT_RELEASED = const(19)
LOWER_NOT_RELEASED = const(20)
LINE_NOT_PULLED = const(21)
RAISE_NOT_PULLED = const(22)
LOWER_NOT_PULLED = const(23)
CURRENT_AT_REST = const(24)
SAMPLES_STALLED = const(25)
CURRENT_TRIP = const(26)
CURRENT_WRONG_WAY = const(27)
CURRENT_MISSING = const(28)
BLOCKED = const(29)
JAM = const(30)
UNDERLOAD = const(31)
ROPE_SLACK = const(32)
END_NOT_LEFT = const(33)
TRAVEL_EARLY = const(34)
TRAVEL_LATE = const(35)
THERMAL = const(36)
DUTY = const(37)
DRIFT = const(38)
LOOP_LATE = const(39)
SETTINGS_BAD = const(40)
SETTINGS_FOREIGN = const(41)
WATCHDOG_BOOT = const(42)
PROGRAM_ERROR = const(43)

FAULT_COUNT = const(43)

SERIOUS = const(100)  # survives power loss once written

# Entry n - 1 is fault n: lamp group times ten plus lamp item, plus SERIOUS.
CODES = (
    11,  # supply_lost
    12,  # stop_actuated
    SERIOUS + 21,  # top_final_actuated
    SERIOUS + 22,  # bottom_final_actuated
    13,  # chain_dead
    SERIOUS + 14,  # chain_bridged
    15,  # recovery_key_turned
    SERIOUS + 23,  # end_wrong_way
    SERIOUS + 24,  # both_ends
    SERIOUS + 25,  # top_end_disagrees
    SERIOUS + 26,  # bottom_end_disagrees
    SERIOUS + 31,  # raise_contact_stuck
    SERIOUS + 32,  # lower_contact_stuck
    33,  # control_both
    SERIOUS + 41,  # line_uncommanded
    SERIOUS + 42,  # raise_uncommanded
    SERIOUS + 43,  # lower_uncommanded
    SERIOUS + 44,  # line_not_released
    SERIOUS + 45,  # raise_not_released
    SERIOUS + 46,  # lower_not_released
    51,  # line_not_pulled
    52,  # raise_not_pulled
    53,  # lower_not_pulled
    SERIOUS + 61,  # current_at_rest
    62,  # samples_stalled
    63,  # current_trip
    SERIOUS + 64,  # current_wrong_way
    65,  # current_missing
    SERIOUS + 66,  # blocked
    71,  # jam
    SERIOUS + 72,  # underload
    SERIOUS + 73,  # rope_slack
    74,  # end_not_left
    SERIOUS + 75,  # travel_early
    SERIOUS + 76,  # travel_late
    81,  # thermal
    82,  # duty
    SERIOUS + 83,  # drift
    91,  # loop_late
    92,  # settings_bad
    93,  # settings_foreign
    94,  # watchdog_boot
    SERIOUS + 95,  # program_error
)


def is_serious(fault: int) -> bool:
    """Tell whether this fault must survive power loss (fault: 1 to FAULT_COUNT)."""
    return CODES[fault - 1] >= SERIOUS


def lamp_code(fault: int) -> int:
    """Return long flashes times ten plus short flashes of a fault (1 to FAULT_COUNT)."""
    return CODES[fault - 1] % SERIOUS
