"""The state machine of the reference model, and the order of one pass."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from transitions.extensions.nesting import HierarchicalMachine

from leafwinch_sim.reference_model.memory import SERIOUS, Memory
from leafwinch_sim.reference_model.rules_chain import ChainRules
from leafwinch_sim.reference_model.rules_contactors import ContactorRules
from leafwinch_sim.reference_model.rules_control import END_OF, ControlRules
from leafwinch_sim.reference_model.rules_motor import BUCKETS, STALLED, CurrentRules, HeatRules
from leafwinch_sim.reference_model.rules_travel import BudgetRules, EndRules, SlackRules
from leafwinch_sim.reference_model.senses import Senses
from leafwinch_sim.reference_model.timing import Clock, Held

SUPPLY_LOST = 1
LOOP_LATE = 39
SETTINGS_BAD = 40
SETTINGS_FOREIGN = 41
WATCHDOG = 42
SELF_TEST_FAILED = 43

WINDOW_MS = 40.0  # contacts of one cause may open this far apart
DEMAND_MS = 300.0
PULSE_MS = 500.0
JUST_ENDED_MS = 1000.0
PRESS_MS = (2000.0, 10000.0)

_SEQUENCE = ["waiting", "direction", "line", "running"]
STATES: list[Any] = [
    "held",
    "idle",
    {"name": "raising", "initial": "waiting", "children": _SEQUENCE},
    {"name": "lowering", "initial": "waiting", "children": _SEQUENCE},
    "fault",
]
TRANSITIONS: list[dict[str, Any]] = [
    {"trigger": "prove_ready", "source": "held", "dest": "idle"},
    {"trigger": "start_raise", "source": "idle", "dest": "raising"},
    {"trigger": "start_lower", "source": "idle", "dest": "lowering"},
    *(
        {"trigger": f"prove_{after}", "source": f"{way}_{before}", "dest": f"{way}_{after}"}
        for way in ("raising", "lowering")
        for before, after in pairwise(_SEQUENCE)
    ),
    {"trigger": "lock_out", "source": ["idle", "raising", "lowering"], "dest": "held"},
    {"trigger": "latch", "source": "held", "dest": "fault"},
    {"trigger": "reset", "source": "fault", "dest": "held"},
]
NUMBER_OF = {"held": 0, "idle": 1, "raising": 2, "lowering": 3, "fault": 4}
OFFS = frozenset(("raise_off", "lower_off"))
PATHS = frozenset(("raise_path", "lower_path"))
MIRRORS = frozenset(("line_released", "raise_released", "lower_released"))
RESETTABLE = MIRRORS | {"stop_ok", "top_final", "bottom_final", "chain_ok", "recovery_off"}


def machine_of(model: object, initial: str = "held") -> HierarchicalMachine:
    """Return the machine of states and transitions with model as its model."""
    return HierarchicalMachine(
        model, states=STATES, transitions=TRANSITIONS, initial=initial, auto_transitions=False
    )


class ReferenceModel:
    """Predicts state, motor outputs and fault of every pass from the same inputs.

    Args:
        settings: every setting of the installation by name.
        memory: what survived the last power loss, or None for nothing.
        boot: 1 watchdog, 2 settings bad, 4 settings of another site or wiring, 8 self-test failed.
        envelope: learned currents: raise low, raise high, lower low, lower high.
    """

    def __init__(
        self,
        settings: Mapping[str, int],
        memory: Memory | None = None,
        boot: int = 0,
        envelope: Sequence[Sequence[int]] | None = None,
    ) -> None:
        self.settings = settings
        self.clock = Clock()
        self.senses = Senses(settings["supply_low_mv"])
        self.chain = ChainRules()
        self.control = ControlRules()
        self.contactors = ContactorRules(settings["pull_ms"], settings["release_ms"])
        self.ends = EndRules()
        self.budget = BudgetRules(settings)
        self.slack = SlackRules(settings)
        self.current = CurrentRules(settings, envelope)
        self.heat = HeatRules(settings)
        self.fault = 0
        self.record_due = False
        self.pulse_high = False
        self._window_since: float | None = None
        self._candidates: set[int] = set()
        self._halfway = False  # the last travel was stopped by its path alone
        self._demand = Held()
        self._press = Held()
        self._press_counts = False
        self._away = ""  # recovery: the only way that is open
        self._key_to_release = False
        if memory is not None:
            self._remember(memory)
        self._boot(boot)
        self.state = ""
        machine_of(self, "fault" if self.fault else "held")

    # --- what survives ------------------------------------------------------------

    def _remember(self, memory: Memory) -> None:
        self.fault = memory.fault
        self.chain.met = dict(memory.met)
        self.heat.level = min(1.0, memory.heat + self.heat.unseen)
        self.heat.duty = memory.duty
        self.current.blocked = min(max(self.current.blocked, memory.blocked), 2000.0)
        self.budget.extra_used = set(memory.extra_used)
        self.budget.at_start.update(memory.at_start)
        self.slack.paid_slack = memory.paid_slack
        self.ends.drifts = memory.drifts
        self.control.doubted = set(memory.doubted)
        self.contactors.parked_high = memory.parked_high

    def _boot(self, boot: int) -> None:
        if boot & 1 and not self.fault:
            self.fault = WATCHDOG
        if boot & 8:
            self.fault = SELF_TEST_FAILED
        if boot & 4:
            self.fault = SETTINGS_FOREIGN
        if boot & 2:
            self.fault = SETTINGS_BAD

    def memory(self) -> Memory:
        """Return what would survive a power loss now."""
        return Memory(
            self.fault if self.fault in SERIOUS else 0,
            dict(self.chain.met),
            self.heat.level,
            self.heat.duty,
            self.current.blocked,
            frozenset(self.budget.extra_used),
            dict(self.budget.at_start),
            self.slack.paid_slack,
            self.ends.drifts,
            frozenset(self.control.doubted),
            self.contactors.parked_high,
        )

    def stored(self, now_ms: int) -> None:
        """The record was written, during which the loop stood still."""
        self.record_due = False
        self.clock.skip_to(now_ms)
        self.senses.forget()
        self._forget()

    # --- prediction ---------------------------------------------------------------

    @property
    def state_number(self) -> int:
        """The state as a number: 0 held, 1 idle, 2 raising, 3 lowering, 4 fault."""
        return NUMBER_OF[self.state.split("_")[0]]

    def outputs(self) -> tuple[bool, bool, bool]:
        """Return (raise commanded, lower commanded, level of the pump's pin)."""
        phase = self.contactors.phase
        commanded = phase not in ("", "waiting")
        way = self.contactors.way
        return commanded and way == "raise", commanded and way == "lower", self.pulse_high

    def uncertain(self) -> bool:
        """Tell whether a thermal limit is too near for a prediction in floats."""
        return self.heat.uncertain()

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> None:
        """Predict one pass; arguments as of the firmware's step."""
        clock = self.clock
        clock.tick(now_ms)
        if clock.late and self.contactors.phase:
            self._suspect([LOOP_LATE])
        self.senses.look(clock, contacts, supply_mv)
        self.current.sample(clock, current_ma)
        if self.senses.believable():
            self._see(frozenset(self.senses.closed))
        else:
            self._blind()
        if self.contactors.line_commanded():
            self.pulse_high = not self.pulse_high
        else:
            self.pulse_high = self.contactors.parked_high

    def _blind(self) -> None:
        """No contact can be believed: nothing runs, nothing is proven."""
        if not self.senses.supplied and (self._travelling() or self._window_since is not None):
            self._suspect([SUPPLY_LOST])
        if self._travelling():
            self._end_travel("blind")
        elif self.state == "idle":
            self._lock_out()
        self._forget()
        self.heat.judge(self.clock, self.current.value, False)
        self._find_cause(None)
        if not self.senses.supplied:
            self.contactors.way = ""

    def _forget(self) -> None:
        for rules in (self.control, self.chain, self.ends, self.contactors, self.current):
            rules.forget()
        self._press.restart()
        self._press_counts = False
        self._demand.restart()

    def _see(self, closed: frozenset[str]) -> None:
        seen = set(closed)
        if self.current.stalled():
            self._suspect([STALLED])
        if self._away and self.chain.excused in seen:
            self._away = ""
            self._key_to_release = True
            if self._travelling():
                self._end_travel("final closed")
        elif self._key_to_release and "recovery_off" in seen:
            self._leave_recovery()
        self._judge(seen)
        if self._travelling():
            why = self._why_stop(seen)
            if why:
                self._end_travel(why)
        elif self.state == "idle" and self._window_since is not None:
            self._lock_out()
        self._find_cause(seen)
        self._watch_reset(seen)
        if self.state == "held":
            if self._may_be_ready(seen):
                self._fire("prove_ready")
        elif self.state == "idle":
            self._demanded(seen)
        elif self._travelling():
            phase = self.contactors.next_phase(seen)
            if phase:
                self._fire(f"prove_{phase}")
                self.contactors.enter(phase)

    def _fire(self, name: str) -> None:
        """Make a named transition; one that the state does not have raises MachineError."""
        getattr(self, name)()

    def _travelling(self) -> bool:
        return self.state.startswith(("raising", "lowering"))

    # --- supervision ----------------------------------------------------------------

    def _judge(self, seen: set[str]) -> None:
        clock = self.clock
        contactors = self.contactors
        energised = contactors.energised(seen)
        way = contactors.way
        over = not contactors.phase and not energised and contactors.off.age >= JUST_ENDED_MS
        travel = "" if over else way
        recovering = bool(self._away) or self._key_to_release
        self._suspect(self.chain.judge(clock, seen, travel, recovering))
        self._suspect(self.ends.judge(clock, seen, energised, travel))
        self._suspect(self.control.judge(clock, seen))
        self._suspect(contactors.judge(clock, seen))
        self._suspect(self.budget.judge(clock, seen, energised, way))
        if energised:
            self._suspect(self.slack.judge(clock, seen, way, self.budget))
            part = self._part(way)
            self._suspect(self.current.judge(clock, way, contactors.run.age, part))
        else:
            self._suspect(self.current.judge_rest(clock))
        self._suspect(self.heat.judge(clock, self.current.value, energised))

    def _part(self, way: str) -> int | None:
        if not self.budget.known:
            return None
        way = way if way == "raise" else "lower"
        share = self.budget.spent[way] / self.budget.healthy[way]
        return min(int(share * BUCKETS), BUCKETS - 1)

    def _suspect(self, faults: list[int]) -> None:
        if faults and self.state != "fault":
            self._candidates.update(faults)
            self._open_window()

    def _open_window(self) -> None:
        if self._window_since is None:
            self._window_since = self.clock.before

    def _find_cause(self, seen: set[str] | None) -> None:
        """Once every contact had its time, latch the most upstream cause."""
        if self._window_since is None or self.clock.before - self._window_since < WINDOW_MS:
            return
        self._window_since = None
        if self._candidates:
            self.fault = min(self._candidates)
            self._candidates = set()
            self._fire("latch")
            self._leave_recovery()
            self.record_due = self.record_due or self.fault in SERIOUS
        elif self._halfway and seen:
            self._explain(seen)
        self.budget.over()

    def _explain(self, seen: set[str]) -> None:
        way = self.contactors.way or "lower"
        if self.control.doubt_where_only_the_path_spoke(way, seen):
            return
        if END_OF[way] not in seen:
            self.ends.drifts = 0
            self._halfway = False
        elif f"{way}_off" in seen:
            self._halfway = False

    # --- stopping -----------------------------------------------------------------

    def _why_stop(self, seen: set[str]) -> str:
        way = self.contactors.way
        if self._window_since is not None:
            return "cause"
        if END_OF[way] not in seen:
            return "end"
        if self.control.asked != way:
            return "released" if f"{way}_off" in seen else "halfway"
        if (self._away or self._key_to_release) and self.contactors.run.age >= PULSE_MS:
            return "pulse"
        return ""

    def _end_travel(self, why: str) -> None:
        self._lock_out()
        self._halfway = why == "halfway"
        self.control.fresh = False
        if why == "end":
            self.ends.drifts = 0
        self._open_window()
        self.record_due = True

    def _lock_out(self) -> None:
        self._fire("lock_out")
        self._held()

    def _held(self) -> None:
        if self.contactors.phase:
            self.contactors.stop()
        self.control.neutral.restart()

    def _leave_recovery(self) -> None:
        self._away = ""
        self._key_to_release = False
        self.chain.excused = ""

    # --- reset --------------------------------------------------------------------

    def _watch_reset(self, seen: set[str]) -> None:
        if "reset" in seen:
            self._press.watch(self.clock, True)
            return
        pressed = self._press.age
        deliberate = self._press_counts and PRESS_MS[0] <= pressed <= PRESS_MS[1]
        self._press.restart()
        self._press_counts = True
        if deliberate and self.state == "fault":
            self._reset(seen)

    def _reset(self, seen: set[str]) -> None:
        gone = seen >= MIRRORS and not self.current.rest_over and not self.current.stalled()
        repaired = self.fault not in (SETTINGS_BAD, SETTINGS_FOREIGN)
        if not (gone and repaired and seen >= OFFS and not PATHS & seen):
            return
        final = self.chain.bridged_final(seen)
        if final:
            towards = "raise" if final == "top_final" else "lower"
            if self.chain.met.get(final) != towards:
                return
            self._away = "lower" if towards == "raise" else "raise"
            self.chain.excused = final
        else:
            neutral = self.control.neutral.age >= 300.0
            if not (seen >= RESETTABLE and neutral and {"top_end", "bottom_end"} & seen):
                return
        if "service_link" in seen:
            self.current.allow_one_start()
            self.budget.allow_leaving()
        self.fault = 0
        self._halfway = False
        self.record_due = True
        self._fire("reset")
        self._held()

    # --- starting -----------------------------------------------------------------

    def _may_be_ready(self, seen: set[str]) -> bool:
        return (
            self._window_since is None
            and "chain_ok" in seen
            and not self._key_to_release
            and seen >= MIRRORS
            and seen >= OFFS
            and not PATHS & seen
            and self.control.neutral.age >= 300.0
            and self.contactors.quiet.age >= self.settings["pause_ms"]
            and not self.record_due
            and not self.heat.too_warm()
            and not self.heat.too_busy()
        )

    def _demanded(self, seen: set[str]) -> None:
        neutral = seen >= OFFS and not PATHS & seen
        waited = self._demand.watch(self.clock, not neutral)
        if neutral:
            return
        way = self.control.asked
        if not way:
            towards = any(
                f"{way}_off" not in seen and end not in seen for way, end in END_OF.items()
            )
            if towards or waited > DEMAND_MS:
                self._refuse()
        elif self._start_refused(way, seen):
            self._refuse()
        else:
            self._demand.restart()
            self.budget.start(way, seen)
            self._fire(f"start_{way}")
            self.contactors.start(way)

    def _start_refused(self, way: str, seen: set[str]) -> bool:
        if (self._away and way != self._away) or END_OF[way] not in seen:
            return True
        if not self.budget.allows(way, "service_link" in seen):
            return True
        return way == "lower" and self.slack.forbids_lowering(seen, self.budget)

    def _refuse(self) -> None:
        self._demand.restart()
        self._lock_out()
