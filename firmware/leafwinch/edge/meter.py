"""The motor current from its samples: true RMS over one mains cycle, or a signed mean.

A sample is the upper 12 bits of a 16-bit reading; without current the sensor rests near the middle,
2048. Both values are made anew in each pass from the newest samples:

- RMS: the root of the mean square over exactly one period back from the newest sample. Squares are
  joined by straight lines (trapezoidal rule, exact but for rounding on whole periods of a band-
  limited signal), the cell in which the period begins counts in part. The period is measured
  between rising crossings of the zero with hysteresis, each placed between two samples, and
  believed when two in a row agree. While none does, with a small current or one that never changes
  its sign, the last good period stays. Of the mean over that period only what a sensor's zero can
  drift is taken off, so that a direct component is not lost.
- Mean: triangular weights over 19 samples, which is the mean of ten over the mean of ten; they take
  off ripple of 100 Hz and its multiples wholly and that of 120 Hz to 1/40.

Integers stay within +/-2^30; the bounds are beside the sums.
"""

from array import array

from leafwinch.edge.fast import micropython, ptr16, ptr32
from leafwinch.edge.sampling import COUNT
from leafwinch.numbers import const
from leafwinch.signals import NO_SAMPLE

# Said again here, since fast functions take only constants of their own module.
RING_MASK = const(127)
COUNT_MASK = const(0xFFFF)

MIDDLE = const(2048)  # code without current
FRESH = const(25)  # samples after a restart before a value is given
AVERAGED = const(100)  # samples of the zero: 5 cycles of 50 Hz, 6 of 60 Hz
ZERO_LIMIT = const(82)  # codes, 4 % of the range: further off, the sensor is not believed
TRACK_LIMIT = const(16)  # codes by which the zero may follow since it was learned
TRACK_BELOW = const(4)  # codes: a reading beyond this at rest is a current, not the zero
DRIFT = const(256)  # 1/8 code: how much of the mean counts as the sensor's drift
HYSTERESIS = const(24)  # codes below the zero before a rising crossing counts

# Entries of the state, all 0 or above.
SEEN = const(0)  # count of samples looked at, modulo 2^16
ARMED = const(1)  # 1: the signal was well below its zero since the last crossing
CROSSED = const(2)  # when it last crossed, in 1/64 sample, modulo 2^22
PERIOD = const(3)  # of the mains, in 1/64 sample
ZERO = const(4)  # in 1/8 code
MEAN = const(5)  # of the last window less the zero, in 1/8 code, plus MEAN_BIAS
FILLED = const(6)  # samples since the restart, at most FRESH
GAP = const(7)  # between the last two crossings, in 1/64 sample
ENTRIES = const(8)

MEAN_BIAS = const(1 << 15)
PERIOD_START = const(1280)  # 50 Hz until it was measured
PERIOD_MIN = const(955)  # 67 Hz
PERIOD_MAX = const(1488)  # 43 Hz
AGREED = const(24)  # two gaps in a row this near to each other are believed


@micropython.viper
def root(value: int) -> int:
    """Return the integer square root, rounded down; value from 0 to 2^30 - 1."""
    result = 0
    bit = 1 << 28
    while bit:
        trial = result + bit
        result = result >> 1
        if value >= trial:
            value = value - trial
            result = result + bit
        bit = bit >> 2
    return result


@micropython.viper
def find_crossings(ring: ptr16, state: ptr32, upto: int) -> int:
    """Look at the samples that came since the last call; return how many those were.

    upto: count of samples. Renews SEEN, ARMED, CROSSED, GAP and, when plausible, PERIOD.
    """
    k = int(state[SEEN])
    new = (upto - k) & COUNT_MASK
    zero = (int(state[ZERO]) + 4) >> 3
    if new >= RING_MASK - 1:
        # Samples were lost: no crossing may be reckoned over the gap.
        k = upto
        state[ARMED] = 0
        state[CROSSED] = ((upto << 6) - (1 << 21)) & 0x3FFFFF
    armed = int(state[ARMED])
    before = (int(ring[(k - 1) & RING_MASK]) >> 4) - zero
    while k != upto:
        x = (int(ring[k & RING_MASK]) >> 4) - zero
        if x < 0 - HYSTERESIS:
            armed = 1
        elif armed and x >= 0:
            armed = 0
            if before < 0:
                when = ((k << 6) - (x << 6) // (x - before)) & 0x3FFFFF
                period = (when - int(state[CROSSED])) & 0x3FFFFF
                state[CROSSED] = when
                change = period - int(state[GAP])
                state[GAP] = period
                if period >= PERIOD_MIN and period <= PERIOD_MAX:
                    # A step of the current shifts one crossing, but not two alike.
                    if change < AGREED and change > 0 - AGREED:
                        state[PERIOD] = period
        before = x
        k = (k + 1) & COUNT_MASK
    state[ARMED] = armed
    state[SEEN] = upto
    return new


@micropython.viper
def effective(ring: ptr16, state: ptr32, upto: int) -> int:
    """Return the RMS over one period back from the newest sample, in 1/8 code."""
    period = int(state[PERIOD])
    zero = (int(state[ZERO]) + 4) >> 3
    whole = period >> 6
    part = period & 63
    k = upto - 1
    x = (int(ring[k & RING_MASK]) >> 4) - zero
    total = x
    squares = x * x
    last = k - whole
    k = k - 1
    while k > last:
        x = (int(ring[k & RING_MASK]) >> 4) - zero
        total = total + x + x
        squares = squares + 2 * x * x
        k = k - 1
    x = (int(ring[k & RING_MASK]) >> 4) - zero
    y = (int(ring[(k - 1) & RING_MASK]) >> 4) - zero
    # Twice the integral over the whole cells, below 2 * 23 * 2131^2 = 2^27.7; then all
    # in eighths of a cell, below 2^29.7.
    squares = squares + x * x
    cell = part * x * x + ((y * y - x * x) >> 7) * part * part
    squares = 4 * squares + (cell >> 3)
    total = 32 * (total + x) + part * x + (((y - x) * part * part) >> 7)
    mean = 8 * total // period
    state[MEAN] = mean + MEAN_BIAS
    # 64 times the mean square, below 2^28.2, in two steps so that nothing exceeds 2^30.
    square = (squares // period) * 512 + (squares % period) * 512 // period
    drift = mean
    if drift > DRIFT:
        drift = DRIFT
    if drift < 0 - DRIFT:
        drift = 0 - DRIFT
    square = square - mean * mean + (mean - drift) * (mean - drift)
    if square < 0:
        square = 0
    return int(root(square))


@micropython.viper
def averaged(ring: ptr16, state: ptr32, upto: int) -> int:
    """Return the mean under triangular weights over 19 samples, in 1/8 code plus MEAN_BIAS."""
    total = 0
    weight = 1
    k = upto - 19
    middle = upto - 10
    while k < upto:
        total = total + weight * (int(ring[k & RING_MASK]) >> 4)
        if k < middle:
            weight = weight + 1
        else:
            weight = weight - 1
        k = k + 1
    # The weights' sum is 100; below 100 * 4095 * 8 = 2^21.7.
    mean = (8 * total + 50) // 100 - int(state[ZERO]) + MEAN_BIAS
    state[MEAN] = mean
    return mean


@micropython.viper
def average_code(ring: ptr16, upto: int, samples: int) -> int:
    """Return the plain mean of so many newest samples, in 1/8 code."""
    total = 0
    k = upto - samples
    while k < upto:
        total = total + (int(ring[k & RING_MASK]) >> 4)
        k = k + 1
    return (8 * total + samples // 2) // samples


class Meter:
    """Turns the sampler's ring into one value a pass.

    signed: 0 for the RMS, 1 for the signed mean. range_ma: the current that drives the
    converter from its middle to its end, 1000 to 1,000,000 mA.
    """

    def __init__(self, ring: "array[int]", slots: "array[int]", signed: int, range_ma: int) -> None:
        self.ring = ring
        self.slots = slots
        self.state = array("i", [0] * ENTRIES)
        self.signed = signed
        # Values are up to 2^14.1 eighths of a code, and 2^14 of them are the range: the gain is
        # the largest one below 2^15 that a shift can take off again.
        shift = 14
        gain = range_ma
        while gain < 1 << 14:
            gain *= 2
            shift += 1
        while gain >= 1 << 15:
            gain = gain + 1 >> 1
            shift -= 1
        self.gain = gain
        self.shift = shift
        self.half = 1 << shift >> 1
        self.learned = MIDDLE * 8
        self.state[ZERO] = MIDDLE * 8
        self.state[PERIOD] = PERIOD_START
        self.restart()

    def restart(self) -> None:
        """Begin anew after the samples stood still or the loop was away."""
        state = self.state
        upto = self.slots[COUNT]
        state[SEEN] = upto
        state[ARMED] = 0
        state[CROSSED] = ((upto << 6) - (1 << 21)) & 0x3FFFFF
        state[MEAN] = MEAN_BIAS
        state[FILLED] = 0

    def read(self) -> int:
        """Return the current in mA, or NO_SAMPLE while no new sample came."""
        state = self.state
        upto = self.slots[COUNT]
        if upto == state[SEEN]:
            return NO_SAMPLE
        new = find_crossings(self.ring, state, upto)
        if state[FILLED] < FRESH:
            new += state[FILLED]
            state[FILLED] = new if new < FRESH else FRESH
            if new < FRESH:
                return NO_SAMPLE
        if self.signed:
            value = averaged(self.ring, state, upto) - MEAN_BIAS
        else:
            value = effective(self.ring, state, upto)
        return (value * self.gain + self.half) >> self.shift

    def learn_zero(self) -> bool:
        """Take the mean of the last 100 samples as the zero; only at rest.

        Returns False, and keeps the middle as zero, where that mean lies further than
        ZERO_LIMIT from the middle: then the sensor or its wiring is not to be believed.
        """
        found = average_code(self.ring, self.slots[COUNT], AVERAGED)
        off = found - MIDDLE * 8
        if off > ZERO_LIMIT * 8 or off < -ZERO_LIMIT * 8:
            return False
        self.learned = found
        self.state[ZERO] = found
        return True

    def track_zero(self) -> None:
        """Let the zero follow the mean by 1/8 code; to be called at rest, once a second.

        A reading beyond TRACK_BELOW is not followed, nor does the zero go further than
        TRACK_LIMIT from where it was learned: what is beyond must show as a current at rest.
        """
        state = self.state
        if state[FILLED] < FRESH:
            return
        mean = state[MEAN] - MEAN_BIAS
        zero = state[ZERO]
        if 0 < mean <= TRACK_BELOW * 8 and zero < self.learned + TRACK_LIMIT * 8:
            state[ZERO] = zero + 1
        elif -TRACK_BELOW * 8 <= mean < 0 and zero > self.learned - TRACK_LIMIT * 8:
            state[ZERO] = zero - 1
