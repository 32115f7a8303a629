"""A person at a virtual board: reads the id of each instruction and acts on the bench.

The hands are a table: instruction id to sentences, one after the other. 'wait S' waits, 'until
NAME' waits for a state, 'past DEGREES' for the deck, everything else is what virtual_hands
understands.
"""

import math
from collections.abc import Callable, Mapping

from leafwinch.states import FAULT, HELD, IDLE
from leafwinch_host.virtual_eyes import Eyes
from tests.virtual.commission_bench import BenchBoard

GIVE_UP_S = 70.0
RESET = "release; wait 0.6; press reset; wait 2.6; let reset; wait 1"
UP = "raise; until held; wait 1; release; until idle"
DOWN = "lower; until held; wait 1; release; until idle"
BREAK = "defect {0}; wait 1.5; {1}; wait 2; release; wait 0.5; mend {0}"

LATCH = "press stop; wait 2; let stop"  # where no fault is latched yet

HANDS: dict[str, str] = {
    **{f"{step}:off": "isolate" for step in ("dead", "continuity", "earth", "interlock")},
    "motor_off:off_on": "isolate; wait 1; defect W9:cut; defect W10:cut; wait 1; restore",
    "stop:by_hand": "press stop; wait 2; let stop",
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


STATES = {"idle": IDLE, "held": HELD, "fault": FAULT}
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


def drum(eyes: Eyes) -> str:
    """Say which way the drum wound."""
    turned = eyes.wound()
    return "still" if abs(turned) < 0.02 else "on" if turned > 0 else "off"


METERS: dict[tuple[str, str], Callable[[Eyes], str]] = {
    ("supply", "rest"): lambda eyes: f"{eyes.volts():.2f} V",
    ("supply", "lowest"): lambda eyes: f"{eyes.least_v:.2f} V",
    ("pull", "raising"): lambda eyes: f"{eyes.pulls_n[1]:.1f} N",
    ("pull", "lowering"): lambda eyes: f"{eyes.pulls_n[-1]:.1f} N",
    ("interlock", "mechanical"): lambda eyes: "both in" if eyes.both_in() else "blocked",
    ("interlock", "electrical"): lambda eyes: "closed" if eyes.interlock_closed() else "open",
    ("direction", "drum"): drum,
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
        self._todo: list[str] = []
        self._due_s = 0.0
        self._until_s = 0.0
        self.eyes = Eyes(board.bench)
        board.every_pass = self.look

    # --- answers ---------------------------------------------------------------------------

    def reply(self, asked: str) -> str:
        """Answer a question."""
        self.asked = ""
        step, _, what = asked.partition(":")
        if asked == "lamps:begin":
            self.eyes.lit.clear()
        if what == "fail":
            self.failed = step
            return self.typed.get(asked, "q")
        if asked in self.typed:
            return self.typed[asked]
        if what == "overrun":
            return f"{self.eyes.overrun_mm(step.endswith('travel')):.1f} mm"
        if step in ("points", "slack_point") and what not in ("begin", "pass"):
            return self.eyes.operating_points()[what]
        if (step, what) in METERS:
            return METERS[step, what](self.eyes)
        if what == "clamp":
            return f"{self.eyes.running_a:.2f} A"
        if step == "lamps" and what not in ("begin", "pass"):
            return self._lamps(what)
        return ANSWERS.get(what, "")

    def _lamps(self, what: str) -> str:
        while len(self.eyes.lit) < (self.eyes.lit.maxlen or 0):
            self.board.step()
        if what == "buzzer":
            return "heard" if self.eyes.heard_ms >= 0 else "silent"
        if what == "white":
            return self.eyes.white_lamp()
        return "{} {}".format(*self.eyes.red_code())

    # --- hands and eyes ----------------------------------------------------------------------

    def glance(self, asked: str) -> str | None:
        """Begin to act when a new instruction is shown."""
        if asked != self.asked:
            self.asked = asked
            left = self._todo  # a person ends what was begun, such as letting go of the control
            self._begin(self._sentences(asked))
            if left:
                self._todo = [w for w in left if w[:4] != "wait"] + ["wait 1", *self._todo]
        return None

    def _sentences(self, asked: str) -> str:
        if asked.endswith(":latched") and self._state() != FAULT:
            return LATCH
        return self.hands.get(asked, "")

    def _begin(self, sentences: str) -> None:
        self._todo = [words.strip() for words in sentences.split(";") if words.strip()]
        self._due_s = self.board.now_s + 0.4
        self._until_s = 0.0

    def look(self) -> None:
        """See what there is to see, and do what is due; called every 5 ms."""
        self.eyes.see()
        if not self.asked:
            return
        if not self._todo:
            waits = self.asked in self.hands or self.asked.endswith(":latched")
            if not waits and self._state() == FAULT:
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
