"""How near one run came to each requirement: the same monitors, read as numbers.

A requirement is either kept or broken; how near it came is what an engineer asks next.
Every number here is an account of the monitors themselves, so that a plot and a verdict
can't disagree.
"""

from dataclasses import dataclass

from leafwinch.fault_texts import FAULTS
from leafwinch.requirement_limits import R1_OFF_MS, R1_OVERRUN_MM, R3_PAUSE_MS, R9_HUNG_OFF_MS
from leafwinch.settings_schema import settings_from
from leafwinch.state_texts import WARNINGS
from leafwinch_sim.bench import Bench
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.observation import Observation
from leafwinch_sim.requirements_motion import LONG_MS, Motion
from leafwinch_sim.requirements_starts import BLIP_MS, Starts
from leafwinch_sim.requirements_times import Times
from leafwinch_sim.site_schema import Site

AT_MOST, AT_LEAST = "at most", "at least"
STILL_MM = 0.5  # the free end counts as standing still within this
SOON_MS = 200  # a fault latched so soon after the motor went off is what switched it off

Limit = tuple[str, float] | None


@dataclass(frozen=True, slots=True)
class Measure:
    """One number that tells how near a requirement is to being broken.

    Attributes:
        key: short name, unique.
        requirement: R1 to R11.
        words: what is measured.
        unit: of value and limit.
    """

    key: str
    requirement: str
    words: str
    unit: str


MEASURES = (
    Measure("run_on", "R1", "from the release to motor and brake coil off", "ms"),
    Measure("overrun", "R1", "way of the free end from the release to standstill", "mm"),
    Measure("buffer", "R2", "force on the buffer at the top", "kN"),
    Measure("paid_out", "R2", "rope paid out beyond the flat deck", "mm"),
    Measure("pause", "R3", "pause between one direction and the other", "ms"),
    Measure("unasked", "R4", "motor fed in a start without neutral before", "ms"),
    Measure("latching", "R5", "from the motor switched off to the cause latched", "ms"),
    Measure("unnoticed", "R6", "motor fed with the defect there until it was noticed", "s"),
    Measure("travel", "R7", "motor fed one way since the opposite end", "s"),
    Measure("overcurrent", "R8", "motor fed with a current above the trip level", "ms"),
    Measure("hung", "R9", "line contactor closed with the controller hung", "ms"),
    Measure("healthy", "R10", "full travel with nothing wrong, longer of both", "s"),
    Measure("fall", "R11", "way of the free end with the motor off", "mm"),
)
BY_KEY = {measure.key: measure for measure in MEASURES}
WITHOUT_CONTROLLER = ("run_on", "overrun", "buffer", "paid_out", "healthy", "fall")


def limits_of(site: Site) -> dict[str, Limit]:
    """Return the limit of each measure on a site, None where there is none to keep.

    The limits of R7 and R8 are those of the monitors: the settings, and what sensor, pump
    and contactor may add.
    """
    times = Times(settings_from(site.settings))
    longest_ms = max(times.up_max_ms, times.down_max_ms)
    return {
        "run_on": (AT_MOST, R1_OFF_MS),
        "overrun": (AT_MOST, R1_OVERRUN_MM),
        "buffer": (AT_MOST, site.buffer.rated_force / 1000.0),
        "paid_out": (AT_MOST, site.allowed.bottom_slack * 1000.0),
        "pause": (AT_LEAST, R3_PAUSE_MS),
        "unasked": (AT_MOST, BLIP_MS),
        "latching": None,
        "unnoticed": None,
        "travel": (AT_MOST, longest_ms / 1000.0),
        "overcurrent": (AT_MOST, times.over_max_ms),
        "hung": (AT_MOST, R9_HUNG_OFF_MS),
        "healthy": (AT_MOST, longest_ms / 1000.0),
        "fall": None,
    }


@dataclass(frozen=True, slots=True)
class Reading:
    """The worst value of one measure in a run.

    Attributes:
        value: in the unit of the measure.
        from_ms, t_ms: bench times between which it arose.
        rank: of equal values the one of the highest rank tells most.
    """

    value: float
    from_ms: int
    t_ms: int
    rank: float = 0.0


def fault_sign(fault: int) -> str:
    """Return how the proof words a fault that showed a defect."""
    return f"fault {fault}: {FAULTS[fault - 1][0].replace('_', ' ')}"


def warning_sign(warning: int) -> str:
    """Return how the proof words a warning that showed a defect."""
    return f"warning: {WARNINGS[warning][0].replace('_', ' ')}"


def _nothing(_name: str, _text: str) -> None:
    """Take no note of a break: the run's own monitors do."""


class Meter:
    """Watches one run and keeps the worst reading of each measure.

    Args:
        site: what is installed.
        controlled: whether the wiring has a controller.
        defect_ms: bench time at which the defect comes, or None with nothing wrong.
        found: how the proof found it, such as "fault 26: current trip"; the script itself
            makes other faults and warnings, which are no sign of the defect.

    `observe` is an observer for `leafwinch_sim.run.run_script`.
    """

    def __init__(
        self, site: Site, controlled: bool, defect_ms: int | None = None, found: str = ""
    ) -> None:
        self.readings: dict[str, Reading] = {}
        self.controlled = controlled
        self.defect_ms = defect_ms
        self.begin_ms = defect_ms or 0
        self.begun = False
        self.found = found
        self.motion = Motion(site)
        self.starts = Starts()
        self.times = Times(settings_from(site.settings))
        self.noticed = not found
        self.warnings = 0
        self.fault = 0
        self.fed_ms = 0
        self.off_t_ms = -LONG_MS
        self.was_fed = 0
        self.released_t_ms = 0
        self.rest_t_ms = 0
        self.off_m = -1.0  # free end when the motor was last fed
        self.account_t_ms = {1: 0, -1: 0}
        self.refused_ms = 0
        self.flat_t_ms = 0  # when the rope was last no longer than with a flat deck

    def observe(self, _bench: Bench, o: Observation) -> None:
        """Take in one step."""
        fed = o.powered_any
        if not self.begun and o.t_ms > self.begin_ms:
            self._begin()
        other_ms = self._other_ms(fed)
        worst_mm = self.motion.worst_overrun_mm
        measuring = self.motion.measuring
        self.motion.step(o, fed, _nothing)
        self._way(o, fed, worst_mm, measuring)
        if self.motion.wrong_ms:
            self._keep("run_on", self.motion.worst_release_ms, o.t_ms, self.motion.wrong_ms)
        # A buffer that was never touched is drawn where the deck came nearest to it.
        self._keep("buffer", o.buffer_force_n / 1000.0, o.t_ms, 0, o.angle_deg)
        beyond_mm = (o.rope_out_m - self.motion.flat_m) * 1000.0
        if beyond_mm <= 0.0:
            self.flat_t_ms = o.t_ms
        self._keep("paid_out", beyond_mm, o.t_ms, o.t_ms - self.flat_t_ms)
        self.times.step(o, fed, _nothing)
        self._travel(o, fed)
        if self.controlled:
            self._controller(o, fed, other_ms)
        if self.was_fed and not fed:
            self.off_t_ms = o.t_ms
        self.was_fed = fed

    def _begin(self) -> None:
        """Forget what came before the defect: that was the healthy run."""
        self.begun = True
        self.motion.worst_release_ms = 0
        self.motion.worst_overrun_mm = 0.0
        self.readings.clear()

    def _keep(self, key: str, value: float, t_ms: int, lasted_ms: int, rank: float = 0.0) -> None:
        """Keep a value where it is the highest so far; 0 counts only where it has a rank."""
        known = self.readings.get(key)
        before = (0.0, 0.0) if known is None else (known.value, known.rank)
        if (value, rank) > before:
            self.readings[key] = Reading(value, t_ms - lasted_ms, t_ms, rank)

    def _way(self, o: Observation, fed: int, worst_mm: float, measuring: int) -> None:
        motion = self.motion
        if motion.measuring and not measuring:
            self.released_t_ms = o.t_ms
        if motion.worst_overrun_mm > worst_mm:
            self._keep("overrun", motion.worst_overrun_mm, o.t_ms, o.t_ms - self.released_t_ms)
        if fed or self.off_m < 0.0:
            self.off_m = o.free_end_m
        moved_mm = abs(o.free_end_m - self.off_m) * 1000.0
        if moved_mm < STILL_MM:
            self.rest_t_ms = o.t_ms
        self._keep("fall", moved_mm, o.t_ms, o.t_ms - self.rest_t_ms)

    def _travel(self, o: Observation, fed: int) -> None:
        times = self.times
        for way, account_ms in ((1, times.up_ms), (-1, times.down_ms)):
            if account_ms == 0:
                self.account_t_ms[way] = o.t_ms
            if fed == way:
                began_ms = o.t_ms - self.account_t_ms[way]
                self._keep("travel", account_ms / 1000.0, o.t_ms, began_ms)
                if self.defect_ms is None:
                    self._keep("healthy", account_ms / 1000.0, o.t_ms, began_ms)

    def _controller(self, o: Observation, fed: int, other_ms: int) -> None:
        starts, times = self.starts, self.times
        starts.step(o, fed, _nothing)
        if 0 < other_ms < LONG_MS:
            known = self.readings.get("pause")
            if known is None or other_ms < known.value:
                self.readings["pause"] = Reading(other_ms, o.t_ms - other_ms, o.t_ms)
        self._unasked(o, fed)
        self._keep("overcurrent", times.over_ms, o.t_ms, times.over_ms)
        if o.hung and o.line_pulled:
            self._keep("hung", times.hung_ms, o.t_ms, times.hung_ms)
        if o.hung or not o.board_on:
            self.off_t_ms = -LONG_MS  # what is latched after this is about the board
        new = o.fault and o.fault != self.fault
        if new and 0 <= o.t_ms - self.off_t_ms < SOON_MS:
            # Switched off within the step counts as half a step at least, since 0 is no reading.
            self._keep(
                "latching", max(o.t_ms - self.off_t_ms, STEP_MS), o.t_ms, o.t_ms - self.off_t_ms
            )
        self._unnoticed(o, fed)
        self.fault = o.fault
        self.warnings = o.warnings

    def _unasked(self, o: Observation, fed: int) -> None:
        """Without any such start, keep how long one was asked for and refused."""
        waits = o.asked and not fed and not self.starts.armed and o.board_on
        self.refused_ms = self.refused_ms + STEP_MS if waits else 0
        unarmed_ms = self.starts.unarmed_ms
        self._keep("unasked", unarmed_ms, o.t_ms, unarmed_ms or self.refused_ms, self.refused_ms)

    def _unnoticed(self, o: Observation, fed: int) -> None:
        """Count the time fed from the coming of the defect to its fault or warning."""
        begin_ms = self.defect_ms
        if begin_ms is None or self.noticed or o.t_ms <= begin_ms:
            return
        if fed:
            self.fed_ms += STEP_MS
        sign = ""
        if o.fault and o.fault != self.fault:
            sign = fault_sign(o.fault)
        elif o.warnings != self.warnings:
            sign = warning_sign(o.warning)
        if sign == self.found:
            self.noticed = True
            self._keep("unnoticed", self.fed_ms / 1000.0, o.t_ms, o.t_ms - begin_ms)

    def _other_ms(self, fed: int) -> int:
        """Return for how long the other direction has not been fed, 0 where this isn't a start."""
        if not fed or fed == 2 or fed == self.was_fed:
            return 0
        starts = self.starts
        since_ms = starts.lowered_ms if fed == 1 else starts.raised_ms
        mine_ms = starts.raised_ms if fed == 1 else starts.lowered_ms
        return since_ms if since_ms < mine_ms else 0
