"""One bench that goes on as long as somebody looks: hands, defects, verdicts, and the way back."""

from dataclasses import dataclass
from typing import Any

from leafwinch.numbers import TICKS_MASK
from leafwinch_host.page.happened import Happened
from leafwinch_host.page.rewind import Moment, moment_of, rewind_to
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.observation import Observation
from leafwinch_sim.operator import Operator
from leafwinch_sim.requirements import Broken
from leafwinch_sim.run import Player
from leafwinch_sim.scenario import OBSTACLES, Scenario, act_words, is_surrounding
from leafwinch_sim.scenario_play import hold_both, take_away, take_over
from leafwinch_sim.scripts import Script, Step
from leafwinch_sim.site_schema import Site
from leafwinch_sim.switches import Lever
from leafwinch_wiring.netlist import Netlist

ROWS_MAX = 120_000
"""Steps kept for the trace: ten minutes of bench time."""

ROWS_SLACK = 12_000  # so many more before the oldest are dropped, which takes a while
EVENTS_MAX = 300  # every moment to go back to keeps them
CIRCUITS_MAX = 64  # networks with defects that are kept for the next time

BY_HAND = Script("hands", "whatever the hands do", "bottom", ())


@dataclass(frozen=True, slots=True)
class Opening:
    """How a play begins: with a script, with a scenario, or with neither, at the hands' will.

    `defects` come by themselves: ids and times in ms. `seed` replaces the page's, unless it is
    negative.
    """

    script: Script | None = None
    scenario: Scenario | None = None
    defects: tuple[tuple[str, int], ...] = ()
    seed: int = -1

    @property
    def name(self) -> str:
        """Name of the script or scenario; `hands` without either."""
        if self.scenario is not None:
            return self.scenario.name
        return self.script.name if self.script is not None else BY_HAND.name


class Play:
    """A bench with the player that judges it and keeps its trace.

    Args:
        site, net: the installation.
        seed: of bounce, skew and noise; a scenario brings its own.
        opening: what it begins with.
        trace: whether to keep the last ROWS_MAX steps.

    `begun` says how it began, `happened` what was done since.

    `verdicts` holds the first break of each requirement that counts: not what only gravity does
    while a listed unpreventable defect is there, nor what the deck does as an obstacle is taken
    from it. `over` turns true at the end of a script or scenario.
    """

    def __init__(
        self, site: Site, net: Netlist, seed: int, opening: Opening, trace: bool = True
    ) -> None:
        scenario = opening.scenario
        script = opening.script or BY_HAND
        seed = seed if opening.seed < 0 else opening.seed
        begun = scenario or Scenario(opening.name, starts_at=script.starts_at, seed=seed)
        if scenario is not None:
            script = Script(scenario.name, scenario.summary, scenario.starts_at, ())
        self.site = site
        self.net = net
        self.seed = begun.seed
        self.opening = opening
        self.begun = begun
        self.bench = Bench(site, net, script, begun.seed, begun.spread)
        if script is BY_HAND:
            self.bench.hands_moved()  # or the limits would look at the deck only once it moves
        if scenario is not None and self.bench.board is not None:
            wraps_ms = scenario.clock_wraps_ms
            self.bench.board.start_ms = (TICKS_MASK + 1 - wraps_ms) & TICKS_MASK
        self.happened = Happened(self.bench)
        self.both = False  # whether the control is held both ways
        self.touched = False  # whether a hand did something since the last step
        self.player = Player(site, net, trace)
        self.mask = self.bench.mask  # closed elements after the last step; the bench's own may wait
        self.dropped = 0  # rows of the trace that were too old to be kept
        self.acts = 0  # of the scenario that have begun
        self.left_ms = 0  # of the present one
        self.playing = opening.script is not None or scenario is not None
        self.over = False
        self.ever: tuple[Defect, ...] = ()  # whatever came, mended since or not
        self.came: tuple[tuple[str, int], ...] = ()  # ids and times in ms, surroundings left out
        self.let_go = False  # an obstacle was taken away
        self.verdicts: dict[str, Broken] = {}
        self.seen = 0  # breaks that the monitors have told of

    # --- time ------------------------------------------------------------------------

    def advance(self) -> Observation:
        """Let one control step of 5 ms go by, judge it, and return what it shows."""
        t_ms = self.bench.t_ms
        o = self.player.advance(self.bench)
        self.happened.look(t_ms, self.bench, self.both, self.touched)
        self.touched = False
        self.mask = self.bench.mask
        self.left_ms -= STEP_MS
        if len(self.player.monitors.broken) != self.seen:
            self._judge(o)
        if self.playing and self.opening.script is not None and self.bench.operator.done():
            self._finish()
        rows = self.player.rows
        if rows is not None and len(rows) >= ROWS_MAX + ROWS_SLACK:
            self.dropped += len(rows) - ROWS_MAX
            del rows[: len(rows) - ROWS_MAX]
        events = self.player.teller.events
        if len(events) > 2 * EVENTS_MAX and self.player.teller.stopped < 0:
            del events[:-EVENTS_MAX]
        return o

    def next_act(self) -> Step | None:
        """Return the act of the scenario that begins before the next step, None for none.

        Whoever asks carries out what comes or goes, then calls `begin_act`. At the end of the
        last act the play is over.
        """
        scenario = self.opening.scenario
        if not self.playing or scenario is None:
            return None
        if self.acts:
            act = scenario.acts[self.acts - 1]
            busy = not self.bench.operator.done() if act.until else self.left_ms >= STEP_MS
            if busy:
                return None
        if self.acts == len(scenario.acts):
            self._finish()
            return None
        act = scenario.acts[self.acts]
        self.acts += 1
        teller = self.player.teller
        teller.events.append((self.bench.t_ms, f"act {self.acts}: {act_words(act)}"))
        teller.given_up = 0
        self._hold_both(act.verb == "both")
        return act

    def begin_act(self, act: Step) -> None:
        """Let the hands do what an act says."""
        bench = self.bench
        bench.operator = Operator(Script(act.verb, "", "bottom", (act,)))
        self.left_ms = act.for_ms
        self.touched = True
        if not act.until:
            bench.operator.step(bench, 0)

    def take_over(self) -> None:
        """End script or scenario: from now on only the hands move anything."""
        if self.playing:
            self.playing = False
            self._hold_both(False)
            self.bench.operator = Operator(BY_HAND)
            self.bench.lever.target = 0
            self._touch()

    def _touch(self) -> None:
        self.touched = True
        self.bench.hands_moved()

    def _finish(self) -> None:
        """Close a script or scenario; what must be judged at its end is judged."""
        self.playing = False
        self.over = True
        if not self.ever:
            monitors = self.player.monitors
            operator = self.bench.operator
            monitors.finish(self.bench.t_ms, operator)
            self.player.teller.broken(monitors)
            self._judge(self.bench.observation)

    # --- hands -----------------------------------------------------------------------

    def lever(self, way: int) -> None:
        """Put the control to raise (1), lower (-1) or let it go (0)."""
        if self.bench.lever.target != way * Lever.FULL:
            verb = {1: "raise", -1: "lower", 0: "release"}[way]
            self.touched = True
            self.bench.operator.begin(self.bench, Step(verb, "", 0, "", ""))

    def hand(self, name: str, pressed: bool) -> None:
        """Put a hand on a switch, by the bench's name for it, or take it away."""
        if self.bench.hands.get(name, False) != pressed:
            self.bench.hands[name] = pressed
            self._touch()

    def follow(self, leader: "Play") -> None:
        """Do with the hands what is done on another bench at this moment."""
        bench, other = self.bench, leader.bench
        if bench.hands != other.hands or bench.lever.target != other.lever.target:
            bench.hands = dict(other.hands)
            bench.lever.target = other.lever.target
            bench.hands_moved()

    def place(self, angle_rad: float) -> None:
        """Begin with the deck at an angle, at rest on its rope."""
        wall_rad = self.bench.plant.deck.mechanism.angle_limit_rad
        self.bench.plant.place(max(0.0, min(angle_rad, wall_rad - 0.05)))
        self.bench.settle_limits()
        self.bench.hands_moved()

    def _hold_both(self, held: bool) -> None:
        self.both = held
        self.touched = True
        hold_both(self.bench, held)

    # --- defects ---------------------------------------------------------------------

    def add(self, defect: Defect, by_hand: bool = True) -> None:
        """Let a defect or one of the surroundings come at this moment.

        `by_hand` is whether somebody does that, as an act of a scenario does; the defects of
        `leafwinch run` come by themselves.
        """
        bench = self.bench
        if defect in bench.defects:
            return
        bench.add_defect(defect)
        if by_hand:
            self._touch()
        self.ever = (*self.ever, defect)
        if not is_surrounding(defect):
            self.came = (*self.came, (defect.id, bench.t_ms))
        self.player.teller.defect(bench.t_ms, defect)
        self._prune()

    def remove(self, defect: Defect) -> None:
        """Mend a defect, or let one of the surroundings go."""
        bench = self.bench
        if defect not in bench.defects:
            return
        if defect.id in OBSTACLES:
            self.let_go = True
        take_away(bench, defect)
        self.touched = True
        self._prune()

    def _prune(self) -> None:
        """Forget networks of earlier defects, so that hours of trying do not fill the memory."""
        bench = self.bench
        if len(bench.circuits) > CIRCUITS_MAX:
            used = (bench.circuit, bench.other_circuit, bench.solved)
            bench.circuits = {
                defects: circuit
                for defects, circuit in bench.circuits.items()
                if not defects or circuit in used
            }

    # --- verdicts --------------------------------------------------------------------

    def _judge(self, o: Observation) -> None:
        """Take over new breaks, but for those that are the deck's own fall."""
        broken = self.player.monitors.broken
        take_over(self.verdicts, broken, self.seen, o, self.ever, self.let_go)
        self.seen = len(broken)

    # --- the way back ----------------------------------------------------------------

    def moment(self) -> Moment:
        """Return the whole state at this time."""
        own = (
            self.acts,
            self.left_ms,
            self.playing,
            self.over,
            self.ever,
            self.came,
            self.let_go,
            tuple(self.verdicts.items()),
            self.seen,
            len(self.happened.acts),
            self.both,
        )
        rows = self.player.rows
        return moment_of(self.bench, self.player, self.dropped + len(rows or ()), own)

    def rewind(self, moment: Moment) -> None:
        """Take over a state that this play was in before."""
        own = rewind_to(self.bench, self.player, moment)
        (
            self.acts,
            self.left_ms,
            self.playing,
            self.over,
            self.ever,
            self.came,
            self.let_go,
            verdicts,
            self.seen,
            acts,
            self.both,
        ) = own
        self.happened.back(acts, self.bench, self.both)
        self.verdicts = dict(verdicts)
        self.mask = self.bench.mask
        rows = self.player.rows
        if rows is not None:
            del rows[max(0, moment.rows - self.dropped) :]

    def rows(self) -> list[tuple[Any, ...]]:
        """Return a copy of the steps kept for the trace."""
        return list(self.player.rows or ())
