"""What a person with eyes, ears and meters finds at a virtual installation."""

import math
from collections import deque

from leafwinch.signals import LOWER_OFF, RAISE_OFF
from leafwinch_host.commissioning.sized import pull_deg
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_layout import LIMIT_PARTS
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.proof_tests import ProofBench
from leafwinch_wiring.defect_types import WiringDefect

WHITE, RED, BUZZER = 0, 1, 2
WATCHED_MS = 14_000  # long enough for two rounds of the red lamp's code
PAUSE_MS = 1500  # between two rounds
LONG_MS = 450  # a flash that is longer is a long one
DARK, DIM = 0.05, 0.6  # shares of the time that a lamp is lit
NEUTRAL = RAISE_OFF | LOWER_OFF
LIMIT_UNITS = {"leaf_angle": "deg", "drum_turns": "turn", "rope_slack": "mm"}
TURNING = 1.0  # rad/s of the motor: it runs


class Eyes:
    """Looks at a bench every 5 ms and remembers what a person would have noted.

    Attributes:
        running_a: last current of the running motor, as a clamp meter shows it.
        least_v: lowest supply voltage at the motor since its last start.
        pulls_n: pull at the rope's fixed end, raising (1) and lowering (-1), when the deck last
            passed the angle at which commissioning reads it.
        heard_ms: when the buzzer last sounded; below 0: never.
    """

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.running_a = 0.0
        self.least_v = self.volts()
        self.pulls_n = {1: 0.0, -1: 0.0}
        self.heard_ms = -1
        self.lit: deque[tuple[bool, ...]] = deque(maxlen=WATCHED_MS // STEP_MS)
        self._pull_deg = pull_deg(bench.site)
        self._released = self._ended = self._places()
        self._turns = self._last_turns = 0.0
        self._neutral = self._at_end = True
        self._fed = False

    def see(self) -> None:
        """Look once; to be called every 5 ms."""
        bench = self.bench
        ratios = bench.sol.lamp_ratio
        self.lit.append(tuple(ratio > 0.5 for ratio in ratios))
        if ratios[BUZZER] > 0.5:
            self.heard_ms = bench.t_ms
        self._see_motor()
        neutral = bench.sol.inputs & NEUTRAL == NEUTRAL
        if neutral and not self._neutral:
            self._released = self._places()
        self._neutral = neutral
        at_end = bench.limit_actuated("top_end") or bench.limit_actuated("bottom_end")
        if at_end and not self._at_end:
            self._ended = self._places()
        self._at_end = at_end

    def _see_motor(self) -> None:
        plant = self.bench.plant
        fed = bool(plant.current_a)
        if fed and not self._fed:
            self.least_v = self.volts()
            self._turns = abs(plant.winch.turns)
        self._fed = fed
        if not fed:
            return
        self.least_v = min(self.least_v, self.volts())
        self._last_turns = abs(plant.winch.turns)
        if abs(plant.motor_rad_s) < TURNING:
            return
        self.running_a = abs(plant.current_a)
        if abs(math.degrees(plant.angle_rad) - self._pull_deg) < 0.1:
            # The moving sheave leaves the fixed end less while raising, more while lowering.
            factor = plant.rope.sheave_factor
            up = plant.motor_rad_s > 0.0
            part = 2.0 / (1.0 + factor) if up else 2.0 * factor / (1.0 + factor)
            self.pulls_n[1 if up else -1] = plant.rope.tension_n * part

    def volts(self) -> float:
        """Return the motor's supply voltage, in V."""
        winch = self.bench.plant.winch
        return float(self.bench.site.supply.voltage * winch.supply_ratio)

    def overrun_mm(self, at_end: bool) -> float:
        """Return how far the deck's fastest point has gone on since the release, or a limit."""
        marks = self._ended if at_end else self._released
        return max(abs(a - b) for a, b in zip(marks, self._places(), strict=True))

    def wound(self) -> float:
        """Return the turns of rope wound on since the last start; below 0: wound off."""
        return self._last_turns - self._turns

    def white_lamp(self) -> str:
        """Return 'dark', 'dim' or 'bright'."""
        share = sum(row[WHITE] for row in self.lit) / max(1, len(self.lit))
        return "dark" if share < DARK else "dim" if share < DIM else "bright"

    def red_code(self) -> tuple[int, int]:
        """Count the long and short flashes between two long pauses, as a person does."""
        runs: list[tuple[bool, int]] = []
        for row in self.lit:
            if runs and runs[-1][0] == row[RED]:
                runs[-1] = (row[RED], runs[-1][1] + STEP_MS)
            else:
                runs.append((row[RED], STEP_MS))
        pauses = [place for place, (lit, ms) in enumerate(runs) if not lit and ms > PAUSE_MS]
        if len(pauses) < 2:
            return (0, 0)
        flashes = [ms for lit, ms in runs[pauses[-2] : pauses[-1]] if lit]
        return sum(ms > LONG_MS for ms in flashes), sum(ms <= LONG_MS for ms in flashes)

    def both_in(self) -> bool:
        """Tell whether both direction contactors go in when they are pushed by hand."""
        return any(armature.interlock_lost for armature in self.bench.armatures)

    def interlock_closed(self) -> bool:
        """Tell whether an interlock contact stays closed with its contactor pushed in."""
        ids = [str(getattr(defect, "id", "")) for defect in self.bench.defects]
        return any(".interlock:stuck-closed" in name for name in ids)

    def operating_points(self) -> dict[str, str]:
        """Move each limit by hand, the machine isolated; return where it operates, or 'none'."""
        bench = self.bench
        own = [
            defect
            for defect in bench.defects
            if isinstance(defect, PlantDefect | WiringDefect) and defect.part in LIMIT_PARTS
        ]
        found = ProofBench(bench.site, bench.net, 1).operating_points(own[0] if own else None)
        told = {}
        for name in bench.limits:
            limit = getattr(bench.site.limits, name)
            if limit is not None:
                unit = LIMIT_UNITS[limit.senses]
                told[name] = f"{found[name]:.3f} {unit}" if name in found else "none"
        return told

    def look(self) -> str:
        """Return all that can be seen at once, in words."""
        red = self.red_code()
        flashes = f"{red[0]} long {red[1]} short" if red != (0, 0) else "no code"
        ago_s = (self.bench.t_ms - self.heard_ms) / 1000
        heard = f"heard {ago_s:.0f} s ago" if self.heard_ms >= 0 else "never heard"
        angle = math.degrees(self.bench.plant.angle_rad)
        return "; ".join(
            (
                f"deck at {angle:.1f} deg",
                f"red lamp {flashes}, white {self.white_lamp()}, buzzer {heard}",
                f"clamp meter, motor last running {self.running_a:.2f} A",
                f"motor supply {self.volts():.1f} V, lowest since the last start "
                f"{self.least_v:.1f} V",
                f"overrun {self.overrun_mm(False):.1f} mm since the control was let go, "
                f"{self.overrun_mm(True):.1f} mm since an end was reached",
                f"drum wound {self.wound():+.2f} turns since the last start",
                f"rope pull at {self._pull_deg:g} deg: raising {self.pulls_n[1]:.1f} N, lowering "
                f"{self.pulls_n[-1]:.1f} N",
            )
        )

    def _places(self) -> tuple[float, float]:
        """Return free end and mid hinge along their ways, in mm."""
        plant = self.bench.plant
        leaf = self.bench.site.deck.leaf_a.length
        return (plant.free_end_m * 1000, leaf * plant.angle_rad * 1000)
