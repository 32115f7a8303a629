"""A state machine that plays the bench at random: one rule lets something happen for a time.

First it draws what the run leaves out. Then hands, surroundings and one defect, or a latent
one and another, do as they like. At the end everything is mended and must work.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TypeVar

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from leafwinch.states import FAULT
from leafwinch_sim.board import MakeController
from leafwinch_sim.scenario import OBSTACLES, SAGS, WEATHER, Scenario
from leafwinch_sim.scenario_play import ScenarioPlayer
from leafwinch_sim.scripts import Step
from tests.sequences import alphabet as abc
from tests.sequences.catalogue import Catalogue

ACTS_BEFORE_MAX = 12  # the defect comes at the latest in this act


Rule = TypeVar("Rule", bound=Callable[..., None])


class EnoughError(BaseException):
    """Ends a search from within; not an Exception, so that nothing takes it for a finding."""


class FoundError(AssertionError):
    """A requirement is broken."""


@dataclass(frozen=True, slots=True)
class Finding:
    """A scenario that breaks a requirement, or that ends in an error of the program."""

    scenario: Scenario
    requirement: str
    text: str


@dataclass(slots=True)
class Task:
    """What a search looks for, how long, and what it found so far.

    Attributes:
        catalogues: the installations to draw from.
        make: maker of controllers for a catalogue's site; None for the sound firmware.
        never: parts of the alphabet that no run may use.
        mend: whether to mend at the end and expect a full cycle.
        shrink_runs: how many runs may follow the first finding.
        runs, simulated_ms: how much was played.
        finding: the last one, the shortest after shrinking.
        defects, masks, parts: ids that came, sets of parts switched off, parts not always off.
        pairs: breaks with a latent defect and another one, which are reported, not failures.
    """

    catalogues: tuple[Catalogue, ...]
    make: MakeController | None = None
    never: frozenset[str] = frozenset()
    mend: bool = True
    shrink_runs: int = 40
    runs: int = 0
    runs_since: int = 0
    enough: bool = False
    simulated_ms: int = 0
    finding: Finding | None = None
    pairs: dict[tuple[str, ...], Finding] = field(default_factory=dict)
    defects: set[str] = field(default_factory=set)
    masks: set[tuple[str, ...]] = field(default_factory=set)
    parts: set[str] = field(default_factory=set)

    def begin(self) -> None:
        """Count a run; raise EnoughError where shrinking has taken long enough."""
        self.runs += 1
        if self.finding is not None:
            self.runs_since += 1
            if self.runs_since > self.shrink_runs:
                self.enough = True
                raise EnoughError


def on(part: str) -> Callable[[Rule], Rule]:
    """Let a rule act only where its part of the alphabet is not switched off."""
    return precondition(lambda self: part not in self.scenario.switched_off)


class Sequences(RuleBasedStateMachine):
    """Plays one scenario while it is being drawn."""

    def __init__(self, task: Task) -> None:
        super().__init__()
        self.task = task
        self.catalogue = task.catalogues[0]
        self.scenario = Scenario()
        self.player: ScenarioPlayer | None = None
        self.acts: list[Step] = []
        self.broken: list[str] = []
        self.coming = ""  # the defect that comes in act `coming_act`, `coming_ms` after its begin
        self.coming_act = 0
        self.coming_ms = 0
        self.drawn_acts = 0
        self.over = False
        task.begin()

    # --- how a run begins ---------------------------------------------------------------

    @initialize(
        place=st.integers(0, 7),
        off=st.sets(st.sampled_from(abc.PARTS)),
        seed=st.integers(1, 99),
        spread=st.integers(0, 99),
        wraps_ms=abc.wraps_ms,
        starts_at=st.sampled_from(("bottom", "bottom", "top")),
        broken=st.sampled_from(("one", "one", "none", "one", "pair", "one")),
        ready=st.booleans(),
        data=st.data(),
    )
    def installation(
        self,
        place: int,
        off: set[str],
        seed: int,
        spread: int,
        wraps_ms: int,
        starts_at: str,
        broken: str,
        ready: bool,
        data: st.DataObject,
    ) -> None:
        """Draw which installation it is and what the run leaves out."""
        self.catalogue = self.task.catalogues[place % len(self.task.catalogues)]
        self.scenario = Scenario(
            site=self.catalogue.site,
            wiring=self.catalogue.wiring,
            starts_at=starts_at,
            seed=seed,
            clock_wraps_ms=wraps_ms,
            spread=abc.spread_of(spread),
            switched_off=tuple(sorted(off | self.task.never)),
            mend_at_end=self.task.mend,
        )
        self.task.masks.add(self.scenario.switched_off)
        self.task.parts |= set(abc.PARTS) - set(self.scenario.switched_off)
        self.player = ScenarioPlayer(self.scenario, self.task.make, judge_only=True)
        self.what_breaks(data, broken)
        if ready:
            self.do(abc.step_until("wait", "idle", 2000))

    def what_breaks(self, data: st.DataObject, broken: str) -> None:
        """Draw what breaks, in which act, and so long after its begin."""
        catalogue = self.catalogue
        if broken != "none":
            kind = data.draw(st.sampled_from(tuple(catalogue.by_kind)), "kind")
            self.coming = data.draw(st.sampled_from(catalogue.by_kind[kind]), "defect")
            self.coming_act = data.draw(st.integers(0, ACTS_BEFORE_MAX), "in act")
            self.coming_ms = data.draw(abc.lengths_ms, "after ms")
        if broken == "pair" and catalogue.latent:
            self.break_(data.draw(st.sampled_from(catalogue.latent), "latent"))

    # --- hands --------------------------------------------------------------------------

    @rule(way=abc.ways, ms=abc.lengths_ms)
    def travel(self, way: str, ms: int) -> None:
        self.do(abc.step(way, ms))

    @rule(ms=abc.lengths_ms)
    def release(self, ms: int) -> None:
        self.do(abc.step("release", ms))

    @rule(ms=abc.lengths_ms)
    def wait(self, ms: int) -> None:
        self.do(abc.step("wait", ms))

    @rule(ms=abc.lengths_ms)
    def reverse(self, ms: int) -> None:
        up = self.player is not None and self.player.bench.lever.target > 0
        self.do(abc.step("lower" if up else "raise", ms))

    @rule(way=abc.ways, ms=abc.lengths_ms, pause_ms=abc.pauses_ms, back_ms=abc.lengths_ms)
    def there_and_back(self, way: str, ms: int, pause_ms: int, back_ms: int) -> None:
        """Change the way after a short pause, as an impatient hand does."""
        other = "lower" if way == "raise" else "raise"
        self.do(abc.step(way, ms), abc.step("release", pause_ms), abc.step(other, back_ms))

    @rule(way=abc.ways, ms=abc.lengths_ms, event=st.sampled_from(abc.EVENTS), for_ms=abc.powers_ms)
    def hold_on(self, way: str, ms: int, event: tuple[str, str, str], for_ms: int) -> None:
        """Keep the control actuated while something comes and goes: nothing may start by it."""
        part, begin, end = event
        if part not in self.scenario.switched_off:
            self.do(abc.step(way, ms), abc.step(begin, for_ms), abc.step(end, 1500))

    @on("ends")
    @rule(way=abc.ways)
    def to_the_end(self, way: str) -> None:
        until = "top_end" if way == "raise" else "bottom_end"
        self.do(abc.step_until(way, until, 40_000))

    @on("ends")
    @rule(way=abc.ways, ms=abc.long_ms)
    def long_travel(self, way: str, ms: int) -> None:
        self.do(abc.step(way, ms))

    @on("ends")
    @rule(ms=abc.long_ms)
    def long_rest(self, ms: int) -> None:
        self.do(abc.step("release", ms))

    @on("taps")
    @rule(way=abc.ways, ms=abc.taps_ms, pause_ms=abc.lengths_ms)
    def tap(self, way: str, ms: int, pause_ms: int) -> None:
        self.do(abc.step(way, ms), abc.step("release", pause_ms))

    @on("halfway")
    @rule(way=abc.ways, ms=abc.lengths_ms)
    def halfway(self, way: str, ms: int) -> None:
        self.do(abc.step(f"halfway {way}", ms))

    @on("both")
    @rule(ms=abc.lengths_ms, then_ms=abc.lengths_ms)
    def both(self, ms: int, then_ms: int) -> None:
        self.do(abc.step("both", ms), abc.step("release", then_ms))

    @on("reset")
    @rule(ms=abc.presses_ms, then_ms=abc.lengths_ms)
    def press_reset(self, ms: int, then_ms: int) -> None:
        self.do(abc.step("press reset", ms), abc.step("let reset", then_ms))

    @on("reset")
    @rule(held=st.booleans(), ms=abc.lengths_ms)
    def lean_on_reset(self, held: bool, ms: int) -> None:
        self.do(abc.step("press reset" if held else "let reset", ms))

    @on("reset")
    @rule(ms=abc.lengths_ms)
    def clear(self, ms: int) -> None:
        self.do(abc.step("release", 400), abc.step("press reset", 2500), abc.step("let reset", ms))

    @precondition(lambda self: self.faulty())
    @rule()
    def put_right(self) -> None:
        """Take every hand away and reset, so that a sequence does not stay in a fault."""
        hands = self.player.bench.hands if self.player is not None else {}
        let_go = {
            "stop": "let stop",
            "key": "untwist key",
            "reset": "let reset",
            "isolated": "restore",
        }
        for name in [name for name, there in hands.items() if there and name != "link"]:
            self.do(abc.step(let_go.get(name, f"free {name}")))
        self.do(
            abc.step("release", 500),
            abc.step("press reset", 2500),
            abc.step_until("let reset", "idle", 3000),
        )

    @precondition(lambda self: self.faulty())
    @rule(way=abc.ways, ms=abc.lengths_ms)
    def put_right_and_go_on(self, way: str, ms: int) -> None:
        self.put_right()
        self.do(abc.step(way, ms))

    def faulty(self) -> bool:
        """Tell whether a fault is latched."""
        return self.player is not None and self.player.bench.state() == FAULT

    @on("stop")
    @rule(pressed=st.booleans(), ms=abc.lengths_ms)
    def stop(self, pressed: bool, ms: int) -> None:
        self.do(abc.step("press stop" if pressed else "let stop", ms))

    @on("key")
    @rule(turned=st.booleans(), ms=abc.lengths_ms)
    def key(self, turned: bool, ms: int) -> None:
        self.do(abc.step("turn key" if turned else "untwist key", ms))

    @on("key")
    @rule(final=abc.finals, pushed=st.booleans(), ms=abc.lengths_ms)
    def final(self, final: str, pushed: bool, ms: int) -> None:
        self.do(abc.step(f"push {final}" if pushed else f"free {final}", ms))

    @on("link")
    @rule(fitted=st.booleans(), ms=abc.lengths_ms)
    def link(self, fitted: bool, ms: int) -> None:
        self.do(abc.step("fit link" if fitted else "remove link", ms))

    @on("limits")
    @rule(limit=abc.limits, ms=abc.lengths_ms, then_ms=abc.lengths_ms)
    def push(self, limit: str, ms: int, then_ms: int) -> None:
        self.do(abc.step(f"push {limit}", ms), abc.step(f"free {limit}", then_ms))

    # --- surroundings -------------------------------------------------------------------

    @on("power")
    @rule(ms=abc.powers_ms, then_ms=abc.lengths_ms)
    def power_loss(self, ms: int, then_ms: int) -> None:
        self.do(abc.step("isolate", ms), abc.step("restore", then_ms))

    @on("brown-out")
    @rule(sag=st.sampled_from(SAGS), ms=abc.powers_ms, then_ms=abc.lengths_ms)
    def brown_out(self, sag: str, ms: int, then_ms: int) -> None:
        self.do(abc.step(f"come {sag}", ms), abc.step(f"go {sag}", then_ms))

    @on("obstacles")
    @rule(which=st.sampled_from(("obstacle_below", "obstacle_above")), ms=abc.lengths_ms)
    def obstacle(self, which: str, ms: int) -> None:
        self.come_or_go(which, ms)

    @on("weather")
    @rule(which=st.sampled_from(WEATHER), ms=abc.lengths_ms)
    def weather(self, which: str, ms: int) -> None:
        self.come_or_go(which, ms)

    def come_or_go(self, which: str, ms: int) -> None:
        there = self.player is not None and which in {d.id for d in self.player.bench.defects}
        self.do(abc.step(f"go {which}" if there else f"come {which}", ms))

    # --- judging ------------------------------------------------------------------------

    def do(self, *acts: Step) -> None:
        """Let acts happen one after the other, the defect in the midst of them when it is due."""
        for act in acts:
            due = self.coming if self.drawn_acts == self.coming_act else ""
            self.drawn_acts += 1
            if not due or due in self.broken:
                self.play(act)
            elif act.until or act.for_ms <= self.coming_ms:
                self.break_(due)
                self.play(act)
            else:
                self.play(replace(act, for_ms=self.coming_ms))
                self.break_(due)
                self.play(abc.step("wait", act.for_ms - self.coming_ms))

    def break_(self, name: str) -> None:
        """Let a defect come now."""
        self.broken.append(name)
        self.task.defects.add(name)
        self.play(abc.step(f"break {name}"))

    def play(self, act: Step) -> None:
        """Play one act on the bench; stop where a requirement breaks."""
        player = self.player
        if self.over or player is None:
            return
        self.acts.append(act)
        try:
            player.act(act)
        except Exception as error:
            self.fail(type(error).__name__, str(error))
        self.judge(player)

    def judge(self, player: ScenarioPlayer) -> None:
        """Fail where a requirement is broken; report it where a latent defect is one of two."""
        for name, broken in player.broken.items():
            pair = self.several(name)
            if pair:
                self.over = True
                self.task.pairs.setdefault(pair, Finding(self.drawn(), name, broken.text))
                return
            self.fail(name, broken.text)

    def several(self, requirement: str) -> tuple[str, ...]:
        """Return what is wrong besides each other, where R1 to R9 only promise it for one defect.

        Something in the deck's way is another thing where the current signal is wrong (R8).
        """
        in_the_way = sorted({a.object for a in self.acts if a.verb == "come"} & set(OBSTACLES))
        if len(self.broken) > 1 and requirement != "R10":
            return tuple(self.broken)
        if self.broken and in_the_way and requirement == "R8":
            return (*self.broken, *in_the_way)
        return ()

    def fail(self, requirement: str, text: str) -> None:
        """Note the finding and let Hypothesis know."""
        self.over = True
        self.task.finding = Finding(self.drawn(requirement), requirement, text)
        raise FoundError(f"{requirement}: {text}")

    def drawn(self, found: str = "") -> Scenario:
        """Return what was played so far as a scenario."""
        return replace(self.scenario, acts=tuple(self.acts), found=found)

    def teardown(self) -> None:
        """Mend everything and expect it to work, where nothing was found before."""
        player = self.player
        if player is None:
            return
        if not self.over:
            try:
                if self.task.mend:
                    player.mend()
                player.finish()
            except Exception as error:
                self.fail(type(error).__name__, str(error))
            self.judge(player)
        self.task.simulated_ms += player.bench.t_ms
