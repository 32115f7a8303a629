"""The three contactors: start and stop sequence, and their mirror contacts."""

from leafwinch.faults import (
    LINE_NOT_PULLED,
    LINE_NOT_RELEASED,
    LINE_UNCOMMANDED,
    LOWER_NOT_PULLED,
    LOWER_NOT_RELEASED,
    LOWER_UNCOMMANDED,
    NO_FAULT,
    RAISE_NOT_PULLED,
    RAISE_NOT_RELEASED,
    RAISE_UNCOMMANDED,
)
from leafwinch.numbers import NO_DIRECTION, RAISE, const
from leafwinch.settings import Settings
from leafwinch.signals import LINE_RELEASED, LOWER_RELEASED, RAISE_RELEASED

MIRRORS = LINE_RELEASED | RAISE_RELEASED | LOWER_RELEASED

# Phases of the start sequence.
OFF = const(0)
WAITING = const(1)  # nothing may be pulled for WAIT_MS
DIRECTION = const(2)  # direction contactor commanded, its mirror not open yet
LINE = const(3)  # line contactor commanded as well, its mirror not open yet
RUNNING = const(4)

WAIT_MS = const(50)
OFF_MS_MAX = const(5000)  # off_ms saturates here
RESIDUAL_MS = const(1000)  # an open line mirror counts as energised so long after the stop


class Contactors:
    """Commands direction before line, takes all off at once, and believes only mirrors.

    A mirror contact is closed while its contactor is released. After a stop each
    must close within release_ms; one that opens later, or that was not commanded
    before the stop, was pulled uncommanded.
    """

    FIELDS = (
        "way",
        "phase",
        "phase_ms",
        "off_ms",
        "run_ms",
        "released_seen",
        "letting_go",
        "park_high",
        "quiet_ms",
    )

    def __init__(self, settings: Settings) -> None:
        self.pull_ms = settings.pull_ms
        self.release_ms = settings.release_ms
        self.way = NO_DIRECTION  # of the travel that is commanded or was last
        self.phase = OFF
        self.phase_ms = 0
        self.off_ms = 0  # since everything was commanded off
        self.run_ms = 0  # since the line contactor was commanded
        self.released_seen = 0  # mirror bits seen closed since the stop
        self.letting_go = 0  # mirror bits of what was commanded when it stopped
        self.park_high = 0  # level of the pulse pin while off
        self.quiet_ms = 0  # since all three mirrors are closed with nothing commanded

    def start(self, way: int) -> None:
        """Begin the sequence in one direction."""
        self.way = way
        self.phase = WAITING
        self.phase_ms = 0
        self.run_ms = 0

    def stop(self) -> None:
        """Take everything off at once; the pulse pin parks on alternate levels."""
        if self.phase != OFF:
            self.letting_go = 0
            if self.phase >= DIRECTION:
                self.letting_go = RAISE_RELEASED if self.way == RAISE else LOWER_RELEASED
            if self.phase >= LINE:
                self.letting_go |= LINE_RELEASED
            self.phase = OFF
            self.phase_ms = 0
            self.off_ms = 0
            self.released_seen = 0
            self.quiet_ms = 0
            self.park_high = 1 - self.park_high

    def forget(self) -> None:
        """After a lost supply: mirrors have to be seen released anew."""
        self.off_ms = 0
        self.released_seen = 0
        self.quiet_ms = 0

    def step(self, dt_ms: int, c: int) -> int:
        """Judge the mirrors for one pass and return a candidate fault or NO_FAULT."""
        phase = self.phase
        if phase == OFF:
            return self.at_rest(dt_ms, c)
        if phase != RUNNING:
            self.phase_ms += dt_ms
        if phase >= LINE and self.run_ms < OFF_MS_MAX:
            self.run_ms += dt_ms
        if self.way == RAISE:
            own = RAISE_RELEASED
            other = LOWER_RELEASED
        else:
            own = LOWER_RELEASED
            other = RAISE_RELEASED
        if phase == WAITING:
            if c & MIRRORS != MIRRORS:
                return self._pulled(c, MIRRORS)
            return NO_FAULT
        if not c & other:
            return self._pulled(c, other)
        if phase == DIRECTION:
            if not c & LINE_RELEASED:
                return LINE_UNCOMMANDED
            if c & own and self.phase_ms >= self.pull_ms:
                return self._not_pulled()
            return NO_FAULT
        if c & own:
            return self._not_pulled()
        if c & LINE_RELEASED and (phase == RUNNING or self.phase_ms >= self.pull_ms):
            return LINE_NOT_PULLED
        return NO_FAULT

    def advance(self, c: int) -> None:
        """Take the next step of the start sequence once its proof is there."""
        if self.phase == WAITING:
            if self.phase_ms >= WAIT_MS:
                self._next()
        elif self.phase == DIRECTION:
            if not c & (RAISE_RELEASED if self.way == RAISE else LOWER_RELEASED):
                self._next()
        elif self.phase == LINE:
            if not c & LINE_RELEASED:
                self._next()

    def _next(self) -> None:
        self.phase += 1
        self.phase_ms = 0

    def at_rest(self, dt_ms: int, c: int) -> int:
        """Judge the mirrors for one pass with everything commanded off."""
        off_ms = self.off_ms
        if off_ms < OFF_MS_MAX:
            off_ms += dt_ms
            self.off_ms = off_ms
        mirrors = c & MIRRORS
        if off_ms < self.release_ms:
            # The pump holds for a while: what was commanded just now may even still pull in.
            self.released_seen |= mirrors & ~self.letting_go
        else:
            self.released_seen |= mirrors
        if mirrors == MIRRORS:
            if self.quiet_ms < OFF_MS_MAX:
                self.quiet_ms += dt_ms
            return NO_FAULT
        self.quiet_ms = 0
        wrong = ~mirrors & self.released_seen & MIRRORS
        if wrong:
            return self._pulled(c, wrong)
        if off_ms >= self.release_ms:
            if not c & LINE_RELEASED:
                self.park_high = 0  # a pump that passes a static level lets go now
                return LINE_NOT_RELEASED
            if not c & RAISE_RELEASED:
                return RAISE_NOT_RELEASED
            return LOWER_NOT_RELEASED
        return NO_FAULT

    def _pulled(self, c: int, which: int) -> int:
        if which & LINE_RELEASED and not c & LINE_RELEASED:
            return LINE_UNCOMMANDED
        if which & RAISE_RELEASED and not c & RAISE_RELEASED:
            return RAISE_UNCOMMANDED
        return LOWER_UNCOMMANDED

    def _not_pulled(self) -> int:
        return RAISE_NOT_PULLED if self.way == RAISE else LOWER_NOT_PULLED

    def energised(self, c: int) -> bool:
        """Tell whether the motor must be taken as energised: commanded, or not let go yet."""
        if self.phase >= LINE:
            return True
        return self.phase == OFF and not c & LINE_RELEASED and self.off_ms < RESIDUAL_MS
