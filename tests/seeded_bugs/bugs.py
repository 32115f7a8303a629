"""Bugs put into the control core on purpose, each with the shortest scenario that shows it.

A bug replaces a piece of text that occurs exactly once in its file. Its scenario passes with
the real core and fails with the bug.
"""

from typing import NamedTuple

from tests.firmware.scenarios_faults import DOWN, QUICK, READY, REST, UP, quick
from tests.firmware.scenarios_states import RECOVERED, TOP_HIT
from tests.firmware.scenarios_traps import HOT, LET_GO_AND_PRESS, NO_FREE


class Bug(NamedTuple):
    """name, file of the core, text that goes, text that comes, settings, scenario."""

    name: str
    file: str
    old: str
    new: str
    values: dict[str, int]
    scenario: str


BUGS = (
    Bug(
        "line contactor without proof of the direction contactor",
        "contactors.py",
        "if not c & (RAISE_RELEASED if self.way == RAISE else LOWER_RELEASED):",
        "if self.phase_ms >= 0:",
        QUICK,
        READY + "close raise_released; ask raise; run 140; state: raising",
    ),
    Bug(
        "mirror of the other direction not watched",
        "contactors.py",
        "if not c & other:",
        "if not c & other and self.phase == OFF:",
        QUICK,
        UP + "open lower_released; run 60; fault: lower_uncommanded",
    ),
    Bug(
        "line contactor together with the direction contactor",
        "controller.py",
        "pulse = 1 - self.pulse if phase >= LINE else",
        "pulse = 1 - self.pulse if phase >= DIRECTION else",
        QUICK,
        READY + "close raise_released; ask raise; run 75; line: no",
    ),
    Bug(
        "budget renewed by a pause",
        "budget.py",
        "        self.run_way = way\n",
        "        self.run_way = way\n        self.up_ms = 0\n",
        NO_FREE,
        UP + "run 2500; ask nothing; settle; ask raise; run 1700; fault: travel_late",
    ),
    Bug(
        "budget renewed by a power cycle",
        "budget.py",
        "self.up_ms = settings.budget_raise_ms",
        "self.up_ms = 0",
        QUICK,
        REST + "power_up 0; settle; ask raise; run 60; refused: budget",
    ),
    Bug(
        "free part of the starts without a bound",
        "budget.py",
        "self.start_free_ms = free_ms if free_ms < s.start_allow_ms else s.start_allow_ms",
        "self.start_free_ms = s.start_allow_ms",
        quick(start_allow_ms=500, start_allow_total_ms=0),
        UP + "run 4100; fault: travel_late",
    ),
    Bug(
        "fault cleared by a power cycle",
        "kept.py",
        "return fault if 0 < fault <= FAULT_COUNT else NO_FAULT",
        "return NO_FAULT",
        QUICK,
        "keep fault blocked; power_up 0; run 20; fault: blocked",
    ),
    Bug(
        "ends swapped",
        "stops.py",
        "if not c & TOP_END:\n            return ENDED_TOP",
        "if not c & BOTTOM_END:\n            return ENDED_TOP",
        QUICK,
        READY + "ask raise; run 60; state: raising",
    ),
    Bug(
        "neutral not waited for after a stop",
        "held.py",
        "elif not rules.control.neutral():",
        "elif rules.control.neutral_ms < 0:",
        QUICK,
        TOP_HIT + "run 1500; ask nothing; run 100; state: held",
    ),
    Bug(
        "neutral counted with the chain dead",
        "control.py",
        "control = c & CONTROL\n",
        "control = c & CONTROL | CHAIN_OK\n",
        QUICK,
        READY + "open stop_ok; run 60; close reset; run 2100; close stop_ok; run 60; open reset;"
        "run 20; state: fault",
    ),
    Bug(
        "paths judged with the chain dead",
        "control.py",
        "if not c & CHAIN_OK:\n            self.forget()\n            return NO_FAULT",
        "if not c & CHAIN_OK:\n            self.neutral_ms = 0",
        QUICK,
        READY + "open stop_ok; run 60; close raise_path; run 80; later: none",
    ),
    Bug(
        "no pause before a reversal",
        "held.py",
        "if rules.contactors.quiet_ms < rules.settings.pause_ms:",
        "if rules.contactors.quiet_ms < 0:",
        QUICK,
        UP + "ask nothing; run 600; state: held",
    ),
    Bug(
        "start straight from held",
        "controller.py",
        "self.held_reasons = why_held(self, self.record_due, c)",
        "self.held_reasons = 0",
        QUICK,
        UP + "ask lower; run 20; state: held",
    ),
    Bug(
        "thermal level cleared by a reset",
        "controller.py",
        "self.later_fault = NO_FAULT\n        self.ended = ENDED_NOT",
        "self.thermal.level = 0\n        self.ended = ENDED_NOT",
        HOT,
        "at bottom; run 16000; ask raise; run 300; at middle; amps 8000; run 4000;"
        "fault: thermal;" + LET_GO_AND_PRESS + "run 300; reason: thermal",
    ),
    Bug(
        "blocked account cleared by every start",
        "controller.py",
        "        self.budget.start(way, c)\n",
        "        self.budget.start(way, c)\n        self.current.blocked_ms = 0\n",
        QUICK,
        READY + "amps 8500; ask raise; run 500; ask nothing; settle; ask raise; run 500;"
        "fault: blocked",
    ),
    Bug(
        "blocked account empty at power-up",
        "current.py",
        "self.blocked_ms = self.boot_ms\n        self.jam_ms",
        "self.blocked_ms = 0\n        self.jam_ms",
        QUICK,
        READY + "amps 8500; ask raise; run 850; fault: blocked",
    ),
    Bug(
        "latest cause instead of the most upstream one",
        "cause.py",
        "if not self.candidate or fault < self.candidate:",
        "if fault:",
        QUICK,
        UP + "open stop_ok; run 20; open lower_released; run 40; fault: stop_actuated",
    ),
    Bug(
        "cause named without its window",
        "cause.py",
        "if self.window_ms < WINDOW_MS:",
        "if self.window_ms < 0:",
        QUICK,
        UP + "open chain_ok; run 25; open stop_ok; run 60; fault: stop_actuated",
    ),
    Bug(
        "finals ignored while the key is turned",
        "chain.py",
        "open_finals &= ~exempt",
        "open_finals = exempt",
        QUICK,
        UP + "open recovery_off top_final; run 60; fault: top_final_actuated",
    ),
    Bug(
        "recovery in both directions",
        "controller.py",
        "if recovery.mode == AWAY_ONLY and way != recovery.away:",
        "if recovery.mode == AWAY_ONLY and way == NO_DIRECTION:",
        QUICK,
        RECOVERED + "at middle; run 60; ask raise; run 60; refused: recovery",
    ),
    Bug(
        "recovery without the bound of a pulse",
        "stops.py",
        "contactors.run_ms >= PULSE_MS",
        "contactors.run_ms >= 60 * PULSE_MS",
        QUICK,
        RECOVERED + "ask lower; run 700; ended: pulse",
    ),
    Bug(
        "slack rope ignored",
        "slack.py",
        "if way != LOWER or not c & BOTTOM_END:",
        "if way != LOWER or self.taut_ms == 0:",
        QUICK,
        DOWN + "run 300; open rope_taut; run 650; fault: rope_slack",
    ),
    Bug(
        "clock compared without its wrap",
        "controller.py",
        "(now_ms - self.last_ms) & TICKS_MASK if",
        "now_ms - self.last_ms if",
        QUICK,
        "at bottom; run 500; ask lower; run 150; ask nothing; run 400; state: idle",
    ),
    Bug(
        "drift at rest never a fault",
        "ends.py",
        "return self.drifts >= DRIFTS_MAX",
        "return self.drifts > DRIFTS_MAX",
        QUICK,
        READY + "at middle; run 20; at bottom; run 60; fault: drift",
    ),
    Bug(
        "late pass ignored",
        "controller.py",
        "if self.contactors.phase != OFF:\n                self._candidate(LOOP_LATE)",
        "if self.contactors.phase < OFF:\n                self._candidate(LOOP_LATE)",
        QUICK,
        UP + "gap 16; run 50; fault: loop_late",
    ),
    Bug(
        "lost supply taken for a settling input",
        "controller.py",
        "if inputs.low_ticks >= 2:",
        "if inputs.low_ticks > 2:",
        QUICK,
        UP + "supply 0; run 60; fault: supply_lost",
    ),
    Bug(
        "reset acts on the press",
        "reset_button.py",
        "return STUCK if self.pressed_ms > PRESS_MAX_MS else NOTHING",
        "return PRESSED if self.armed and self.pressed_ms >= PRESS_MIN_MS else NOTHING",
        QUICK,
        READY + "open stop_ok; run 60; close stop_ok; run 400; close reset; run 2100; state: fault",
    ),
    Bug(
        "tap taken for an uncommanded contactor",
        "contactors.py",
        "self.released_seen |= mirrors & ~self.letting_go",
        "self.released_seen |= mirrors",
        QUICK,
        READY + "ask raise; run 90; ask nothing; run 200; fault: none",
    ),
    Bug(
        "off by one in debounce",
        "inputs.py",
        "((contacts | one) & self.seen)",
        "((contacts | one | self.two) & self.seen)",
        QUICK,
        UP + "open stop_ok; run 10; state: held",
    ),
    Bug(
        "wrap compare reversed",
        "controller.py",
        "(now_ms - self.last_ms) & TICKS_MASK if",
        "abs(now_ms - self.last_ms) & TICKS_MASK if",
        QUICK,
        "at bottom; run 640; ask raise; run 110; state: raising",
    ),
    Bug(
        "trip window renewed on reversal",
        "controller.py",
        "        self.budget.start(way, c)\n",
        "        self.budget.start(way, c)\n"
        "        if way != self.contactors.way:\n            self.current.blocked_ms = 0\n",
        QUICK,
        READY + "amps 8500; ask raise; run 500; at middle; ask nothing; settle; ask lower; run 500;"
        "fault: blocked",
    ),
    Bug(
        "mirror check skipped only after a reset",
        "controller.py",
        "self.later_fault = NO_FAULT\n        self.ended = ENDED_NOT",
        "self.contactors.pull_ms = 1 << 20\n        self.ended = ENDED_NOT",
        QUICK,
        "at bottom; power_up 1; run 500; press 2100; until idle 1000; close raise_released;"
        "ask raise; run 250; fault: raise_not_pulled",
    ),
    Bug(
        "budget credited on a blocked raise",
        "supervision.py",
        "fault = budget.step(dt_ms, c, energised, way)",
        "blocked = self.current.value_ma > self.settings.run_max_ma\n"
        "            fault = budget.step(dt_ms, c, energised, -1 if blocked else way)",
        NO_FREE,
        UP + "run 3500; amps 8500; run 500; fault: travel_late",
    ),
)
