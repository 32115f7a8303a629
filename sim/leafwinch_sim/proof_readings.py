"""What a careful person reads off the machine during a script, step by step, and compares."""

from dataclasses import dataclass, field

from leafwinch.fault_texts import FAULTS
from leafwinch.state_texts import WARNINGS
from leafwinch_sim.bench import Bench
from leafwinch_sim.observation import Observation
from leafwinch_sim.step_facts import StepFacts

RUNNING_MS = 400  # readings of the current begin so long after the motor was fed

# A reading differs when it is off by more than these (common practice, no source).
POWERED_RATIO = 0.06
POWERED_MS = 60
CURRENT_RATIO = 0.08
PEAK_RATIO = 0.05
SHOWN_RATIO = 0.12
SHOWN_A = 0.15
ANGLE_DEG = 0.5
TURNS = 0.1
SLACK_MM = 20.0
SUPPLY_MV = 1500.0
LIT_RATIO = 0.12
RUN_ON_MM = 3.0  # rope that runs on after the release, on a mark
RUN_ON_RATIO = 0.25
RUN_ON_POWERED_MS = 100  # the motor is fed no longer than this in a step that measures it


@dataclass(slots=True)
class StepReading:
    """Readings of one step of a script beside its facts. Shares are of its duration."""

    facts: StepFacts = field(default_factory=StepFacts)
    state: int = -1
    steps: int = 0
    running: int = 0
    current_a: float = 0.0
    shown_a: float = 0.0
    peak_a: float = 0.0
    from_rope_m: float = -1.0
    rope_m: float = 0.0
    supply_mv: float = 0.0
    angle_deg: float = 0.0
    turns: float = 0.0
    slack_mm: float = 0.0
    lit: list[float] = field(default_factory=list)

    def read(self, o: Observation, warned: bool, lamps: tuple[float, ...]) -> None:
        """Take in one step of 5 ms with the lamps' voltages."""
        self.facts.add(o, warned)
        self.steps += 1
        self.state = o.state if o.board_on else -1
        if o.powered_any and self.facts.powered_ms > RUNNING_MS:
            self.running += 1
            self.current_a += abs(o.current_a)
            self.shown_a += abs(o.current_ma) / 1000.0
            self.peak_a = max(self.peak_a, abs(o.current_a))
        if self.from_rope_m < 0.0:
            self.from_rope_m = o.rope_out_m
        self.rope_m = o.rope_out_m
        self.supply_mv += o.supply_mv
        self.angle_deg = o.angle_deg
        self.turns = o.drum_turns
        self.slack_mm = o.slack_mm
        if not self.lit:
            self.lit = [0.0] * len(lamps)
        for index, ratio in enumerate(lamps):
            if ratio > 0.5:
                self.lit[index] += 1.0


def take_readings(bench: Bench) -> list[StepReading]:
    """Play the bench's script to its end and return the readings of every step."""
    readings = [StepReading() for _ in bench.operator.script.steps]
    warnings = 0
    while not bench.operator.done():
        index = bench.operator.index
        o = bench.step()
        readings[index].read(o, o.warnings > warnings, bench.sol.lamp_ratio)
        warnings = o.warnings
    return readings


def first_difference(healthy: list[StepReading], found: list[StepReading]) -> str:
    """Return in words the first reading that is off, or an empty text."""
    for number, (ours, theirs) in enumerate(zip(healthy, found, strict=True), 1):
        words = _difference(ours, theirs)
        if words:
            return f"step {number}: {words}"
    return ""


def _difference(ours: StepReading, theirs: StepReading) -> str:
    for fault in sorted(theirs.facts.faults ^ ours.facts.faults):
        name = FAULTS[fault - 1][0].replace("_", " ")
        return (
            f"fault {fault} ({name}) {'came' if fault in theirs.facts.faults else 'did not come'}"
        )
    for warning in sorted(theirs.facts.warnings ^ ours.facts.warnings):
        name = WARNINGS[warning][0].replace("_", " ")
        came = "came" if warning in theirs.facts.warnings else "did not come"
        return f"warning '{name}' {came}"
    if ours.state != theirs.state:
        return "it ended in another state"
    if not theirs.steps or not ours.steps:
        return "" if theirs.steps == ours.steps else "it took no time or some"
    off_ms = abs(ours.facts.powered_ms - theirs.facts.powered_ms)
    if off_ms > max(POWERED_MS, POWERED_RATIO * ours.facts.powered_ms):
        return f"motor fed for {theirs.facts.powered_ms} ms instead of {ours.facts.powered_ms} ms"
    return _measured(ours, theirs) or _lit(ours, theirs)


def _measured(ours: StepReading, theirs: StepReading) -> str:
    if ours.running and theirs.running:
        was, now = ours.current_a / ours.running, theirs.current_a / theirs.running
        if abs(now - was) > CURRENT_RATIO * was:
            return f"running current {now:.2f} A instead of {was:.2f} A"
        if abs(theirs.peak_a - ours.peak_a) > PEAK_RATIO * ours.peak_a:
            return f"highest running current {theirs.peak_a:.2f} A instead of {ours.peak_a:.2f} A"
        was, now = ours.shown_a / ours.running, theirs.shown_a / theirs.running
        if abs(now - was) > SHOWN_RATIO * was + SHOWN_A:
            return f"current shown {now:.2f} A instead of {was:.2f} A"
    if max(ours.facts.powered_ms, theirs.facts.powered_ms) < RUN_ON_POWERED_MS:
        was, now = _run_on_mm(ours), _run_on_mm(theirs)
        if abs(now - was) > max(RUN_ON_MM, RUN_ON_RATIO * was):
            return f"{now:.0f} mm of rope run on instead of {was:.0f} mm"
    if abs(ours.angle_deg - theirs.angle_deg) > ANGLE_DEG:
        return f"it stands at {theirs.angle_deg:.1f} degrees instead of {ours.angle_deg:.1f}"
    if abs(ours.turns - theirs.turns) > TURNS:
        return f"drum mark at {theirs.turns:.2f} turns instead of {ours.turns:.2f}"
    if abs(ours.slack_mm - theirs.slack_mm) > SLACK_MM:
        return f"{theirs.slack_mm:.0f} mm of rope hang loose"
    was, now = ours.supply_mv / ours.steps, theirs.supply_mv / theirs.steps
    if abs(now - was) > SUPPLY_MV:
        return f"control supply {now / 1000:.1f} V instead of {was / 1000:.1f} V"
    return ""


def _run_on_mm(reading: StepReading) -> float:
    return abs(reading.rope_m - reading.from_rope_m) * 1000.0


def _lit(ours: StepReading, theirs: StepReading) -> str:
    for index, (was, now) in enumerate(zip(ours.lit, theirs.lit, strict=True)):
        was_share, now_share = was / ours.steps, now / theirs.steps
        if abs(was_share - now_share) > LIT_RATIO:
            return (
                f"signal {index + 1} was on for {now_share:.0%} of the time instead of "
                f"{was_share:.0%}"
            )
    return ""
