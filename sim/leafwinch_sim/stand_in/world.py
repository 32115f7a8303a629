"""The played board's time, pins, converter and watchdog.

Time is the board's own and goes on only where the program waits, looks at the clock or writes
flash. Every 5 ms of it the bench is told the outputs and tells the inputs. Nothing here
allocates once the program runs, since the program collects no garbage in motion.
"""

import math
import sys
from array import array

from leafwinch_sim.stand_in import words

TYPE_CHECKING = False  # type checkers read this name as true; nothing runs with it
if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

    Callback = Callable[[object], object]

TICKS_PERIOD = 1 << 30
# Both ticks of the RP2 port come from one counter of microseconds; they wrap after 20 s.
START_US = (TICKS_PERIOD - 20_000) * 1000
NEVER = 1 << 60

OUTPUT_AT = words.OUTPUT_AT
ALL_CONTACTS = (1 << OUTPUT_AT) - 1
OUTPUTS = 63
CURRENT_PIN = 26
SUPPLY_PIN = 27

SINE = 1024  # entries of one period
SINE_ONE = 32767
ROOT_TWO = 46341  # in 1/32768
MIDDLE = 2048  # code of the converter without current
CODE_MAX = 4095
NOISE_CODES = 3  # width of the converter's noise
# The converter of the RP2040 has four codes that are several codes wide, each 512 after a
# multiple of 1024 (described in its data sheet among the errata; width from memory).
WIDE_AT = 512
WIDE_CODES = 8


class Gone(BaseException):
    """The bench has closed the pipes: there is nothing left to play for."""


class World:
    """All that the stand-in modules share.

    now_us: the board's time since its start. gpio: levels of the output pins, by number.
    core, loop: the program's, as soon as there are any.
    """

    def __init__(self, frequency: int, range_ma: int, full_mv: int, seed: int, gpio: int) -> None:
        self.source: Any = None
        self.sink: Any = None
        self.frequency = frequency  # of the motor's current; 0: direct
        self.range_ma = range_ma
        self.full_mv = full_mv
        self.noise = seed & 0x7FFFFFFF
        self.gpio = gpio
        self.now_us = 0
        self.true_us = 0  # the same in true time at the begin of this slice, which began ...
        self.slice_us = 0  # ... at this time of the board's own
        self.exchange_us = 0
        self.timer_us = NEVER
        self.timer_period_us = 0
        self.timer_callback: "Callback | None" = None  # noqa: UP037 (not known at run time)
        self.in_timer = False
        self.gone = False  # whether the bench is
        self.masked = False  # interrupts are off while flash is written
        self.bite_us = NEVER
        self.watchdog_us = 0
        self.loop: Any = None
        self.core: Any = None
        self.passed = False  # whether the core has made its first pass
        self.counters: Any = None
        self.dropped_at = 0  # of the counters
        self.told = array("i", [0] * words.IN_WORDS)
        self.telling = array("i", [0] * words.OUT_WORDS)
        self.telling[words.STATE] = -1
        sines = [round(SINE_ONE * math.sin(2 * math.pi * i / SINE)) for i in range(SINE)]
        self.sine = array("h", sines)

    # --- time --------------------------------------------------------------------------

    def open(self, source: "Any", sink: "Any") -> None:
        """Take the pipes to the bench and hear from it for the first time."""
        self.source = source
        self.sink = sink
        self.hear()

    def look(self) -> int:
        """Return the counter of microseconds; looking takes one."""
        if not self.in_timer:
            self.advance(1)
        return START_US + self.now_us

    def advance(self, us: int) -> None:
        """Let time go on; timer and bench have their turns on the way."""
        end_us = self.now_us + us
        while True:
            next_us = end_us
            timed = False
            if self.timer_us <= next_us and not self.masked:
                next_us = self.timer_us
                timed = True
            if self.exchange_us < next_us:
                next_us = self.exchange_us
                timed = False
            if next_us > self.now_us:
                self.now_us = next_us
            if timed:
                self.time_out()
            elif next_us == self.exchange_us:
                self.exchange()
            elif self.now_us >= end_us:
                break
        if self.now_us >= self.bite_us and not self.told[words.FLAGS] & words.UNWATCHED:
            self.end(words.END_WATCHDOG)

    def time_out(self) -> None:
        """Call the timer's function; an error in it ends the timer."""
        # The RP2 port counts the period from the time that was due, so missed ones are made up.
        self.timer_us += self.timer_period_us
        if self.told[words.FLAGS] & words.STALE or self.timer_callback is None:
            return
        self.in_timer = True
        try:
            self.timer_callback(None)
        except Exception as error:
            self.timer_us = NEVER
            sys.print_exception(error)  # type: ignore[attr-defined]
        self.in_timer = False

    def feed(self) -> None:
        """Feed the watchdog, which the program does once a pass."""
        self.bite_us = self.now_us + self.watchdog_us
        self.telling[words.PASSES] = (self.telling[words.PASSES] + 1) & (TICKS_PERIOD - 1)
        self.passed = self.core is not None
        every = self.told[words.EVERY]
        if every > 1:
            self.advance((every - 1) * words.SLICE_US)

    # --- the bench ---------------------------------------------------------------------

    def exchange(self) -> None:
        """Tell the bench the outputs and hear the inputs for the next slice."""
        self.tell()
        self.hear()
        while self.told[words.FLAGS] & words.HANG:
            # Standing still: time goes on for the bench and for the watchdog only.
            self.now_us = self.exchange_us
            if self.now_us >= self.bite_us and not self.told[words.FLAGS] & words.UNWATCHED:
                self.end(words.END_WATCHDOG)
            self.tell()
            self.hear()

    def tell(self) -> None:
        """Send the words of the board."""
        telling = self.telling
        telling[words.GPIO] = (self.gpio >> OUTPUT_AT) & OUTPUTS
        core = self.core
        if self.passed:
            telling[words.STATE] = core.state
            telling[words.FAULT] = core.fault
            telling[words.HELD] = core.held_reasons
            telling[words.WARNING] = core.warning
            telling[words.WARNINGS] = core.warnings
            telling[words.REFUSED] = core.refused
            telling[words.ENDED] = core.ended
            telling[words.LATE] = self.loop.late
            telling[words.DROPPED] = self.counters[self.dropped_at]
        try:
            self.sink.write(telling)
        except OSError:
            self.gone = True
            raise Gone from None

    def hear(self) -> None:
        """Receive the words of the bench and begin a slice."""
        if self.source.readinto(self.told) != 4 * words.IN_WORDS:
            self.gone = True
            raise Gone
        self.true_us += words.SLICE_US
        self.slice_us = self.exchange_us
        self.exchange_us += words.SLICE_US * self.told[words.CLOCK_PERCENT] // 100

    def end(self, how: int) -> None:
        """Tell the bench that the board restarts, and wait to be ended by it."""
        self.telling[words.END] = how
        self.tell()
        while True:
            self.hear()

    # --- pins --------------------------------------------------------------------------

    def levels(self) -> int:
        """Return the levels of all pins; an isolator pulls its pin low while closed."""
        return self.gpio & ~ALL_CONTACTS | ALL_CONTACTS & ~self.told[words.CONTACTS]

    def code(self, number: int) -> int:
        """Return the converter's reading of a pin now, 0 to 4095."""
        told = self.told
        self.noise = (self.noise * 1103515245 + 12345) & 0x7FFFFFFF
        noise = (self.noise >> 16) % NOISE_CODES - NOISE_CODES // 2
        if number == SUPPLY_PIN:
            code = told[words.SUPPLY_MV] * (CODE_MAX + 1) // self.full_mv + noise
        elif number == CURRENT_PIN:
            code = MIDDLE + noise
            if not told[words.FLAGS] & words.SENSOR_LOST:
                code += self.current_ma() * MIDDLE // self.range_ma
        else:
            code = noise
        within = (code & 1023) - WIDE_AT
        if 0 <= within < WIDE_CODES:
            code -= within
        if code < 0:
            return 0
        return code if code < CODE_MAX else CODE_MAX

    def current_ma(self) -> int:
        """Return the sensor's present value."""
        told = self.told
        value = told[words.CURRENT_MA]
        if self.frequency:
            true_us = (
                self.true_us + (self.now_us - self.slice_us) * 100 // told[words.CLOCK_PERCENT]
            )
            place = true_us * self.frequency * SINE // 1_000_000 & (SINE - 1)
            value = value * ROOT_TWO * self.sine[place] >> 30
        return value + told[words.OFFSET_MA]
