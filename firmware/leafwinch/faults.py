"""Every fault the core can latch: number, name, severity, lamp code.

The numbers are ordered by cause, the most upstream first (supply, stop, final,
chain, end, control, contactor, current, travel, the controller itself): of all
candidates seen inside one cause window the lowest number is the cause. The
words for people are in fault_texts.py, which the board never loads.
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

ORDINARY = const(0)
SERIOUS = const(1)  # survives power loss once written

# Row n - 1 is fault n: (name, severity, lamp group, lamp item).
FAULTS = (
    ("supply_lost", ORDINARY, 1, 1),
    ("stop_actuated", ORDINARY, 1, 2),
    ("top_final_actuated", SERIOUS, 2, 1),
    ("bottom_final_actuated", SERIOUS, 2, 2),
    ("chain_dead", ORDINARY, 1, 3),
    ("chain_bridged", SERIOUS, 1, 4),
    ("recovery_key_turned", ORDINARY, 1, 5),
    ("end_wrong_way", SERIOUS, 2, 3),
    ("both_ends", SERIOUS, 2, 4),
    ("top_end_disagrees", SERIOUS, 2, 5),
    ("bottom_end_disagrees", SERIOUS, 2, 6),
    ("raise_contact_stuck", SERIOUS, 3, 1),
    ("lower_contact_stuck", SERIOUS, 3, 2),
    ("control_both", ORDINARY, 3, 3),
    ("line_uncommanded", SERIOUS, 4, 1),
    ("raise_uncommanded", SERIOUS, 4, 2),
    ("lower_uncommanded", SERIOUS, 4, 3),
    ("line_not_released", SERIOUS, 4, 4),
    ("raise_not_released", SERIOUS, 4, 5),
    ("lower_not_released", SERIOUS, 4, 6),
    ("line_not_pulled", ORDINARY, 5, 1),
    ("raise_not_pulled", ORDINARY, 5, 2),
    ("lower_not_pulled", ORDINARY, 5, 3),
    ("current_at_rest", SERIOUS, 6, 1),
    ("samples_stalled", ORDINARY, 6, 2),
    ("current_trip", ORDINARY, 6, 3),
    ("current_wrong_way", SERIOUS, 6, 4),
    ("current_missing", ORDINARY, 6, 5),
    ("blocked", SERIOUS, 6, 6),
    ("jam", ORDINARY, 7, 1),
    ("underload", SERIOUS, 7, 2),
    ("rope_slack", SERIOUS, 7, 3),
    ("end_not_left", ORDINARY, 7, 4),
    ("travel_early", SERIOUS, 7, 5),
    ("travel_late", SERIOUS, 7, 6),
    ("thermal", ORDINARY, 8, 1),
    ("duty", ORDINARY, 8, 2),
    ("drift", SERIOUS, 8, 3),
    ("loop_late", ORDINARY, 9, 1),
    ("settings_bad", ORDINARY, 9, 2),
    ("settings_foreign", ORDINARY, 9, 3),
    ("watchdog_boot", ORDINARY, 9, 4),
    ("program_error", SERIOUS, 9, 5),
)


def is_serious(fault: int) -> bool:
    """Tell whether this fault must survive power loss (fault: 1 to len(FAULTS))."""
    return FAULTS[fault - 1][1] == SERIOUS
