"""The motor: its current, its temperature, its duty."""

from collections.abc import Mapping, Sequence

from leafwinch_sim.reference_model.timing import Clock

AT_REST = 24
STALLED = 25
TRIP = 26
WRONG_WAY = 27
MISSING = 28
BLOCKED = 29
JAM = 30
UNDERLOAD = 31
TOO_HOT = 36
TOO_BUSY = 37

STALE = -536870912  # a current of this value means that no fresh sample came
STALLED_MS = 60.0
REST_AFTER_MS = 500.0
REST_OVER_MS = 200.0
WRONG_MS = 100.0
MISSING_MS = 200.0
BAND_MS = 60.0
BLOCKED_MS = 2000.0
BOOT_START_MS = 200.0
BUCKETS = 16

LOAD_MAX = 64.0  # square of eight times the base current
PERIOD_MS = 100.0
DUTY_RESTART = 0.8
UNCERTAIN = 0.005  # share of a thermal limit within which a float model has no opinion


class CurrentRules:
    """One current value a pass; each limit has a time for which it must be broken."""

    def __init__(
        self, s: Mapping[str, int], envelope: Sequence[Sequence[int]] | None = None
    ) -> None:
        self.s = s
        zeros = [0] * BUCKETS
        rows = envelope or (zeros, zeros, zeros, zeros)
        self.low = {"raise": rows[0], "lower": rows[2]}
        self.high = {"raise": rows[1], "lower": rows[3]}
        self.value = 0.0
        self.one_start = max(0.0, BLOCKED_MS - s["inrush_ms"] - BOOT_START_MS)
        self.blocked = self.one_start
        self.rest_over = 0.0
        self._stale = 0.0
        self._rest = 0.0
        self._band = 0.0
        self._times: dict[int, float] = {}

    def forget(self) -> None:
        """Start the timed proofs at rest again."""
        self._rest = 0.0
        self.rest_over = 0.0
        self._stale = 0.0

    def sample(self, clock: Clock, current_ma: int) -> None:
        """Take the value of this pass."""
        if current_ma == STALE:
            self._stale += clock.step
        else:
            self._stale = 0.0
            self.value = float(current_ma)

    def stalled(self) -> bool:
        """Tell whether fresh samples are missing."""
        return self._stale > STALLED_MS

    def _lasts(self, fault: int, holds: bool, ms: float, limit_ms: float) -> bool:
        time = self._times.get(fault, 0.0) + ms if holds else 0.0
        self._times[fault] = min(time, limit_ms)
        return holds and time >= limit_ms

    def judge_rest(self, clock: Clock) -> list[int]:
        """Judge a pass with the motor not energised."""
        self._times = {}
        self._band = 0.0
        if self._rest < REST_AFTER_MS:
            self._rest += clock.step
            return []
        if abs(self.value) <= self.s["rest_ma"]:
            self.rest_over = 0.0
            return []
        if self.rest_over >= REST_OVER_MS:
            return [AT_REST]
        self.rest_over += clock.step
        return []

    def judge(self, clock: Clock, way: str, run_ms: float, part: int | None) -> list[int]:
        """Judge an energised pass; part: of the travel, None with the position unknown."""
        s = self.s
        self._rest = 0.0
        self.rest_over = 0.0
        up = way == "raise"
        value = self.value if up or not s["current_signed"] else -self.value
        starting = run_ms <= s["inrush_ms"]
        trip = s["inrush_trip_ma"] if starting else s["trip_ma"]
        if self._lasts(TRIP, abs(value) > trip, clock.step, s["trip_ms"]):
            return [TRIP]
        missing = s["missing_raise_ma"] if up else s["missing_lower_ma"]
        found = self._judge_blocked(clock, value, missing)
        if starting:
            return found
        wrong = s["current_signed"] and value < -s["wrong_ma"] and (up or s["lower_drives"])
        if self._lasts(WRONG_WAY, bool(wrong), clock.step, WRONG_MS):
            return [WRONG_WAY]
        lacks = missing > 0 and value < missing
        if self._lasts(MISSING, lacks, clock.step, MISSING_MS):
            return [MISSING]
        if s["envelope_learned"] and not found:
            found = self._judge_envelope(clock, way if up else "lower", value, part)
        return found

    def allow_one_start(self) -> None:
        """A reset with the service link fitted leaves room for one start."""
        self.blocked = min(self.blocked, self.one_start)

    def _judge_blocked(self, clock: Clock, value: float, missing: int) -> list[int]:
        if value <= self.s["run_max_ma"] and (not missing or value >= missing):
            if self._band >= BAND_MS:
                self.blocked = 0.0
                return []
            self._band += clock.step
        else:
            self._band = 0.0
        if self.blocked >= BLOCKED_MS:
            return [BLOCKED]
        self.blocked += clock.step
        return []

    def _judge_envelope(self, clock: Clock, way: str, value: float, part: int | None) -> list[int]:
        s = self.s
        low = min(self.low[way]) if part is None else self.low[way][part]
        high = max(self.high[way]) if part is None else self.high[way][part]
        if self._lasts(JAM, value > high + s["jam_margin_ma"], clock.step, s["jam_ms"]):
            return [JAM]
        below = value < low - s["under_margin_ma"]
        return [UNDERLOAD] if self._lasts(UNDERLOAD, below, clock.step, s["under_ms"]) else []


class HeatRules:
    """First-order temperature, 1 being the trip, and the account of energised time."""

    def __init__(self, s: Mapping[str, int]) -> None:
        self.base = float(s["thermal_base_ma"])
        self.heats = s["thermal_heat_s"] * 1000.0
        self.cools = s["thermal_cool_s"] * 1000.0
        self.restart = s["thermal_restart_pct"] / 100.0
        self.share = s["duty_pct"] / 100.0
        self.duty_max = float(s["duty_allow_ms"])
        self.level = 1.0  # unknown after power-up: just tripped
        self.duty = 0.0
        self._load = 0.0
        self._time = 0.0
        longest = (max(s["budget_raise_ms"], s["budget_lower_ms"]) // 1000 + 1) * 1000.0
        load = self.load_of(float(s["trip_ma"]))
        worst = 1.0 if longest >= self.heats or load >= 8.0 else load / self.heats * longest
        self.unseen = worst  # what one travel that no record saw could have added

    def load_of(self, amps: float) -> float:
        """Return the square of the current over its base."""
        return min((amps / self.base) ** 2, LOAD_MAX)

    def judge(self, clock: Clock, current: float, energised: bool) -> list[int]:
        """Heat or cool for one pass; return what speaks for a fault."""
        self._load += self.load_of(abs(current)) * clock.step
        self._time += clock.step
        self.duty += clock.step * ((1.0 if energised else 0.0) - self.share)
        self.duty = max(0.0, self.duty)
        if self._time >= PERIOD_MS:
            constant = self.heats if energised else self.cools
            self.level += (self._load / self._time - self.level) * PERIOD_MS / constant
            self._load = 0.0
            self._time = 0.0
        if not energised:
            return []
        if self.level >= 1.0:
            return [TOO_HOT]
        if self.duty >= self.duty_max - 1e-6:
            self.duty = self.duty_max
            return [TOO_BUSY]
        return []

    def too_warm(self) -> bool:
        """Tell whether the motor must cool before the next start."""
        return self.level >= self.restart

    def too_busy(self) -> bool:
        """Tell whether it must rest before the next start."""
        return self.duty >= self.duty_max * DUTY_RESTART - 1e-6

    def uncertain(self) -> bool:
        """Tell whether a limit is too near for this model to be sure."""
        near = (abs(self.level - 1.0), abs(self.level - self.restart))
        return min(near) < UNCERTAIN
