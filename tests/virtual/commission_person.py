"""A person at a virtual board: reads the id of each instruction and acts on the bench.

The hands are a table: instruction id to sentences, one after the other. 'wait S' waits, 'until
NAME' waits for a state, 'past DEGREES' for the deck, everything else is what virtual_hands
understands.
"""

import math
from collections.abc import Callable, Mapping

from leafwinch.signals import LOWER_OFF, RAISE_OFF
from leafwinch.states import FAULT, HELD, IDLE
from leafwinch_sim.bench_layout import LIMIT_PARTS
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.proof_tests import ProofBench
from leafwinch_wiring.defect_types import WiringDefect
from tests.virtual.commission_bench import BenchBoard

GIVE_UP_S = 70.0
RESET = "release; wait 0.6; press reset; wait 2.6; let reset; wait 1"
UP = "raise; until held; wait 1; release; until idle"
DOWN = "lower; until held; wait 1; release; until idle"
BREAK = "defect {0}; wait 1.5; {1}; wait 2; release; wait 0.5; mend {0}"

NOTHING = "wait 0.1"
LATCHED_ALREADY = ("lamps", "control_raise", "control_lower", "top_end", "reset")

HANDS: dict[str, str] = {
    "dead:off": "isolate",
    "motor_off:off_on": "isolate; wait 1; defect W9:cut; defect W10:cut; wait 1; restore",
    "stop:by_hand": "press stop; wait 2; let stop",
    **{f"{step}:latched": NOTHING for step in LATCHED_ALREADY},
    "control_raise:by_hand": "raise; wait 2; release",
    "control_lower:by_hand": "lower; wait 2; release",
    "top_end:by_hand": "raise; wait 1.5; push top_end; wait 2; free top_end; wait 1.5; release",
    "top_final:by_hand": "push top_final; wait 2; free top_final",
    "bottom_final:by_hand": "push bottom_final; wait 2; free bottom_final",
    "recovery_key:by_hand": (
        "push top_final; wait 1.5; turn key; wait 2; untwist key; wait 1.5; free top_final"
    ),
    "slack_rope:by_hand": "push slack_rope; wait 2; free slack_rope",
    "service_link:by_hand": "fit link; wait 2; remove link",
    "reset:by_hand": "wait 0.5; press reset; wait 3; let reset",
    "contactors:raise": "raise; until fault; wait 0.5; release",
    "contactors:link": "fit link",
    "contactors:unlink": "remove link",
    "motor_on:off_on": "isolate; wait 1; mend W9:cut; mend W10:cut; wait 1; restore",
    "direction:inch": "raise; wait 1.6; release",
    "inching:taps": (
        "raise; wait 0.5; release; wait 2; raise; wait 0.5; release; wait 2; raise; wait 0.5; "
        "release"
    ),
    "supply:start": "raise; wait 1; release",
    "lowering:inch": "lower; wait 1; release",
    "bottom_end:latched": "press stop; wait 2; let stop",
    "bottom_end:by_hand": (
        "lower; wait 1.5; push bottom_end; wait 2; free bottom_end; wait 1.5; release"
    ),
    "release_raise:release": "raise; wait 4.5; release",
    "release_lower:release": "lower; wait 2.5; release",
    "stop_moving:raising": "raise; wait 1.2; press stop; wait 1; release; let stop",
    "stop_moving:lowering": "lower; wait 1.2; press stop; wait 1; release; let stop",
    "finals_moving:top": "raise; wait 1.2; push top_final; wait 1; release; free top_final",
    "finals_moving:bottom": (
        "lower; wait 1.2; push bottom_final; wait 1; release; free bottom_final"
    ),
    "slack_moving:slack": "lower; wait 1.2; push slack_rope; until fault; release; free slack_rope",
    "power_loss:loss": "raise; wait 1.5; isolate; wait 2; restore; wait 3; release",
    "power_loss:cycle": "isolate; unplug; wait 5; plug; restore",
    "power_loss:unknown": "raise; wait 2; release",
    "power_loss:link": "fit link",
    "power_loss:home": DOWN,
    "power_loss:unlink": "remove link",
    "top_travel:travel": UP,
    "bottom_travel:travel": DOWN,
    "pull:up": "raise; past 53; release",
    "pull:down": DOWN,
    "wires:lift": "raise; wait 4; release",
    "wires:top_end": BREAK.format("W6.4:open", "raise"),
    "wires:bottom_end": BREAK.format("W7.4:open", "lower"),
    "wires:top_final": BREAK.format("W4.4:open", "raise"),
    "wires:bottom_final": BREAK.format("W5.4:open", "lower"),
    "wires:home": DOWN,
    "budget:link": "release; fit link",
    "budget:pieces": "; ".join(["raise; wait 2; release; wait 2"] * 5),
    "budget:home": DOWN,
    "trip:link": "fit link",
    "trip:tripped": "raise; until fault; wait 0.5; release",
    "trip:up": UP,
    "trip:unlink": "remove link",
    "learning:link": "fit link",
    "learning:travels": "; ".join([DOWN, UP] * 3),
    "frozen:unlink": "remove link",
    "left_over:link": "fit link",
    "left_over:unlink": "remove link",
}

SKIPPED: dict[str, str] = {
    "continuity:begin": "s measured by another test",
    "hung:begin": "s no test plug",
}


UNITS = {"leaf_angle": "deg", "drum_turns": "turn", "rope_slack": "mm"}
STATES = {"idle": IDLE, "held": HELD, "fault": FAULT}
WHITE, RED, BUZZER = 0, 1, 2
PULL_DEG = 50.0  # where both demo sites have their rope pull read
WATCHED_S = 14.0  # long enough for two rounds of the red lamp's code
ANSWERS = {
    "operator": "A. Person",
    "isolator": "B. Person",
    "clear": "0",
    "height": "1100 mm",
    "load": "250 kg",
    "earth": "0.1 ohm",
    "insulation": "50 megaohm",
    "dead": "0 V",
    "told": "A. Person, B. Person",
    "hang": "300 kg",
}


METERS: dict[str, Callable[["Person"], str]] = {
    "rest": lambda person: person.rest_volts(),
    "lowest": lambda person: person.least_volts(),
    "raising": lambda person: person.scale(),
    "lowering": lambda person: person.scale(),
    "mechanical": lambda person: person.pushed(),
    "electrical": lambda person: person.across(),
}


class Person:
    """Types answers and moves hands; `failed` is the step that did not pass.

    Args:
        board: the bench.
        hands: sentences by instruction id that replace those of the table.
        typed: answers by what is asked.
    """

    def __init__(
        self,
        board: BenchBoard,
        hands: Mapping[str, str] | None = None,
        typed: Mapping[str, str] | None = None,
    ) -> None:
        self.board = board
        self.hands = {**HANDS, **(hands or {})}
        self.typed = {**SKIPPED, **(typed or {})}
        self.asked = ""
        self.failed = ""
        self.lit: list[tuple[bool, ...]] = []
        self.heard = False
        self.running_a = 0.0
        self.least_v = self._volts()
        self.pull_n = 0.0
        self.released_mm = self.ended_mm = self._places()
        self.turns = 0.0
        self._todo: list[str] = []
        self._due_s = 0.0
        self._until_s = 0.0
        self._neutral = True
        self._at_end = True
        board.every_pass = self.look

    # --- answers ---------------------------------------------------------------------------

    def reply(self, asked: str) -> str:
        """Answer a question."""
        self.asked = ""
        step, _, what = asked.partition(":")
        if asked == "lamps:begin":
            self.lit.clear()
        if what == "fail":
            self.failed = step
            return self.typed.get(asked, "q")
        if asked in self.typed:
            return self.typed[asked]
        if what == "overrun":
            marks = self.ended_mm if step.endswith("travel") else self.released_mm
            moved = (abs(a - b) for a, b in zip(marks, self._places(), strict=True))
            return f"{max(moved):.1f} mm"
        if what == "clamp":
            return f"{self.running_a:.2f} A"
        if step in ("points", "slack_point") and what not in ("begin", "pass"):
            return self._operates(what)
        if step in ("supply", "pull", "interlock") and what in METERS:
            return METERS[what](self)
        if what == "drum":
            turned = abs(self.board.bench.plant.winch.turns) - self.turns
            return "still" if abs(turned) < 0.02 else "on" if turned > 0 else "off"
        if step == "lamps" and what not in ("begin", "pass"):
            return self._lamps(what)
        return ANSWERS.get(what, "")

    # --- meters ------------------------------------------------------------------------------

    def _volts(self) -> float:
        return self.board.site.supply.voltage * self.board.bench.plant.winch.supply_ratio

    def rest_volts(self) -> str:
        """Read the voltmeter with nothing running."""
        return f"{self._volts():.2f} V"

    def least_volts(self) -> str:
        """Read the lowest value that the voltmeter kept."""
        return f"{self.least_v:.2f} V"

    def scale(self) -> str:
        """Read the scale at the rope's fixed end, as it was when the deck passed the angle."""
        return f"{self.pull_n:.1f} N"

    def pushed(self) -> str:
        """Push both direction contactors in by hand."""
        armatures = self.board.bench.armatures
        return "both in" if any(a.interlock_lost for a in armatures) else "blocked"

    def across(self) -> str:
        """Measure across the interlock contacts with their contactors pushed in."""
        ids = [str(getattr(defect, "id", "")) for defect in self.board.bench.defects]
        return "closed" if any(".interlock:stuck-closed" in name for name in ids) else "open"

    def _operates(self, name: str) -> str:
        """Move a cam by hand on a bench with the same defect, and read where it operates."""
        bench = self.board.bench
        own = [
            d
            for d in bench.defects
            if isinstance(d, PlantDefect | WiringDefect) and d.part in LIMIT_PARTS
        ]
        found = ProofBench(self.board.site, bench.net, 1).operating_points(own[0] if own else None)
        unit = UNITS[getattr(self.board.site.limits, name).senses]
        return f"{found[name]:.3f} {unit}" if name in found else "none"

    def _lamps(self, what: str) -> str:
        while len(self.lit) < WATCHED_S * 200:
            self.board.step()
        if what == "buzzer":
            return "heard" if self.heard else "silent"
        if what == "white":
            share = sum(row[WHITE] for row in self.lit) / len(self.lit)
            return "dark" if share < 0.05 else "dim" if share < 0.6 else "bright"
        return self._code([row[RED] for row in self.lit])

    @staticmethod
    def _code(lit: list[bool]) -> str:
        """Count the long and short flashes between two long pauses, as a person does."""
        runs: list[tuple[bool, int]] = []
        for state in lit:
            if runs and runs[-1][0] == state:
                runs[-1] = (state, runs[-1][1] + 5)
            else:
                runs.append((state, 5))
        pauses = [i for i, (state, ms) in enumerate(runs) if not state and ms > 1500]
        if len(pauses) < 2:
            return "0 0"
        flashes = [ms for state, ms in runs[pauses[0] : pauses[1]] if state]
        return f"{sum(ms > 450 for ms in flashes)} {sum(ms <= 450 for ms in flashes)}"

    # --- hands and eyes ----------------------------------------------------------------------

    def glance(self, asked: str) -> str | None:
        """Begin to act when a new instruction is shown."""
        if asked != self.asked:
            self.asked = asked
            left = self._todo  # a person ends what was begun, such as letting go of the control
            self._begin(self.hands.get(asked, ""))
            if left:
                self._todo = [w for w in left if w[:4] != "wait"] + ["wait 1", *self._todo]
            self.turns = abs(self.board.bench.plant.winch.turns)
            self.least_v = self._volts()
        return None

    def _begin(self, sentences: str) -> None:
        self._todo = [words.strip() for words in sentences.split(";") if words.strip()]
        self._due_s = self.board.now_s + 0.4
        self._until_s = 0.0

    def look(self) -> None:
        """See what there is to see, and do what is due; called every 5 ms."""
        self._see()
        if not self.asked:
            return
        if not self._todo:
            if self.asked not in self.hands and self._state() == FAULT:
                self._begin(RESET)  # 'ready': a latched fault is taken back
            return
        while self._todo and self.board.now_s >= self._due_s:
            verb, _, rest = self._todo[0].partition(" ")
            if verb == "until":
                self._until_s = self._until_s or self.board.now_s + GIVE_UP_S
                state = self._state()
                if state != STATES[rest] and state != FAULT and self.board.now_s < self._until_s:
                    return
                self._until_s = 0.0
            elif verb == "past":
                if math.degrees(self.board.bench.plant.angle_rad) < float(rest):
                    return
            elif verb == "wait":
                self._due_s = self.board.now_s + float(rest)
            else:
                self.board.do(self._todo[0])
            self._todo.pop(0)

    def _state(self) -> int:
        edge = self.board.edge
        return edge.seen.state if edge.program_runs else -1

    def _see(self) -> None:
        bench = self.board.bench
        ratios = bench.sol.lamp_ratio
        if self.asked == "":
            self.lit.append(tuple(ratio > 0.5 for ratio in ratios))
        self.heard = self.heard or ratios[BUZZER] > 0.5
        plant = bench.plant
        if abs(plant.motor_rad_s) > 1.0 and plant.current_a:
            self.running_a = abs(plant.current_a)
            self.least_v = min(self.least_v, self._volts())
            if abs(math.degrees(plant.angle_rad) - PULL_DEG) < 0.1:
                # The moving sheave leaves the fixed end less while raising, more while lowering.
                factor = plant.rope.sheave_factor
                part = 1.0 if plant.motor_rad_s > 0.0 else factor
                self.pull_n = plant.rope.tension_n * 2.0 * part / (1.0 + factor)
        offs = RAISE_OFF | LOWER_OFF
        neutral = bench.sol.inputs & offs == offs
        if neutral and not self._neutral:
            self.released_mm = self._places()
        self._neutral = neutral
        at_end = bench.limit_actuated("top_end") or bench.limit_actuated("bottom_end")
        if at_end and not self._at_end:
            self.ended_mm = self._places()
        self._at_end = at_end

    def _places(self) -> tuple[float, float]:
        """Return free end and mid hinge along their ways, in mm."""
        plant = self.board.bench.plant
        leaf = self.board.site.deck.leaf_a.length
        return (plant.free_end_m * 1000, leaf * plant.angle_rad * 1000)
