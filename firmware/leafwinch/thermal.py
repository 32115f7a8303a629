"""Thermal replica of the motor, and the duty account.

The replica is the first-order model of IEC 60255-149 in integers: the load is
(I / base)^2, base being k x Ib, and the level tends to it with one time constant
while energised and another at rest. 100 % trips.
"""

from leafwinch.faults import DUTY, NO_FAULT, THERMAL
from leafwinch.numbers import const
from leafwinch.settings import Settings

FULL = const(1 << 23)  # the level that trips
RATIO_MAX = const(8 << 10)  # the standard's curve is flat above 8 x
PERIOD_MS = const(100)  # the level moves once a period, by the mean load in it
_LOAD_SHIFT = const(7)  # square of the ratio, scaled so that a period's sum stays in range
_FULL_SHIFT = const(10)  # from that scale to the scale of FULL

DUTY_RESTART_PCT = const(80)


class Thermal:
    """Thermal level and duty account; both survive stops, resets and power loss.

    level: 0 to beyond FULL. duty_ms100: energised ms x 100 above the allowed share.
    """

    FIELDS = ("level", "carry", "load_sum", "period_ms", "duty_ms100")

    def __init__(self, settings: Settings) -> None:
        s = settings
        self.base_ma = s.thermal_base_ma
        self.heat_periods = s.thermal_heat_s * 1000 // PERIOD_MS
        self.cool_periods = s.thermal_cool_s * 1000 // PERIOD_MS
        self.restart_level = FULL // 100 * s.thermal_restart_pct
        self.duty_pct = s.duty_pct
        self.duty_max = s.duty_allow_ms * 100
        self.duty_restart = s.duty_allow_ms * DUTY_RESTART_PCT
        self.size_max_ma = self.base_ma * 8
        self.unfelt_ma = self.base_ma >> 7  # up to this the load is below the scale's first step
        self.level = FULL  # unknown after power-up counts as just tripped
        self.carry = 0
        self.load_sum = 0
        self.period_ms = 0
        self.duty_ms100 = 0
        # A record may miss the last travel: assume the worst one, a full budget at the trip level.
        load = self.load_of(s.trip_ma) << _FULL_SHIFT
        longest_s = s.budget_raise_ms
        if s.budget_lower_ms > longest_s:
            longest_s = s.budget_lower_ms
        longest_s = longest_s // 1000 + 1
        if longest_s >= s.thermal_heat_s or load >= FULL * 8:
            self.unseen_rise = FULL
        else:
            self.unseen_rise = load // s.thermal_heat_s * longest_s

    def load_of(self, size_ma: int) -> int:
        """Return (size / base)^2 scaled so that 1 is 2^13; size_ma at least 0, mA."""
        if size_ma >= self.size_max_ma or size_ma >= (1 << 19):
            ratio = RATIO_MAX
        else:
            ratio = ((size_ma << 10) + (self.base_ma >> 1)) // self.base_ma
        return (ratio * ratio) >> _LOAD_SHIFT

    def boot_level(self, kept_level: int) -> None:
        """Take over the stored level, raised by what one unseen travel could have added."""
        level = kept_level + self.unseen_rise
        self.level = level if level < FULL else FULL

    def step(self, dt_ms: int, value_ma: int, energised: bool) -> int:
        """Heat or cool for one pass and return a candidate fault or NO_FAULT."""
        size_ma = value_ma if value_ma >= 0 else -value_ma
        if size_ma > self.unfelt_ma:
            self.load_sum += self.load_of(size_ma) * dt_ms
        period_ms = self.period_ms + dt_ms
        if energised:
            self.duty_ms100 += dt_ms * (100 - self.duty_pct)
        elif self.duty_ms100 > 0:
            self.duty_ms100 -= dt_ms * self.duty_pct
            if self.duty_ms100 < 0:
                self.duty_ms100 = 0
        if period_ms >= PERIOD_MS:
            load = (self.load_sum // period_ms) << _FULL_SHIFT
            periods = self.heat_periods if energised else self.cool_periods
            moved = load - self.level + self.carry
            change = moved // periods
            self.carry = moved - change * periods
            self.level += change
            self.load_sum = 0
            period_ms = 0
        self.period_ms = period_ms
        if not energised:
            return NO_FAULT
        if self.level >= FULL:
            return THERMAL
        if self.duty_ms100 >= self.duty_max:
            self.duty_ms100 = self.duty_max
            return DUTY
        return NO_FAULT

    def warm(self) -> bool:
        """Tell whether the motor is too warm for another start."""
        return self.level >= self.restart_level

    def worked(self) -> bool:
        """Tell whether the duty account is too high for another start."""
        return self.duty_ms100 >= self.duty_restart
