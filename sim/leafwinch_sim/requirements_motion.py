"""R1, R2 and R11: motion only as asked, never past an end, and motion without any power."""

from collections.abc import Callable

from leafwinch.requirement_limits import R1_OFF_MS, R1_OVERRUN_MM
from leafwinch.signals import BOTTOM_FINAL, STOP_OK, TOP_FINAL
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.observation import Observation
from leafwinch_sim.plant import Plant
from leafwinch_sim.site_schema import Site

Report = Callable[[str, str], None]

DEAD_A = 0.05  # less motor current than this counts as none
CALM_MS = 1000  # pulses of power that follow each other within this add up
COAST_MS = 500  # motion that begins later after the motor was cut is gravity's
LONG_MS = 60_000  # counters stop here

_CUTS = STOP_OK | TOP_FINAL | BOTTOM_FINAL
_NOTHING, _RELEASED, _CUT = 0, 1, 2
WAY_WORDS = {1: "to raise", -1: "to lower", 2: "without a direction"}


class Motion:
    """Follows the motor's feed against the control, the ends, and the deck at rest."""

    FIELDS = (
        "way",
        "unfed_ms",
        "wrong_ms",
        "calm_ms",
        "stopping",
        "stop_ms",
        "stop_from_m",
        "from_m",
        "from_rope_m",
        "measuring",
        "rest_m",
        "contacts",
        "driven_past",
        "worst_overrun_mm",
        "worst_rope_overrun_mm",
        "worst_reaction_ms",
        "worst_release_ms",
        "worst_stop_mm",
        "worst_drop_mm",
    )
    __slots__ = (*FIELDS, "dead_wraps", "flat_m", "longest_m", "rated_n")

    def __init__(self, site: Site) -> None:
        self.way = 0  # in which the motor is fed, or was last
        self.unfed_ms = LONG_MS
        self.wrong_ms = 0
        self.calm_ms = 0
        self.stopping = _NOTHING
        self.stop_ms = 0
        self.stop_from_m = -1.0  # free end when the stop began, until it stands still
        self.from_m = 0.0  # free end and rope when the control was released
        self.from_rope_m = 0.0
        self.measuring = 0
        self.rest_m = -1.0  # free end once the coasting was over
        self.contacts = 0
        self.driven_past = 0  # 1: an end was passed under power
        self.worst_overrun_mm = 0.0
        self.worst_rope_overrun_mm = 0.0
        self.worst_reaction_ms = 0
        self.worst_release_ms = 0  # until motor and brake coil were off, whatever the brake does
        self.worst_stop_mm = 0.0
        self.worst_drop_mm = 0.0
        self.rated_n = site.buffer.rated_force
        self.dead_wraps = site.drum.dead_wraps
        self.flat_m = Plant(site).rope_out_m
        self.longest_m = self.flat_m + site.allowed.bottom_slack

    def step(self, o: Observation, fed: int, report: Report) -> None:
        """Judge one step in which the motor is fed, was fed lately, or something changed."""
        if fed:
            if fed != self.way:
                # The other way now: what is left of a stop is no overrun any more.
                self.stopping = _NOTHING
                self.stop_from_m = -1.0
            self.way = fed
            self.unfed_ms = 0
            self.rest_m = -1.0
        else:
            self._unfed(o, report)
        way = self.way
        asked = o.asked
        # A motor that is not fed has no way; its brake may be off while any way is asked.
        follows = asked != 0 and (asked == way or way == 2 or not fed)
        if follows and fed:
            self.wrong_ms = 0
            self.measuring = 0
            if self.stopping == _RELEASED:
                self.stopping = _NOTHING
                self.stop_from_m = -1.0
        elif not follows:
            self._not_asked(o, fed, report)
        self._reaction(o, fed, follows)
        if self.stop_from_m >= 0.0:
            stop_mm = abs(o.free_end_m - self.stop_from_m) * 1000.0
            if stop_mm > self.worst_stop_mm:
                self.worst_stop_mm = stop_mm
            if self.unfed_ms >= COAST_MS:
                self.stop_from_m = -1.0
        if self.measuring:
            self._overrun(o, report)

    def quiet(self) -> bool:
        """Tell whether the motor runs as asked and no stop is under way."""
        busy = self.stopping or self.measuring or self.wrong_ms or self.unfed_ms
        return not busy and self.stop_from_m < 0.0

    def ends(self, o: Observation, report: Report) -> None:
        """Judge a step in which an end was passed; R2 under power, R11 without."""
        if self.unfed_ms < COAST_MS:
            self.driven_past = 1
        name = "R2" if self.driven_past else "R11"
        if o.buffer_force_n > self.rated_n:
            report(
                name,
                f"the top buffer was pressed with {o.buffer_force_n:.0f} N; "
                f"allowed are {self.rated_n:.0f} N",
            )
        if o.rope_out_m > self.longest_m:
            report(
                name,
                f"{(o.rope_out_m - self.flat_m) * 1000:.0f} mm more rope was paid out than the "
                f"flat deck needs; allowed are {(self.longest_m - self.flat_m) * 1000:.0f} mm",
            )
        if o.drum_turns < 0.0:
            report(name, "the rope was wound onto the drum backwards")
        elif o.drum_turns < self.dead_wraps:
            report(
                name,
                f"{o.drum_turns:.1f} turns were left on the drum; the {self.dead_wraps:g} dead "
                "wraps must stay",
            )

    def _unfed(self, o: Observation, report: Report) -> None:
        if self.unfed_ms < LONG_MS:
            self.unfed_ms += STEP_MS
        if self.unfed_ms < COAST_MS:
            return
        if self.rest_m < 0.0:
            self.rest_m = o.free_end_m
            return
        drop_mm = abs(o.free_end_m - self.rest_m) * 1000.0
        if drop_mm > self.worst_drop_mm:
            self.worst_drop_mm = drop_mm
            if drop_mm > R1_OVERRUN_MM:
                report(
                    "R11",
                    f"with everything off the free end moved by more than {R1_OVERRUN_MM} mm",
                )

    def _not_asked(self, o: Observation, fed: int, report: Report) -> None:
        """Count power that the control does not ask for, brief pulses added up."""
        if not fed and not o.brake_fed and abs(o.current_a) < DEAD_A:
            if self.calm_ms < CALM_MS:
                self.calm_ms += STEP_MS
            else:
                self.wrong_ms = 0
            return
        self.calm_ms = 0
        if not self.measuring and fed:
            self.measuring = 1
            self.from_m = o.free_end_m
            self.from_rope_m = o.rope_out_m
        self.wrong_ms += STEP_MS
        if self.wrong_ms > self.worst_release_ms:
            self.worst_release_ms = self.wrong_ms
        if self.wrong_ms > R1_OFF_MS:
            what = f"the motor was fed {WAY_WORDS[self.way]}" if fed else "the brake was kept off"
            report(
                "R1",
                f"{what} for more than {R1_OFF_MS} ms while the control did not ask for it",
            )

    def _reaction(self, o: Observation, fed: int, follows: bool) -> None:
        """Time from release, limit, stop or final to no current and the brake set."""
        opened = self.contacts & ~o.contacts & _CUTS
        self.contacts = o.contacts
        if not self.stopping:
            if not fed:
                return
            limit = o.top_actuated if self.way == 1 else self.way == -1 and o.bottom_actuated
            if opened or limit:
                self.stopping = _CUT
            elif not follows:
                self.stopping = _RELEASED
            else:
                return
            self.stop_ms = 0
            self.stop_from_m = o.free_end_m
        if not fed and o.brake_set and abs(o.current_a) < DEAD_A:
            if self.stop_ms > self.worst_reaction_ms:
                self.worst_reaction_ms = self.stop_ms
            self.stopping = _NOTHING
        elif self.stop_ms < LONG_MS:
            self.stop_ms += STEP_MS

    def _overrun(self, o: Observation, report: Report) -> None:
        """Measure the way from the release to standstill, while the motor may still drive it."""
        free_mm = abs(o.free_end_m - self.from_m) * 1000.0
        rope_mm = abs(o.rope_out_m - self.from_rope_m) * 1000.0
        if rope_mm > self.worst_rope_overrun_mm:
            self.worst_rope_overrun_mm = rope_mm
        if free_mm > self.worst_overrun_mm:
            self.worst_overrun_mm = free_mm
            if free_mm > R1_OVERRUN_MM:
                report(
                    "R1",
                    f"the free end went on by more than {R1_OVERRUN_MM} mm after the release",
                )
        if self.unfed_ms >= COAST_MS:
            self.measuring = 0
