"""Plays one script on one installation from begin to end and sums up what came of it."""

import hashlib
import struct
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect, find_defect
from leafwinch_sim.board import STEP_MS, ControllerLike, MakeController
from leafwinch_sim.observation import Observation
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.requirements import Broken, Monitors
from leafwinch_sim.run_events import Event, Teller
from leafwinch_sim.scripts import Script
from leafwinch_sim.site_schema import Site
from leafwinch_sim.spread import NOMINAL, Spread
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist, load_netlist

INTERPRETERS = ("cpython", "micropython")
INRUSH_MS = 400  # a start's current is told apart from the running current

TRACE_COLUMNS: tuple[str, ...] = (
    "t_ms",
    "asked",
    "state",
    "fault",
    "held_reasons",
    "contacts",
    "outputs",
    "supply_mv",
    "current_ma",
    "current_a",
    "powered_way",
    "brake_set",
    "angle_deg",
    "rope_out_mm",
    "drum_turns",
    "slack_mm",
    "tension_n",
    "buffer_force_n",
    "motor_rad_s",
)

Observer = Callable[[Bench, Observation], None]

_HASHED = struct.Struct("<12i6d")


@dataclass(slots=True)
class RunResult:
    """What came of one run.

    Attributes:
        state: number of the final state, or None without a controller or with it unpowered.
        fault: number of the fault latched at the end, 0 for none.
        requirements: each judged requirement and the second at which it first broke, or None.
        broken: the first break of each broken requirement in words.
        travel_s: seconds for which the motor was fed, in all.
        peak_rope_n: greatest mean tension of the two rope parts.
        peak_current_a: greatest motor current; peak_running_a: from 0.4 s after each start.
        overrun_mm: longest way of the free end from a stop to standstill.
        rope_overrun_mm: longest way of the rope after the control was released.
        reaction_ms: longest time from a stop to no current and the brake set.
        drop_mm: longest way of the free end with everything off.
        interpreter: what ran the firmware.
        hash: SHA-256 over every step; equal runs have equal hashes on every interpreter.
        trace: columns of equal length, one row every 5 ms; empty if not asked for.
        events: (t_ms, words), ascending.
        given_up, surprised: steps of the script, from 0, that waited in vain or ended
            otherwise than they expect.
        faults: numbers of all faults latched, in order.
    """

    state: int | None = None
    fault: int = 0
    requirements: dict[str, float | None] = field(default_factory=dict)
    broken: dict[str, Broken] = field(default_factory=dict)
    travel_s: float = 0.0
    peak_rope_n: float = 0.0
    peak_current_a: float = 0.0
    peak_running_a: float = 0.0
    overrun_mm: float = 0.0
    rope_overrun_mm: float = 0.0
    reaction_ms: int = 0
    drop_mm: float = 0.0
    interpreter: str = INTERPRETERS[0]
    hash: str = ""
    trace: dict[str, list[Any]] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)
    given_up: tuple[int, ...] = ()
    surprised: tuple[int, ...] = ()
    faults: list[int] = field(default_factory=list)


def run_script(
    site: Site,
    script: Script,
    wiring: Netlist | str | None = None,
    defects: Iterable[tuple[Defect | str, int]] = (),
    seed: int = 1,
    spread: Spread = NOMINAL,
    interpreter: str = INTERPRETERS[0],
    trace: bool = True,
    progress: Callable[[int], None] | None = None,
    make: MakeController | None = None,
    observer: Observer | None = None,
) -> RunResult:
    """Play a script and judge it by every requirement.

    Args:
        site: what is installed.
        script: what the operator does.
        wiring: netlist or its name; the site's own by default.
        defects: (defect or its id, bench time in ms at which it comes).
        seed: of bounce, contact skew and noise.
        spread: which healthy draw this installation is.
        interpreter: one of INTERPRETERS; under "micropython" both run in lockstep.
        trace: whether to keep every step.
        progress: called with the bench time in ms once a simulated second.
        make: maker of controllers instead of the interpreter's.
        observer: called after every step with the bench and what it shows; it only looks.

    Raises:
        BadInput: for an unknown defect, netlist or interpreter, or bad settings.
        LockstepDifference: where the two interpreters disagree.
    """
    net = wiring if isinstance(wiring, Netlist) else load_netlist(wiring or site.wiring)
    coming = sorted(
        ((find_defect(site, net, d) if isinstance(d, str) else d, t_ms) for d, t_ms in defects),
        key=lambda item: item[1],
    )
    player = Player(site, net, trace, observer)
    if make is None and interpreter != INTERPRETERS[0]:
        lockstep = _Lockstep(site, interpreter)
        try:
            bench = Bench(site, net, script, seed, spread, lockstep)
            player.play(bench, coming, progress)
        finally:
            lockstep.close()
    else:
        player.play(Bench(site, net, script, seed, spread, make), coming, progress)
    player.result.interpreter = interpreter
    return player.result


class Player:
    """Steps the bench, keeps the trace and the peaks, and fills the result."""

    def __init__(
        self, site: Site, net: Netlist, trace: bool, observer: Observer | None = None
    ) -> None:
        self.monitors = Monitors(site, net)
        self.observer = observer
        self.teller = Teller()
        self.result = RunResult()
        self.digest = hashlib.sha256()
        self.rows: list[tuple[Any, ...]] | None = [] if trace else None
        self.fed_ms = 0
        self.travel_ms = 0

    def play(
        self,
        bench: Bench,
        coming: Sequence[tuple[Defect, int]],
        progress: Callable[[int], None] | None,
    ) -> None:
        """Play the bench's script to its end, letting defects come at their times."""
        waiting = list(coming)
        while not bench.operator.done():
            while waiting and waiting[0][1] <= bench.t_ms:
                defect = waiting.pop(0)[0]
                bench.add_defect(defect)
                self.teller.defect(bench.t_ms, defect)
            o = self.advance(bench)
            if progress is not None and o.t_ms % 1000 == 0:
                progress(o.t_ms)
        if waiting:
            defect, t_ms = waiting[0]
            raise BadInput(
                f"Defect {defect.id} comes at {t_ms / 1000:g} s, but the script is over at "
                f"{bench.t_ms / 1000:g} s."
            )
        if not bench.defects:
            self.monitors.finish(bench.t_ms, bench.operator)
            self.teller.broken(self.monitors)
        self.result.given_up = bench.operator.given_up
        self.result.surprised = bench.operator.surprised
        self.sum_up(bench, judged(self.monitors, bench.defects))

    def advance(self, bench: Bench) -> Observation:
        """Step the bench once, judge and keep what it shows, and return that."""
        o = bench.step()
        self.monitors.step(o)
        self.teller.step(bench, o, self.monitors)
        self._keep(o)
        if self.observer is not None:
            self.observer(bench, o)
        return o

    def _keep(self, o: Observation) -> None:
        """Take one step into peaks, hash and trace."""
        result = self.result
        size_a = abs(o.current_a)
        if o.powered_any:
            self.fed_ms += STEP_MS
            self.travel_ms += STEP_MS
            if size_a > result.peak_running_a and self.fed_ms > INRUSH_MS:
                result.peak_running_a = size_a
        else:
            self.fed_ms = 0
        if size_a > result.peak_current_a:
            result.peak_current_a = size_a
        if o.tension_n > result.peak_rope_n:
            result.peak_rope_n = o.tension_n
        if o.fault and (not result.faults or o.fault != result.fault):
            result.faults.append(o.fault)
        result.fault = o.fault
        self.digest.update(
            _HASHED.pack(
                o.t_ms,
                o.asked,
                o.state,
                o.fault,
                o.held_reasons,
                o.warnings,
                o.contacts,
                o.outputs,
                o.current_ma,
                o.supply_mv,
                o.powered_way,
                o.powered_any,
                o.angle_deg,
                o.rope_out_m,
                o.drum_turns,
                o.tension_n,
                o.motor_rad_s,
                o.current_a,
            )
        )
        if self.rows is not None:
            self.rows.append(_row(o))

    def sum_up(self, bench: Bench, broken: dict[str, Broken]) -> None:
        """Complete the result of a run that is over; `broken` is what counts as broken."""
        result = self.result
        monitors = self.monitors
        board = bench.board
        if board is not None and board.powered:
            result.state = board.controller.state
            self.digest.update(repr(board.controller.snapshot()).encode())
        result.broken = broken
        result.requirements = {
            name: result.broken[name].t_ms / 1000 if name in result.broken else None
            for name in monitors.judged
        }
        result.travel_s = self.travel_ms / 1000
        result.overrun_mm = monitors.worst_stop_mm
        result.rope_overrun_mm = monitors.worst_rope_overrun_mm
        result.reaction_ms = monitors.worst_reaction_ms
        result.drop_mm = monitors.worst_drop_mm
        result.events = sorted(self.teller.events, key=lambda event: event[0])
        result.hash = self.digest.hexdigest()
        if self.rows is not None:
            columns = zip(*self.rows, strict=True)
            result.trace = dict(zip(TRACE_COLUMNS, map(list, columns), strict=True))


def judged(monitors: Monitors, defects: Iterable[Defect]) -> dict[str, Broken]:
    """Return what is broken, R6 added, and R11 taken out where it is listed as unpreventable."""
    broken = dict(monitors.broken)
    present = tuple(defects)
    if present and monitors.started_alone():
        alone = [broken[name] for name in ("R1", "R2", "R4") if name in broken]
        broken["R6"] = min(alone, key=lambda first: first.t_ms)
    if any(isinstance(d, PlantDefect) and d.unpreventable for d in present):
        broken.pop("R11", None)
    return broken


def _row(o: Observation) -> tuple[Any, ...]:
    return (
        o.t_ms,
        o.asked,
        o.state,
        o.fault,
        o.held_reasons,
        o.contacts,
        o.outputs,
        o.supply_mv,
        o.current_ma,
        o.current_a,
        o.powered_way,
        1 if o.brake_set else 0,
        o.angle_deg,
        o.rope_out_m * 1000.0,
        o.drum_turns,
        o.slack_mm,
        o.tension_n,
        o.buffer_force_n,
        o.motor_rad_s,
    )


class _Lockstep:
    """Makes controllers that run in both interpreters at once; one process for all boots."""

    def __init__(self, site: Site, interpreter: str) -> None:
        if interpreter not in INTERPRETERS:
            raise BadInput(
                f"interpreter is {interpreter!r}; allowed are {' and '.join(INTERPRETERS)}."
            )
        from leafwinch_sim.lockstep import LockstepController

        self.controller = LockstepController(dict(site.settings))

    def __call__(self, kept: tuple[int, ...] | None, boot: int) -> ControllerLike:
        self.controller.restart(kept, boot)
        return self.controller

    def close(self) -> None:
        self.controller.close()
