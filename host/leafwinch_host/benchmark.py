"""How fast the bench and the firmware are on this machine (`make benchmark`).

Prints a table and writes `out/benchmark.json`. Every figure is the best of a few rounds on one
core, since whatever else the machine does can only make it slower.
"""

import platform
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from rich.table import Table

from leafwinch_host import tick_cost, version
from leafwinch_host.files import write_json
from leafwinch_host.screen import screen
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import all_defects
from leafwinch_sim.board import STEP_MS, ControllerLike, MakeController
from leafwinch_sim.branch import Brancher
from leafwinch_sim.controllers import python_controller
from leafwinch_sim.nominal import run_nominal
from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import Site, load_site, shipped_sites
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist

ROUNDS = 3
SNAPSHOTS = 2000
SAMPLE = 40  # defects out of the catalogue
RESULT = Path("out/benchmark.json")


def main() -> int:
    """Measure, print, write; return 0."""
    rows: list[dict[str, Any]] = []
    for name in shipped_sites():
        site = load_site(name)
        rows.append(row("bench, full cycle", name, cycle_speed(site), "simulated s / s"))
        rows.append(row("snapshot and restore", name, snapshot_cost(site), "us"))
        whole, judged = runs_per_minute(site)
        rows.append(row("single-defect runs, begin to end", name, whole, "runs / min"))
        rows.append(row("single-defect verdicts, branched", name, judged, "runs / min"))
    rows += board_rows()
    show(rows)
    RESULT.parent.mkdir(exist_ok=True)
    write_json(RESULT, {"figures": rows, "machine": machine()})
    return 0


def board_rows() -> list[dict[str, Any]]:
    """Return what a pass costs under MicroPython; nothing where there is none."""
    rows: list[dict[str, Any]] = []
    for name in shipped_sites():
        site = load_site(name)
        try:
            cost = tick_cost.measure(site, recorded_passes(site))
        except BadInput as absent:
            screen().print(f"Not measured: {absent}", markup=False)
            return []
        rows.append(row("pass of the core, MicroPython", name, cost.microseconds, "us"))
        rows.append(row("memory of a pass, MicroPython", name, cost.bytes, "bytes"))
    return rows


def row(what: str, site: str, value: float, unit: str) -> dict[str, Any]:
    """Return one figure as a row of the table and of the JSON file."""
    return {"what": what, "site": site, "value": value, "unit": unit}


def best_of(measure: Callable[[], float]) -> float:
    """Return the shortest of some rounds, in s."""
    return min(measure() for _ in range(ROUNDS))


def full_cycle(site: Site, make: MakeController | None = None) -> Bench:
    """Return a bench ready to play a full cycle."""
    return Bench(site, load_netlist(site.wiring), load_script("full-cycle"), make=make)


def cycle_speed(site: Site) -> float:
    """Return how many simulated seconds one second of one core plays."""
    simulated_s = 0.0

    def play() -> float:
        nonlocal simulated_s
        bench = full_cycle(site)
        begin = time.perf_counter()
        while not bench.operator.done():
            bench.step()
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


def machine() -> dict[str, str]:
    """Return what the figures were measured with."""
    return {
        "leafwinch": version(),
        "python": platform.python_version(),
        "system": platform.system(),
        "processor": platform.machine(),
        "step": f"{STEP_MS} ms",
    }


def show(rows: list[dict[str, Any]]) -> None:
    """Print the table."""
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="bold")
    for heading in ("Figure", "Site"):
        table.add_column(heading)
    table.add_column("Value", justify="right")
    table.add_column("Unit")
    for entry in rows:
        value = entry["value"]
        text = f"{value:.0f}" if value >= 100 else f"{value:.1f}"
        table.add_row(entry["what"], entry["site"], text, entry["unit"])
    screen().print(table)


if __name__ == "__main__":
    sys.exit(main())
