"""Tells a run in words: states, faults, warnings, power, defects, broken requirements."""

from typing import TYPE_CHECKING

from leafwinch.fault_texts import FAULT_TEXTS, FAULTS
from leafwinch.state_texts import ENDINGS, HELD_REASONS, REFUSALS, WARNINGS
from leafwinch.states import FAULT, HELD, IDLE, STATE_NAMES
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.observation import Observation
from leafwinch_sim.requirements import Monitors
from leafwinch_sim.requirements_motion import WAY_WORDS

if TYPE_CHECKING:
    from leafwinch_sim.bench import Bench

Event = tuple[int, str]

RESOLVED_MS = 60  # the reason of a stop is settled by then


class Teller:
    """Collects (t_ms, words) while a run goes on; `events` is the list."""

    def __init__(self) -> None:
        self.events: list[Event] = []
        self.state = -1
        self.fault = 0
        self.refused = 0
        self.warnings = 0
        self.board_on = False
        self.hung = False
        self.way = 0
        self.since_ms = 0
        self.stopped = -1  # place of a stop whose reason is not resolved yet
        self.told: set[str] = set()
        self.given_up = 0

    def defect(self, t_ms: int, defect: Defect) -> None:
        """Tell that a defect comes."""
        self.events.append((t_ms, f"defect {defect.id}: {defect.cause}"))

    def step(self, bench: "Bench", o: Observation, monitors: Monitors) -> None:
        """Tell what has changed in this step."""
        if bench.board is not None:
            self._board(bench, o)
        elif o.powered_way != self.way:
            self._motor(o)
        if len(monitors.broken) > len(self.told):
            self.broken(monitors)
        given_up = bench.operator.given_up
        if len(given_up) > self.given_up:
            self.given_up = len(given_up)
            step = bench.operator.script.steps[given_up[-1]]
            self.events.append((o.t_ms, f"the operator waited for '{step.until}' in vain"))

    def broken(self, monitors: Monitors) -> None:
        """Tell which requirements are broken that were not told before."""
        for name, first in monitors.broken.items():
            if name not in self.told:
                self.told.add(name)
                self.events.append((first.t_ms, f"{name} broken: {first.text}"))

    def _motor(self, o: Observation) -> None:
        """Without a controller the motor's feed is all there is to tell."""
        if o.powered_way:
            self.events.append((o.t_ms, f"the motor is fed {WAY_WORDS[o.powered_way]}"))
            self.since_ms = o.t_ms
        else:
            run_s = (o.t_ms - self.since_ms) / 1000
            self.events.append((o.t_ms, f"the motor is off after {run_s:.1f} s"))
        self.way = o.powered_way

    def _board(self, bench: "Bench", o: Observation) -> None:
        t_ms = o.t_ms
        tell = self.events.append
        if o.board_on != self.board_on:
            if self.state >= 0 or not o.board_on:
                tell((t_ms, "the board starts" if o.board_on else "the board has lost its power"))
            self.board_on = o.board_on
        if o.hung != self.hung:
            tell(
                (t_ms, "the program stands still" if o.hung else "the watchdog restarts the board")
            )
            self.hung = o.hung
        if not o.board_on:
            return
        if self.stopped >= 0:
            self._resolve_stop(bench, o)
        if o.fault != self.fault:
            if o.fault:
                name = FAULTS[o.fault - 1][0].replace("_", " ")
                tell((t_ms, f"fault {o.fault}, {name}: {FAULT_TEXTS[o.fault - 1][0]}"))
            else:
                tell((t_ms, "the fault is cleared"))
            self.fault = o.fault
        if o.state != self.state:
            self.stopped = -1
            words = self._state_words(bench, o)
            if words:
                tell((t_ms, words))
            self.state = o.state
        if o.warnings != self.warnings:
            if o.warnings:
                tell((t_ms, f"warning: {WARNINGS[o.warning][1]}"))
            self.warnings = o.warnings

    def _resolve_stop(self, bench: "Bench", o: Observation) -> None:
        """Word a stop anew: its reason is known only once the controller's window is over."""
        stop_ms, _ = self.events[self.stopped]
        if bench.board is not None and o.t_ms - stop_ms <= RESOLVED_MS:
            ended = getattr(bench.board.controller, "ended", 0)
            self.events[self.stopped] = (stop_ms, f"stopped: {ENDINGS[ended][1]}")
        else:
            self.stopped = -1

    def _state_words(self, bench: "Bench", o: Observation) -> str:
        """Return the words for a new state, empty where they say nothing new."""
        controller = bench.board.controller if bench.board is not None else None
        if o.state == FAULT:
            return ""
        if o.state == IDLE:
            return "idle: ready"
        if o.state != HELD:
            return f"{STATE_NAMES[o.state]} begins"
        refused = getattr(controller, "refused", 0)
        if self.state == IDLE and refused:
            return f"refused: {REFUSALS[refused][1]}"
        ended = getattr(controller, "ended", 0)
        if self.state not in (-1, IDLE, FAULT) and ended:
            self.stopped = len(self.events)
            return f"stopped: {ENDINGS[ended][1]}"
        for bit, (_, words) in enumerate(HELD_REASONS):
            if o.held_reasons >> bit & 1:
                return f"held: {words}"
        return "held"
