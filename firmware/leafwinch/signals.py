"""Names of every signal between the wiring and the control core.

One bit per signal. A contact bit is 1 while that contact is closed (or that
voltage is present), so a broken wire reads 0, which is the safe side.
"""

from leafwinch.numbers import const

# Contact inputs, in the order of the board's isolated 24 V inputs.
RAISE_OFF = const(1 << 0)  # control, NC: opens when actuated to raise
LOWER_OFF = const(1 << 1)  # control, NC: opens when actuated to lower
RAISE_PATH = const(1 << 2)  # voltage behind control NO and top end NC
LOWER_PATH = const(1 << 3)  # voltage behind control NO and bottom end NC
TOP_END = const(1 << 4)  # second NC contact of the top working limit
BOTTOM_END = const(1 << 5)  # second NC contact of the bottom working limit
TOP_FINAL = const(1 << 6)  # second NC contact of the top final limit
BOTTOM_FINAL = const(1 << 7)  # second NC contact of the bottom final limit
STOP_OK = const(1 << 8)  # second NC contact of the emergency stop
CHAIN_OK = const(1 << 9)  # voltage at the end of the cut-off chain
LINE_RELEASED = const(1 << 10)  # mirror contact of the line contactor
RAISE_RELEASED = const(1 << 11)  # mirror contact of the raise contactor
LOWER_RELEASED = const(1 << 12)  # mirror contact of the lower contactor
ROPE_TAUT = const(1 << 13)  # slack-rope switch, closed while the rope is taut
RECOVERY_OFF = const(1 << 14)  # second (NC) contact of the recovery key
RESET = const(1 << 15)  # reset button, NO: closed while pressed
SERVICE_LINK = const(1 << 16)  # plug fitted for settings, learning, loading

CONTACT_NAMES = (
    "raise_off",
    "lower_off",
    "raise_path",
    "lower_path",
    "top_end",
    "bottom_end",
    "top_final",
    "bottom_final",
    "stop_ok",
    "chain_ok",
    "line_released",
    "raise_released",
    "lower_released",
    "rope_taut",
    "recovery_off",
    "reset",
    "service_link",
)
ALL_CONTACTS = const((1 << 17) - 1)

# Outputs of one pass.
OUT_LINE_PULSE = const(1 << 0)  # level of the charge-pump pin after this pass
OUT_RAISE = const(1 << 1)  # driver of the raise contactor's coil
OUT_LOWER = const(1 << 2)  # driver of the lower contactor's coil
OUT_LAMP_WHITE = const(1 << 3)
OUT_LAMP_RED = const(1 << 4)
OUT_BUZZER = const(1 << 5)

OUTPUT_NAMES = (
    "line_pulse",
    "raise",
    "lower",
    "lamp_white",
    "lamp_red",
    "buzzer",
)

NO_SAMPLE = const(-(1 << 29))
"""Passed as current_ma while the current sampler's counter has not advanced."""
