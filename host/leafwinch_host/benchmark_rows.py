"""Measures how fast the build in use is; `benchmark.py` runs it once for each build.

`python -m leafwinch_host.benchmark_rows` prints the figures as JSON. Every figure is the best
of a few rounds on one core, since whatever else the machine does can only make it slower.
"""

import gc
import json
import sys
import time
from collections.abc import Callable
from typing import Any

from leafwinch_host.compiled import choose_build

choose_build()

from leafwinch.controller import Controller  # noqa: E402
from leafwinch.settings_schema import settings_from  # noqa: E402
from leafwinch_host import tick_cost  # noqa: E402
from leafwinch_sim.bench import Bench  # noqa: E402
from leafwinch_sim.bench_defects import all_defects  # noqa: E402
from leafwinch_sim.board import STEP_MS, ControllerLike, MakeController  # noqa: E402
from leafwinch_sim.branch import Brancher  # noqa: E402
from leafwinch_sim.branch_run import BranchRun  # noqa: E402
from leafwinch_sim.build_kind import build_kind  # noqa: E402
from leafwinch_sim.campaign_work import SCRIPT, Plan, columns_of  # noqa: E402
from leafwinch_sim.controllers import python_controller  # noqa: E402
from leafwinch_sim.every_tick import TickWorker  # noqa: E402
from leafwinch_sim.explore.exploration import explore  # noqa: E402
from leafwinch_sim.explore.extents import TRAVELS  # noqa: E402
from leafwinch_sim.nominal import run_nominal  # noqa: E402
from leafwinch_sim.requirements import Monitors  # noqa: E402
from leafwinch_sim.run import run_script  # noqa: E402
from leafwinch_sim.scripts import load_script  # noqa: E402
from leafwinch_sim.site import Site, load_site, shipped_sites  # noqa: E402
from leafwinch_wiring.errors import BadInput  # noqa: E402
from leafwinch_wiring.netlist import load_netlist  # noqa: E402

ROUNDS = 3
SNAPSHOTS = 2000
PASSES = 50_000
SAMPLE = 40  # defects out of the catalogue
TAIL_MS = 1000
BRANCHES = 200
PIECE_TICKS = 12  # of the travel's middle, every defect
EXPLORED = 200_000  # passes of the core


def main() -> int:
    """Measure the build in use and print the rows as JSON; return 0."""
    rows: list[dict[str, Any]] = [row("pass of the core", "core", "", pass_cost(), "us")]
    rows.append(row("exploration", "core", "", explored(), "passes / s"))
    for name in shipped_sites():
        site = load_site(name)
        rows.append(row("full cycle, judged", "bench", name, cycle_speed(site), "simulated s / s"))
        rows.append(row("snapshot and restore", "bench", name, snapshot_cost(site), "us"))
        rows.append(row("branches of 1 s", "bench", name, branch_speed(site), "branches / s"))
        rows.append(row("every tick", "bench", name, tick_speed(site), "pairs / s"))
        whole, judged = runs_per_minute(site)
        rows.append(row("defect runs begin to end", "bench", name, whole, "runs / min"))
        rows.append(row("defect verdicts branched", "bench", name, judged, "runs / min"))
    if build_kind() == "plain":
        rows += board_rows()
    json.dump(rows, sys.stdout)
    return 0


def pass_cost() -> float:
    """Return the time in us of one pass of the core at rest, control in the middle."""
    site = load_site(shipped_sites()[0])
    core = Controller(settings_from(site.settings))
    bench = Bench(site, load_netlist(site.wiring), load_script("full-cycle"))
    contacts = bench.circuit.solve(bench.mask).inputs

    def play() -> float:
        begin = time.perf_counter()
        for number in range(PASSES):
            core.step(number * STEP_MS, contacts, 0, 24_000)
        return time.perf_counter() - begin

    return best_of(play) / PASSES * 1e6


def explored() -> float:
    """Return how many passes of the core an exploration plays and judges in a second."""
    settings = load_site(shipped_sites()[0]).settings
    done = 0

    def play() -> float:
        nonlocal done
        begin = time.perf_counter()
        done = explore(TRAVELS, settings, passes_max=EXPLORED).passes
        return time.perf_counter() - begin

    return 1.0 / (best_of(play) / done)


def branch_speed(site: Site) -> float:
    """Return how many branches that act unnoticed for 1 s are followed in a second."""
    net = load_netlist(site.wiring)
    script = load_script("full-cycle")
    nominal = run_nominal(site, net, script, seed=1)
    bench = Bench(site, net, script)
    monitors = Monitors(site, net)
    defect = next(d for d in all_defects(site, net) if d.kind == "friction_tripled")
    place = nominal.at_or_before(8_000)

    def play() -> float:
        begin = time.perf_counter()
        for _ in range(BRANCHES):
            branch = BranchRun(bench, monitors, nominal.steps, defect)
            branch.begin(*nominal.states[place])
            branch.follow([], [], 0, TAIL_MS, None)
        return time.perf_counter() - begin

    return BRANCHES / best_of(play)


def tick_speed(site: Site) -> float:
    """Return how many pairs of defect and tick are decided in a second, amid a travel."""
    net = load_netlist(site.wiring)
    plan = Plan(site, net, 1, False)
    nominal = plan.nominal(SCRIPT)
    columns = [t_ms for _, t_ms in columns_of(nominal, SCRIPT)]
    worker = TickWorker(site, net, load_script(SCRIPT), 1, nominal, plan.defects(), columns)
    first = dict(nominal.moments)["raising, mid travel"] // STEP_MS
    worker.piece(first, PIECE_TICKS)  # solves the networks, which a long run does once
    gc.disable()
    begin = time.perf_counter()
    piece = worker.piece(first, PIECE_TICKS)
    spent = time.perf_counter() - begin
    gc.enable()
    return (piece.run + piece.merged) / spent


def board_rows() -> list[dict[str, Any]]:
    """Return what a pass costs under MicroPython; nothing where there is none."""
    rows: list[dict[str, Any]] = []
    for name in shipped_sites():
        site = load_site(name)
        try:
            cost = tick_cost.measure(site, recorded_passes(site))
        except BadInput as absent:
            print(f"Not measured: {absent}", file=sys.stderr)
            return []
        rows.append(row("pass, MicroPython", "core", name, cost.microseconds, "us"))
        rows.append(row("memory of a pass, MicroPython", "core", name, cost.bytes, "bytes"))
    return rows


def row(what: str, part: str, site: str, value: float, unit: str) -> dict[str, Any]:
    """Return one figure of a part (core or bench) as a row of the table and of the JSON file."""
    return {
        "what": what,
        "part": part,
        "site": site,
        "build": build_kind(),
        "value": value,
        "unit": unit,
    }


def best_of(measure: Callable[[], float]) -> float:
    """Return the shortest of some rounds, in s."""
    return min(measure() for _ in range(ROUNDS))


def full_cycle(site: Site, make: MakeController | None = None) -> Bench:
    """Return a bench ready to play a full cycle."""
    return Bench(site, load_netlist(site.wiring), load_script("full-cycle"), make=make)


def cycle_speed(site: Site) -> float:
    """Return how many simulated seconds one second plays, every requirement judged."""
    simulated_s = 0.0

    def play() -> float:
        nonlocal simulated_s
        bench = full_cycle(site)
        monitors = Monitors(site, bench.net)
        begin = time.perf_counter()
        while not bench.operator.done():
            monitors.step(bench.step())
        spent = time.perf_counter() - begin
        simulated_s = bench.t_ms / 1000.0
        return spent

    spent = best_of(play)
    return simulated_s / spent


def snapshot_cost(site: Site) -> float:
    """Return the time in us for one snapshot and its restore, in the middle of a travel."""
    bench = full_cycle(site)
    while bench.t_ms < 10_000:
        bench.step()

    def play() -> float:
        begin = time.perf_counter()
        for _ in range(SNAPSHOTS):
            bench.restore(bench.snapshot())
        return time.perf_counter() - begin

    return best_of(play) / SNAPSHOTS * 1e6


def runs_per_minute(site: Site) -> tuple[float, float]:
    """Return single-defect runs a minute on one core: played whole, and branched as in a proof.

    The defects are spread evenly over the catalogue, each at every moment when branched and
    from the start of a full cycle when played whole.
    """
    net = load_netlist(site.wiring)
    script = load_script("full-cycle")
    defects = all_defects(site, net)
    sample = defects[:: max(1, len(defects) // SAMPLE)]
    begin = time.perf_counter()
    for defect in sample:
        run_script(site, script, net, [(defect, 0)], trace=False)
    whole = len(sample) / (time.perf_counter() - begin)
    working_day = load_script("every-function")
    nominal = run_nominal(site, net, working_day, seed=1)
    brancher = Brancher(site, net, working_day, nominal, seed=1)
    begin = time.perf_counter()
    verdicts = sum(len(brancher.outcomes(defect)) for defect in sample)
    branched = verdicts / (time.perf_counter() - begin)
    return 60.0 * whole, 60.0 * branched


class Recorder:
    """A controller that notes what each pass was given."""

    def __init__(self, inner: ControllerLike, passes: list[tuple[int, int, int, int]]) -> None:
        self._inner = inner
        self._passes = passes

    def __getattr__(self, name: str) -> Any:
        return getattr(self._inner, name)

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        """Note and pass on."""
        self._passes.append((now_ms, contacts, current_ma, supply_mv))
        return self._inner.step(now_ms, contacts, current_ma, supply_mv)


def recorded_passes(site: Site) -> list[tuple[int, int, int, int]]:
    """Return what every pass of a healthy full cycle is given."""
    passes: list[tuple[int, int, int, int]] = []
    make = python_controller(site)

    def recording(kept: tuple[int, ...] | None, boot: int) -> Any:
        return Recorder(make(kept, boot), passes)

    bench = full_cycle(site, recording)
    while not bench.operator.done():
        bench.step()
    return passes


if __name__ == "__main__":
    sys.exit(main())
