"""Motor current: trip, learned envelope, missing, at rest, stalled samples, wrong way, blocked."""

from leafwinch.faults import (
    BLOCKED,
    CURRENT_AT_REST,
    CURRENT_MISSING,
    CURRENT_TRIP,
    CURRENT_WRONG_WAY,
    JAM,
    NO_FAULT,
    SAMPLES_STALLED,
    UNDERLOAD,
)
from leafwinch.numbers import RAISE, const
from leafwinch.settings import BUCKETS, Settings
from leafwinch.signals import NO_SAMPLE

STALLED_MS = const(60)  # without a fresh sample
AT_REST_MS = const(500)  # after release, before current at rest is judged
REST_OVER_MS = const(200)
MISSING_MS = const(200)
WRONG_WAY_MS = const(100)
BAND_MS = const(60)  # inside the running band this long clears the blocked account
BLOCKED_MS = const(2000)
BOOT_MARGIN_MS = const(200)


class Current:
    """Judges one current value a pass, in mA: RMS (AC) or signed mean (DC)."""

    FIELDS = (
        "value_ma",
        "stalled_ms",
        "rest_ms",
        "rest_over_ms",
        "over_ms",
        "wrong_ms",
        "missing_ms",
        "band_ms",
        "blocked_ms",
        "jam_ms",
        "under_ms",
    )

    def __init__(self, settings: Settings) -> None:
        s = settings
        self.s = s
        self.value_ma = 0  # last fresh sample
        self.stalled_ms = 0
        self.rest_ms = 0
        self.rest_over_ms = 0
        self.over_ms = 0
        self.wrong_ms = 0
        self.missing_ms = 0
        self.band_ms = 0
        # After power-up the account is unknown: leave just one start's worth.
        self.boot_ms = BLOCKED_MS - s.inrush_ms - BOOT_MARGIN_MS
        if self.boot_ms < 0:
            self.boot_ms = 0
        self.blocked_ms = self.boot_ms
        self.jam_ms = 0
        self.under_ms = 0
        self.rest_ma = s.rest_ma
        # With the position unknown the envelope is the extreme over all buckets.
        self.raise_low_ma = min(s.raise_low_ma)
        self.raise_high_ma = max(s.raise_high_ma)
        self.lower_low_ma = min(s.lower_low_ma)
        self.lower_high_ma = max(s.lower_high_ma)

    def sample(self, dt_ms: int, current_ma: int) -> int:
        """Take this pass's value; return SAMPLES_STALLED once none was fresh for 60 ms."""
        if current_ma == NO_SAMPLE:
            if self.stalled_ms <= STALLED_MS:
                self.stalled_ms += dt_ms
        else:
            self.stalled_ms = 0
            self.value_ma = current_ma
        return SAMPLES_STALLED if self.stalled() else NO_FAULT

    def stalled(self) -> bool:
        """Tell whether no fresh sample came for 60 ms."""
        return self.stalled_ms > STALLED_MS

    def at_rest(self, dt_ms: int) -> int:
        """Judge a pass with the motor not energised."""
        self.over_ms = 0
        self.wrong_ms = 0
        self.missing_ms = 0
        self.band_ms = 0
        self.jam_ms = 0
        self.under_ms = 0
        if self.rest_ms < AT_REST_MS:
            self.rest_ms += dt_ms
            return NO_FAULT
        if not -self.rest_ma <= self.value_ma <= self.rest_ma:
            if self.rest_over_ms < REST_OVER_MS:
                self.rest_over_ms += dt_ms
                return NO_FAULT
            return CURRENT_AT_REST
        self.rest_over_ms = 0
        return NO_FAULT

    def forget(self) -> None:
        """Start the timed proofs again."""
        self.rest_ms = 0
        self.rest_over_ms = 0
        self.stalled_ms = 0

    def energised(self, dt_ms: int, way: int, run_ms: int, bucket: int) -> int:
        """Judge a pass with the motor energised and return a candidate fault.

        run_ms: since the line contactor was commanded. bucket: part of the travel,
        or -1 with the position unknown.
        """
        s = self.s
        self.rest_ms = 0
        self.rest_over_ms = 0
        value = self.value_ma
        size = value if value >= 0 else -value
        if s.current_signed and way != RAISE:
            value = -value
        limit = s.trip_ma if run_ms > s.inrush_ms else s.inrush_trip_ma
        if size > limit:
            self.over_ms += dt_ms
            if self.over_ms >= s.trip_ms:
                self.over_ms = s.trip_ms
                return CURRENT_TRIP
        else:
            self.over_ms = 0
        missing = s.missing_raise_ma if way == RAISE else s.missing_lower_ma
        fault = NO_FAULT
        in_band = value <= s.run_max_ma and (not missing or value >= missing)
        if not in_band:
            self.band_ms = 0
        elif self.band_ms < BAND_MS:
            self.band_ms += dt_ms
            in_band = False  # not long enough yet
        # The account of energised time that did not reach the running band.
        if in_band:
            self.blocked_ms = 0
        elif self.blocked_ms < BLOCKED_MS:
            self.blocked_ms += dt_ms
        else:
            fault = BLOCKED
        if run_ms <= s.inrush_ms:
            return fault
        if value < missing or self.missing_ms or self.wrong_ms:
            running = self._running(dt_ms, way, value, missing)
            if running and (not fault or running < fault):
                fault = running
        if s.envelope_learned and not fault:
            fault = self._envelope(dt_ms, way, value, bucket)
        return fault

    def _running(self, dt_ms: int, way: int, value: int, missing: int) -> int:
        """Judge a value below what a running motor takes, or clear what such values left."""
        s = self.s
        if s.current_signed and value < -s.wrong_ma and (way == RAISE or s.lower_drives):
            self.wrong_ms += dt_ms
            if self.wrong_ms >= WRONG_WAY_MS:
                self.wrong_ms = WRONG_WAY_MS
                return CURRENT_WRONG_WAY
        else:
            self.wrong_ms = 0
        if missing and value < missing:
            self.missing_ms += dt_ms
            if self.missing_ms >= MISSING_MS:
                self.missing_ms = MISSING_MS
                return CURRENT_MISSING
        else:
            self.missing_ms = 0
        return NO_FAULT

    def _envelope(self, dt_ms: int, way: int, value: int, bucket: int) -> int:
        s = self.s
        if bucket < 0 or bucket >= BUCKETS:
            low = self.raise_low_ma if way == RAISE else self.lower_low_ma
            high = self.raise_high_ma if way == RAISE else self.lower_high_ma
        elif way == RAISE:
            low = s.raise_low_ma[bucket]
            high = s.raise_high_ma[bucket]
        else:
            low = s.lower_low_ma[bucket]
            high = s.lower_high_ma[bucket]
        if value > high + s.jam_margin_ma:
            self.jam_ms += dt_ms
            if self.jam_ms >= s.jam_ms:
                self.jam_ms = s.jam_ms
                return JAM
        else:
            self.jam_ms = 0
        if value < low - s.under_margin_ma:
            self.under_ms += dt_ms
            if self.under_ms >= s.under_ms:
                self.under_ms = s.under_ms
                return UNDERLOAD
        else:
            self.under_ms = 0
        return NO_FAULT

    def grant_start(self) -> None:
        """Leave the blocked account room for one start, as after power-up."""
        if self.blocked_ms > self.boot_ms:
            self.blocked_ms = self.boot_ms

    def boot_blocked(self, kept_ms: int) -> None:
        """Take over the stored account, but never less than the power-up value."""
        if kept_ms > self.blocked_ms:
            self.blocked_ms = kept_ms if kept_ms < BLOCKED_MS else BLOCKED_MS
