"""What bench and board tell each other every 5 ms of the board's time: words of 32 bits.

Read by both interpreters. The board waits for the bench's words first; then, after every
slice of time, it sends its own and waits for the next ones.
"""

SLICE_US = 5000
OUTPUT_AT = 17  # number of the first output pin

# From the bench.
CONTACTS = 0  # closed contacts, bits as of signals.CONTACT_NAMES
CURRENT_MA = 1  # of the motor: effective value, or signed where it is direct
SUPPLY_MV = 2
OFFSET_MA = 3  # by which the sensor's zero has wandered
CLOCK_PERCENT = 4  # speed of the board's crystal
EVERY = 5  # a pass takes so many times its time; 1: sound
FLAGS = 6
CUT_AFTER = 7  # power fails after so many pieces of flash operations since the start; 0: never
IN_WORDS = 8

HANG = 1  # flag: the program stands still
UNWATCHED = 2  # flag: the watchdog does not bite
STALE = 4  # flag: the converter's interrupt has stopped
FLASH_DEAD = 8  # flag: what is written is not kept
SENSOR_LOST = 16  # flag: the current reads zero

# From the board.
END = 0  # one of the ends below; 0: it runs
GPIO = 1  # output levels, bits as of signals.OUTPUT_NAMES
STATE = 2  # from here on as of the control core; -1 before there is one
FAULT = 3
HELD = 4
WARNING = 5
WARNINGS = 6
DOING = 7
LATE = 8  # late passes since the start, modulo 2^16
PASSES = 9  # passes since the start, modulo 2^30
REFUSED = 10
ENDED = 11
DROPPED = 12  # lines that found no room over the board's life, as far as it has stored
PIECES = 13  # pieces of flash operations since the start
OUT_WORDS = 14

AT_PROMPT = 1  # doing: the program is over, the prompt waits
WRITING = 2  # doing: flash is being erased or written

END_RESET = 1  # machine.reset()
END_WATCHDOG = 2
END_SOFT = 3  # soft reset: pins stay, the program starts again
END_SOFT_RAW = 4  # the same, to the raw prompt
END_CUT = 5  # power has failed amid a flash operation, as the bench wanted it

POWER_ON = 1  # reset causes, as the RP2 port numbers them
WATCHDOG_RESET = 3
