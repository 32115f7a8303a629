"""R7, R8 and R9: the travel budget, the trip times and a hung controller."""

from leafwinch.requirement_limits import R9_HUNG_OFF_MS
from leafwinch.settings import Settings
from leafwinch.signals import SERVICE_LINK
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.observation import Observation
from leafwinch_sim.requirements_motion import LONG_MS, Report

SENSOR_MS = 20  # one mains cycle of the current signal
SENSOR_SHARE = 1.02  # 2 % of reading and 0.5 % of range belong to the sensor
SENSOR_RANGE_SHARE = 0.005
OFF_MS = 200  # cause found, pump discharged, contactor released


class Times:
    """Keeps its own accounts of energised time and of overcurrent, from the facts alone."""

    FIELDS = (
        "up_ms",
        "down_ms",
        "up_link",
        "down_link",
        "fed_ms",
        "gap_ms",
        "over_ms",
        "hung_ms",
        "level_a",
        "steady_way",
    )
    __slots__ = (
        *FIELDS,
        "down_max_ms",
        "extra_ms",
        "inrush_a",
        "inrush_ms",
        "over_max_ms",
        "trip_a",
        "up_max_ms",
    )

    def __init__(self, settings: Settings) -> None:
        self.up_ms = 0  # fed to raise since the bottom end, less what was given back
        self.down_ms = 0
        self.up_link = 0  # 1: the service link was fitted since that end
        self.down_link = 0
        self.fed_ms = 0
        self.gap_ms = LONG_MS
        self.over_ms = 0
        self.hung_ms = 0
        self.steady_way = 0
        self.level_a = 1e9  # the trip level that held in the last step
        free_ms = settings.start_allow_total_ms + OFF_MS
        self.up_max_ms = settings.budget_raise_ms + free_ms
        self.down_max_ms = settings.budget_lower_ms + free_ms
        self.extra_ms = settings.extra_ms
        wrong_a = settings.inrush_trip_ma / 1000.0 * SENSOR_RANGE_SHARE
        self.trip_a = settings.trip_ma / 1000.0 * SENSOR_SHARE + wrong_a
        self.inrush_a = settings.inrush_trip_ma / 1000.0 * SENSOR_SHARE + wrong_a
        self.inrush_ms = settings.inrush_ms
        self.over_max_ms = settings.trip_ms + SENSOR_MS + OFF_MS

    def step(self, o: Observation, fed: int, report: Report) -> None:
        """Judge one step in which the motor is fed, was fed lately, or something changed."""
        if o.hung:
            self.hung_ms += STEP_MS
            if self.hung_ms > R9_HUNG_OFF_MS and o.line_pulled:
                report(
                    "R9",
                    f"the line contactor was still closed {R9_HUNG_OFF_MS} ms after the "
                    "controller had stopped working",
                )
        else:
            self.hung_ms = 0
        if not fed:
            self.gap_ms += STEP_MS
            self.over_ms = 0
            self._at_ends(o)
            return
        if self.gap_ms:
            if self.gap_ms > STEP_MS * 4:
                self.fed_ms = 0
            self.gap_ms = 0
        self.fed_ms += STEP_MS
        self._account(o, report)
        level_a = self.trip_a if self.fed_ms > self.inrush_ms else self.inrush_a
        self.level_a = level_a
        if o.current_a > level_a or o.current_a < -level_a:
            self.over_ms += STEP_MS
            if self.over_ms > self.over_max_ms:
                report(
                    "R8",
                    f"more than {level_a:.1f} A flowed for more than {self.over_max_ms} ms",
                )
        else:
            self.over_ms = 0

    def steady_ms(self, o: Observation) -> int:
        """Return for how long nothing here changes but time, while the motor runs on so."""
        if self.over_ms or self.hung_ms or self.gap_ms or not o.line_pulled:
            return 0
        if self.fed_ms <= self.inrush_ms:
            return 0
        self.steady_way = 1 if o.raise_pulled else -1
        if o.raise_pulled and not o.top_actuated:
            left_ms = self.up_max_ms - self.up_ms
        elif o.lower_pulled and not o.raise_pulled and not o.bottom_actuated:
            left_ms = self.down_max_ms - self.down_ms
        else:
            return 0
        return max(0, left_ms // STEP_MS * STEP_MS)

    def skip(self, skipped_ms: int) -> None:
        """Let time pass in which the motor was fed and nothing else happened."""
        self.fed_ms += skipped_ms
        if self.steady_way == 1:
            self.up_ms += skipped_ms
            self.down_ms = max(0, self.down_ms - skipped_ms)
        else:
            self.down_ms += skipped_ms
            self.up_ms = max(0, self.up_ms - skipped_ms)

    def _at_ends(self, o: Observation) -> None:
        if o.bottom_actuated:
            self.up_ms = 0
            self.up_link = 0
        if o.top_actuated:
            self.down_ms = 0
            self.down_link = 0

    def _account(self, o: Observation, report: Report) -> None:
        link = o.contacts & SERVICE_LINK
        if not o.line_pulled:
            return
        if o.raise_pulled:
            if o.top_actuated:
                self.down_ms = 0
                self.down_link = 0
            elif self.down_ms:
                self.down_ms = max(0, self.down_ms - STEP_MS)
            self.up_ms += STEP_MS
            if link:
                self.up_link = 1
            if self.up_ms > self.up_max_ms + self.extra_ms * self.up_link:
                report("R7", f"the motor was fed to raise for {self.up_ms / 1000:.1f} s in all")
        elif o.lower_pulled:
            if o.bottom_actuated:
                self.up_ms = 0
                self.up_link = 0
            elif self.up_ms:
                self.up_ms = max(0, self.up_ms - STEP_MS)
            self.down_ms += STEP_MS
            if link:
                self.down_link = 1
            if self.down_ms > self.down_max_ms + self.extra_ms * self.down_link:
                report("R7", f"the motor was fed to lower for {self.down_ms / 1000:.1f} s in all")
