"""Plays a scenario on the bench act by act, judges it, and mends everything afterwards."""

import functools
from collections.abc import Mapping, Sequence

from leafwinch.numbers import TICKS_MASK
from leafwinch_sim.aftermath import Mender, broken_since
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect, find_defect
from leafwinch_sim.board import STEP_MS, MakeController
from leafwinch_sim.observation import Observation
from leafwinch_sim.operator import Operator
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.requirements import Broken
from leafwinch_sim.run import Player, RunResult
from leafwinch_sim.scenario import OBSTACLES, Scenario, act_words, is_surrounding, surroundings
from leafwinch_sim.scripts import Script, Step
from leafwinch_sim.settings_file import site_with_settings
from leafwinch_sim.site import Site, load_site
from leafwinch_sim.switches import Lever
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist, load_netlist

ALONE = ("R1", "R2", "R4")  # a start, or going on, that nobody asked for
# One more than where a defect alone was at work: hands may have used up the travel time both
# ways, and then an end must first be reached the other way.
ATTEMPTS = 3
BY_GRAVITY = ("R2", "R11")


@functools.cache
def installation(site: str, wiring: str, settings: str = "") -> tuple[Site, Netlist]:
    """Return site and netlist by name or path; empty wiring and settings are the site's own."""
    loaded = load_site(site)
    if settings:
        loaded = site_with_settings(loaded, settings)
    return loaded, load_netlist(wiring or loaded.wiring)


def hold_both(bench: Bench, held: bool) -> None:
    """Hold the contacts of the other direction as well, as two fingers can, or let go."""
    lever = bench.lever
    if held and lever.target == 0:
        lever.target = Lever.FULL
    for switch, way, _ in bench.control:
        switch.jammed = held and way * lever.target < 0
        if switch.jammed and not switch.actuated:
            switch.t_ms = 0  # makes the bench look at it though its lever does not move
    bench.hands_moved()


def take_away(bench: Bench, defect: Defect) -> None:
    """Mend a defect, or let one of the surroundings go; the hands look again."""
    tripped = bench.tripped
    bench.remove_defect(defect)
    if is_surrounding(defect):
        bench.tripped = tripped  # weather closes no breaker
    bench.hands_moved()


def take_over(
    verdicts: dict[str, Broken],
    broken: Mapping[str, Broken],
    seen: int,
    o: Observation,
    ever: Sequence[Defect],
    let_go: bool,
) -> None:
    """Add to verdicts the new breaks that count, not those that are the deck's own fall.

    Args:
        verdicts: first break of each requirement that counts, added to.
        broken: all breaks in order, as the monitors have them.
        seen: how many of them are old.
        o: the step at which the new ones came.
        ever: whatever came so far, mended since or not.
        let_go: whether an obstacle was taken away, on which the deck may have leant.
    """
    falls = any(isinstance(d, PlantDefect) and d.unpreventable for d in ever)
    for name in list(broken)[seen:]:
        unfed = name == "R1" and not o.powered_any
        if falls and (name in BY_GRAVITY or unfed):
            continue
        if let_go and name == "R11":
            continue
        verdicts[name] = broken[name]
        if name in ALONE and not all(is_surrounding(d) for d in ever):
            verdicts.setdefault("R6", broken[name])


class ScenarioPlayer:
    """A bench to which acts happen one after the other.

    Args:
        scenario: installation, seed and spread; its acts are not played by themselves.
        make: maker of controllers; the firmware in this interpreter by default.
        trace: whether to keep every step.
        judge_only: leave out what only a result needs (events, peaks, hash); for searches.

    `broken` holds the first break of each requirement so far that counts. What only gravity
    does while a listed unpreventable defect is there does not, nor does what a deck does from
    which an obstacle is taken: it falls by the slack, or springs by the pull of the rope.
    """

    def __init__(
        self,
        scenario: Scenario,
        make: MakeController | None = None,
        trace: bool = False,
        judge_only: bool = False,
    ) -> None:
        self.judge_only = judge_only
        self.scenario = scenario
        self.site, self.net = installation(scenario.site, scenario.wiring, scenario.settings)
        idle = Script(scenario.name, scenario.summary, scenario.starts_at, ())
        self.bench = Bench(self.site, self.net, idle, scenario.seed, scenario.spread, make)
        if self.bench.board is not None:
            self.bench.board.start_ms = (TICKS_MASK + 1 - scenario.clock_wraps_ms) & TICKS_MASK
        self.player = Player(self.site, self.net, trace)
        self.around = surroundings(self.site)
        self.ever: list[Defect] = []  # whatever came, mended since or not
        self.came: list[tuple[str, int]] = []  # ids of defects and the times at which they came
        # What the deck leant on was taken away: it falls by the slack, or springs by the pull.
        self.let_go = False
        self.broken: dict[str, Broken] = {}
        self.seen = 0  # requirements that the monitors have told of
        self.acts = 0

    def play(self) -> RunResult:
        """Play every act of the scenario, mend where it says so, and return what came of it."""
        for act in self.scenario.acts:
            self.act(act)
        if self.scenario.mend_at_end:
            self.mend()
        return self.finish()

    def act(self, act: Step) -> None:
        """Let one act happen and its time go by.

        Raises:
            BadInput: the act names a defect or surrounding that this installation has not.
        """
        bench = self.bench
        self.acts += 1
        self.player.teller.events.append((bench.t_ms, f"act {self.acts}: {act_words(act)}"))
        self.player.teller.given_up = 0
        hold_both(self.bench, act.verb == "both")
        if act.verb in ("come", "break"):
            self._come(self._named(act))
        elif act.verb in ("go", "mend"):
            self._go(self._named(act))
        bench.operator = Operator(Script(act.verb, "", "bottom", (act,)))
        if act.until:
            while not bench.operator.done():
                self.advance()
            return
        bench.operator.step(bench, 0)
        for _ in range(act.for_ms // STEP_MS):
            self.advance()

    def advance(self) -> None:
        """Let one control step of 5 ms go by and judge it."""
        if self.judge_only:
            o = self.bench.step()
            self.player.monitors.step(o)
        else:
            o = self.player.advance(self.bench)
        if len(self.player.monitors.broken) != self.seen:
            self._judge(o)

    def mend(self) -> None:
        """Take every defect and surrounding away, reset, and expect a full cycle both ways."""
        bench = self.bench
        if bench.board is None:
            return
        self._hands_off()
        before = tuple(self.player.monitors.broken)
        seen = dict(self.broken)
        mender = Mender(bench, self.advance)
        mender.leave_finals()
        text = mender.why_not(True, ATTEMPTS) or broken_since(before, self.player.monitors)
        # What breaks only after mending is one finding of its own.
        self.broken = seen
        if text:
            self.broken["R10"] = Broken(bench.t_ms, text)
            self.player.teller.events.append((bench.t_ms, f"R10 broken: {text}"))

    def finish(self) -> RunResult:
        """Return what came of everything that happened so far."""
        if not self.ever:
            monitors = self.player.monitors
            monitors.finish(self.bench.t_ms, Operator(Script("", "", "bottom", ())))
            for name, broken in monitors.broken.items():
                self.broken.setdefault(name, broken)
        self.player.sum_up(self.bench, self.broken)
        return self.player.result

    def _judge(self, o: Observation) -> None:
        """Take over new breaks, but for those that are the deck's own fall."""
        monitors = self.player.monitors
        take_over(self.broken, monitors.broken, self.seen, o, self.ever, self.let_go)
        self.seen = len(monitors.broken)

    def _named(self, act: Step) -> Defect:
        if act.verb in ("break", "mend"):
            return find_defect(self.site, self.net, act.object)
        found = self.around.get(act.object)
        if found is None:
            raise BadInput(
                f"{self.site.name} has no '{act.object}'; it has {', '.join(self.around)}."
            )
        return found

    def _come(self, defect: Defect) -> None:
        self.bench.add_defect(defect)
        self.ever.append(defect)
        if not is_surrounding(defect):
            self.came.append((defect.id, self.bench.t_ms))
        self.player.teller.defect(self.bench.t_ms, defect)

    def _go(self, defect: Defect) -> None:
        if defect.id in OBSTACLES:
            self.let_go = True
        take_away(self.bench, defect)

    def _hands_off(self) -> None:
        """Mend and clear everything, and take every hand away."""
        bench = self.bench
        hold_both(self.bench, False)
        rope = any(isinstance(d, PlantDefect) and not is_surrounding(d) for d in bench.defects)
        for defect in bench.defects:
            self._go(defect)
        if rope:
            # Nobody mends a machine with its rope under load: it is slackened and rewound.
            bench.plant.refit_rope()
        bench.hands.clear()
        bench.lever.target = 0
        bench.hands_moved()


def play_scenario(
    scenario: Scenario, make: MakeController | None = None, trace: bool = True
) -> RunResult:
    """Play a whole scenario; see ScenarioPlayer."""
    return ScenarioPlayer(scenario, make, trace).play()
