"""The breadth-first search itself: small, plain and typed, since its loop runs millions of times.

A node is a full state (core, surroundings, rules, stored record), the pattern and disturbance
under which it was reached, and how many quick changes came since all was last settled. From
each node every letter of the alphabet is played on the real core, and every pass is judged.
"""

from array import array
from collections import deque
from typing import Any

from leafwinch.signals import BOTTOM_END, TOP_END
from leafwinch_sim.explore.evidence import EVIDENCE_FIELDS, Evidence
from leafwinch_sim.explore.grammar import (
    IS_FAULT,
    IS_MOVING,
    IS_RUNNING,
    IS_SETTLED,
    MAY_BE_QUICK,
    Grammar,
)
from leafwinch_sim.explore.letters import (
    BOOT_FLAGS,
    EVENT,
    FEW,
    ONE,
    POWER,
    POWER_BLANK,
    PRESS,
    PRESS_LONG,
    PRESS_SHORT,
    SETTLE,
    STRETCH,
    disturbance_of,
    kind_of,
    pattern_of,
)
from leafwinch_sim.explore.play import CLOCK_START, PLAY_FIELDS, POWERED, Play
from leafwinch_sim.explore.projection import Projection, state_names
from leafwinch_sim.explore.rules import FAULT_STATE, RULES_FIELDS, Rules
from leafwinch_sim.explore.violations import CRASHED, ENDLESS, FORGOTTEN, NOTHING

FINE_MS = 60  # at rest passes come in the usual rhythm for so long, then sparsely
SPARSE_MS = 100
SETTLED_MS = 1360  # at rest so long every timer that matters has run out
EVENT_MS = 800
STRETCH_MS = 200
FEW_PASSES = 3
PASSES_MAX = 2000
RELEASE_PASSES = 6  # after a press, through the filter
LATE_STEP_MS = 40
PRESSES_MS = {PRESS_SHORT: 1900, PRESS: 2100, PRESS_LONG: 10200}
RESET_BIT = 1 << 15
RUNNING = 4  # phase in which the motor runs
STORED_MS = 1000  # a serious fault is stored at the latest so long after everything is off
NO_LETTER = -1

# What an edge showed, for the questions about reachability.
TO_TOP = 1  # a raise ended at the top end
TO_BOTTOM = 2
BY_POWER = 4  # power was cycled
ENDED_TOP = 2
ENDED_BOTTOM = 3


class Search:
    """Plays letters, keeps the states found, and stops at the first violation or at closure.

    disturbances: (contacts on, contacts off, flow, late) by number + 1. make: builds a core from
    a stored record, or None, and boot flags. serious: the faults that survive a power cycle.
    """

    def __init__(
        self,
        play: Play,
        projection: Projection,
        grammar: Grammar,
        disturbances: "list[tuple[int, int, int, int]]",
        make: Any,
        serious: "frozenset[int]",
        quick_max: int,
        step_ms: int,
    ) -> None:
        self.play = play
        self.core: Any = play.core
        self.rules: Rules = play.rules
        self.evidence: Evidence = play.rules.evidence
        self.projection = projection
        self.grammar = grammar
        self.record: tuple[int, ...] = play.kept
        self.masks: list[int] = grammar.masks
        self.disturbances = disturbances
        self.make: Any = make
        self.serious = serious
        self.quick_max = quick_max
        self.step_ms = step_ms
        self.passes = 0
        self.core_size = len(self.core.snapshot())
        self.fresh: dict[tuple[int, tuple[int, ...]], tuple[int, ...]] = {}
        self.found: dict[bytes, int] = {}
        self.states: list[tuple[int, ...]] = []
        self.quick: list[int] = []  # fewest quick changes since the last rest
        self.settled: list[bool] = []  # reached by a letter that lasted until all was settled
        self.done: list[int] = []  # what the node offered when it was expanded, or -1
        self.arrived: list[int] = []  # letter by which the node was first reached
        self.parents: list[int] = []
        self.fault_nodes: dict[int, int] = {}  # of each fault reached, a node that shows it
        self.queue: deque[int] = deque()
        self.queued: list[bool] = []
        self.sources = array("i")
        self.targets = array("i")
        self.flags = array("b")
        self.violation = NOTHING
        self.violation_node = -1
        self.violation_letter = NO_LETTER
        self.on = 0
        self.off = 0
        self.flow = 0
        self.late = 0
        self.mask = 0
        self.edge_flags = 0

    # --- states -----------------------------------------------------------------------

    def capture(self) -> "tuple[int, ...]":
        """Return the full state."""
        play = self.play
        rules = self.rules
        evidence = self.evidence
        core_state: tuple[int, ...] = self.core.snapshot()
        return (
            core_state
            + tuple([getattr(play, name) for name in PLAY_FIELDS])
            + tuple([getattr(rules, name) for name in RULES_FIELDS])
            + tuple([getattr(evidence, name) for name in EVIDENCE_FIELDS])
            + play.kept
        )

    def recall(self, state: "tuple[int, ...]") -> None:
        """Take over a full state; the clock begins anew."""
        play = self.play
        index = self.core_size
        self.core.restore(state[:index])
        for name in PLAY_FIELDS:
            setattr(play, name, state[index])
            index += 1
        for name in RULES_FIELDS:
            setattr(self.rules, name, state[index])
            index += 1
        for name in EVIDENCE_FIELDS:
            setattr(self.evidence, name, state[index])
            index += 1
        play.kept = state[index:]
        play.now = CLOCK_START
        self.core.last_ms = CLOCK_START

    def begin(self, letter: int) -> None:
        """Add a first node: power-up under a pattern with the first stored record."""
        self.start(letter)
        if self.violation:
            self.violation_letter = letter
        else:
            self._keep(-1, letter, 0)

    def start(self, letter: int) -> None:
        """Power up under a pattern and play until all is settled."""
        self.rules.reset()
        self.evidence.begin()
        self.play.kept = self.record
        self.play.now = CLOCK_START
        self._conditions(letter)
        if not self._boot(POWER):
            self._rest()

    def is_broken(self) -> bool:
        """Tell whether a rule was broken."""
        return self.violation != NOTHING

    def state_index(self, name: str) -> int:
        """Return where a field such as "controller.fault" stands in a full state."""
        return state_names(self.core).index(name)

    # --- playing a letter --------------------------------------------------------------

    def _conditions(self, letter: int) -> None:
        self.mask = self.masks[pattern_of(letter)]
        self.on, self.off, self.flow, self.late = self.disturbances[disturbance_of(letter) + 1]
        self.edge_flags = 0

    def _pass(self, dt_ms: int) -> bool:
        """Run and judge one pass; True where something was broken."""
        self.passes += 1
        play = self.play
        core = self.core
        was = core.ended
        if self.late and dt_ms < LATE_STEP_MS:
            dt_ms = LATE_STEP_MS
        try:
            broken = play.one_pass(dt_ms, self.mask, self.on, self.off, self.flow)
        except (ValueError, ArithmeticError, LookupError, AttributeError, TypeError):
            broken = CRASHED
        if broken:
            self.violation = broken
            return True
        ended = core.ended
        if ended != was:
            if ended == ENDED_TOP and not self.mask & TOP_END:
                self.edge_flags |= TO_TOP
            elif ended == ENDED_BOTTOM and not self.mask & BOTTOM_END:
                self.edge_flags |= TO_BOTTOM
        return False

    def run_letter(self, letter: int) -> bool:
        """Play one letter from the present state; False where it shows nothing new.

        After a violation `violation` is set and the state is where it happened.
        """
        self._conditions(letter)
        kind = kind_of(letter)
        if kind == SETTLE:
            self._rest()
        elif kind == EVENT:
            return self._event()
        elif kind in (FEW, ONE, STRETCH):
            count = FEW_PASSES if kind == FEW else 1 if kind == ONE else STRETCH_MS // self.step_ms
            for _ in range(count):
                if self._pass(self.step_ms):
                    break
        elif kind >= POWER:
            self.edge_flags = BY_POWER
            if not self._boot(kind):
                self._rest()
        else:
            self._press(kind)
        return True

    def _event(self) -> bool:
        """Play until phase, state or cause window change; False if they never do."""
        core = self.core
        contactors = core.contactors
        cause = core.cause
        state: int = core.state
        phase: int = contactors.phase
        is_open: int = cause.is_open
        for _ in range(EVENT_MS // self.step_ms):
            if self._pass(self.step_ms):
                return True
            if core.state != state or contactors.phase != phase or cause.is_open != is_open:
                return True
        return False

    def _rest(self) -> None:
        """Play until everything is off and every timer has run out."""
        contactors = self.core.contactors
        cause = self.core.cause
        rest_ms = 0
        fine = 0
        for _ in range(PASSES_MAX):
            if contactors.phase or cause.is_open:
                rest_ms = 0
                fine = 0
            dt_ms = self.step_ms if fine < FINE_MS else SPARSE_MS
            fine += dt_ms
            if self._pass(dt_ms):
                return
            rest_ms += dt_ms
            if rest_ms >= SETTLED_MS:
                return
        self.violation = ENDLESS

    def _press(self, kind: int) -> None:
        """Press the reset button so long and let it go, at rest."""
        self.mask |= RESET_BIT
        pressed_ms = 0
        fine = 0
        limit_ms = PRESSES_MS[kind]
        while pressed_ms < limit_ms:
            dt_ms = self.step_ms if fine < FINE_MS else SPARSE_MS
            fine += dt_ms
            if self._pass(dt_ms):
                return
            pressed_ms += dt_ms
        self.mask &= ~RESET_BIT
        for _ in range(RELEASE_PASSES):
            if self._pass(self.step_ms):
                return

    def _boot(self, kind: int) -> int:
        """Cycle the power; return what that broke, or NOTHING."""
        play = self.play
        lost: int = self.rules.fault
        stored = self.rules.fault_ms >= STORED_MS and lost in self.serious
        kept = play.kept
        asked = (kind, kept)
        state = self.fresh.get(asked)
        if state is None:
            core = self.make(None if kind == POWER_BLANK else kept, BOOT_FLAGS[kind])
            state = core.snapshot()
            self.fresh[asked] = state
        self.core.restore(state)
        play.drop()
        if play.log is not None:
            play.log.append((BOOT_FLAGS[kind], POWERED, 1 if kind == POWER_BLANK else 0, 0))
        fault: int = self.core.fault
        self.rules.power_up(fault, kind == POWER_BLANK)
        if kind == POWER and stored and fault != lost:
            self.violation = FORGOTTEN
        return self.violation

    # --- breadth first --------------------------------------------------------------------

    def _keep(self, source: int, letter: int, quick: int) -> int:
        """Enter the present state as a node unless it is known, and the edge to it."""
        state = self.capture()
        form = self.projection.key(state, letter >> 4)
        fault: int = self.core.fault
        node = self.found.get(form, -1)
        kind = kind_of(letter)
        settled = kind == SETTLE or kind >= POWER
        if node < 0:
            node = len(self.states)
            self.found[form] = node
            self.states.append(state)
            self.quick.append(quick)
            self.settled.append(settled)
            self.done.append(-1)
            self.arrived.append(letter)
            self.parents.append(source)
            self.queued.append(True)
            self.queue.append(node)
        elif quick < self.quick[node] or (settled and not self.settled[node]):
            self.quick[node] = quick if quick < self.quick[node] else self.quick[node]
            self.settled[node] = self.settled[node] or settled
            if not self.queued[node]:
                self.queued[node] = True
                self.queue.append(node)
        if fault and fault not in self.fault_nodes:
            self.fault_nodes[fault] = node
        if source >= 0:
            self.sources.append(source)
            self.targets.append(node)
            self.flags.append(self.edge_flags)
        return node

    def expand(self) -> bool:
        """Play every letter from the next node; False at closure or after a violation."""
        if self.is_broken() or not self.queue:
            return False
        node = self.queue.popleft()
        self.queued[node] = False
        state = self.states[node]
        arrived = self.arrived[node]
        quick = self.quick[node]
        pattern = pattern_of(arrived)
        disturbance = disturbance_of(arrived)
        offers = self._offers(node)
        before = self.done[node]
        self.done[node] = offers
        # Where a shorter way leads here again, only the letters that this adds are played.
        known = self.grammar.letters(pattern, disturbance, before) if before >= 0 else []
        settled = self.settled[node]
        for letter in self.grammar.letters(pattern, disturbance, offers):
            if letter in known:
                continue
            self.recall(state)
            new = self.run_letter(letter)
            if self.is_broken():
                self.violation_node = node
                self.violation_letter = letter
                return False
            if new:
                self._keep(node, letter, self._quick_after(letter, arrived, quick, settled))
        return True

    def _offers(self, node: int) -> int:
        """Return what may follow a node, as bits of the grammar."""
        self.recall(self.states[node])
        offers = 0
        if self.quick[node] < self.quick_max:
            offers |= MAY_BE_QUICK
        if self.settled[node]:
            offers |= IS_SETTLED
        phase: int = self.core.contactors.phase
        if phase == RUNNING:
            offers |= IS_RUNNING
        if phase:
            offers |= IS_MOVING
        if self.core.state == FAULT_STATE:
            offers |= IS_FAULT
        return offers

    def _quick_after(self, letter: int, arrived: int, quick: int, settled: bool) -> int:
        """Return how many quick changes there are after a letter."""
        kind = kind_of(letter)
        if kind == SETTLE or kind >= POWER:
            return 0
        if letter >> 4 == arrived >> 4 or kind == PRESS:
            return quick
        if settled and kind in (EVENT, FEW, ONE):
            return quick  # the first change after a rest is no quick one
        return quick + 1
