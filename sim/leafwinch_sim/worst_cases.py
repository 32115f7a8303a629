"""The worst runs of a proof: chosen from its cells, played again, and measured.

The cells of a proof hold run-on and overrun of every run; for the other measures a few
runs of each kind that can come near the limit are played again. What is shown for such a
measure is the worst of those runs, and how many they were is said.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from typing import Any

from leafwinch.faults import (
    BLOCKED,
    BOTTOM_FINAL_ACTUATED,
    CURRENT_TRIP,
    THERMAL,
    TOP_FINAL_ACTUATED,
    TRAVEL_LATE,
)
from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import Defect, all_defects
from leafwinch_sim.control_defects import ControlDefect
from leafwinch_sim.observation import Observation
from leafwinch_sim.plant_defects import PlantDefect
from leafwinch_sim.run import RunResult, run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site_schema import Site
from leafwinch_sim.worst_measures import (
    AT_LEAST,
    MEASURES,
    WITHOUT_CONTROLLER,
    Limit,
    Measure,
    Meter,
    Reading,
    limits_of,
)
from leafwinch_wiring.netlist import Netlist

PASSING = ("load", "supply")
HEALTHY = "nothing wrong"
HEALTHY_SCRIPT = "full-cycle"  # whose travels R10 is measured by
TOP_RUNS = 2  # runs played again for each of the two measures that every cell has
PER_FAULT = 3  # for each fault that ends a run near a limit
PER_FALL = 3  # for each defect in which the deck falls, spread over the moments
PER_HANG = 3
PER_BROKEN = 6  # for each requirement that is broken
TELLING_FAULTS = (
    TOP_FINAL_ACTUATED,
    BOTTOM_FINAL_ACTUATED,
    TRAVEL_LATE,
    CURRENT_TRIP,
    BLOCKED,
    THERMAL,
)

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A run to play again; without a defect it is the healthy run of a script.

    Attributes:
        defect: id of the defect, empty for none.
        at_ms: bench time at which it comes.
        moment: name of that moment.
        found: how the proof found it.
        script: what the operator does.
        falls: whether the deck moves by gravity, which only R11 is about.
        passing: whether it is a load or the supply, which nothing needs to notice.
    """

    defect: str
    at_ms: int
    moment: str
    found: str
    script: str
    falls: bool = False
    passing: bool = False


def candidates(result: Mapping[str, Any], defects: Sequence[Defect]) -> list[Candidate]:
    """Return the runs of a proof that can hold the worst of some measure, each once.

    Args:
        result: what `leafwinch_sim.campaign.prove` returned.
        defects: the whole catalogue.
    """
    falls = {row["fault"] for row in result["unpreventable"]}
    firm = [cell for cell in result["cells"] if cell["defect"] not in falls]
    chosen: list[Mapping[str, Any]] = []
    longest = _one_a_defect(_worst_first(firm, "reaction_ms"), TOP_RUNS)
    # Where a cell stands for many ticks, that of the longest run-on has a key of its own.
    chosen += [{**cell, "worst_ms": cell["reaction_at_ms"]} for cell in longest if _ticked(cell)]
    chosen += [cell for cell in longest if not _ticked(cell)]
    chosen += _one_a_defect(_worst_first(firm, "overrun_mm"), TOP_RUNS)
    for fault in TELLING_FAULTS:
        ended = _worst_first((cell for cell in firm if cell["fault"] == fault), "overrun_mm")
        chosen += _one_a_defect(ended, PER_FAULT)
    chosen += _one_a_sign(firm)
    hung = {defect.id for defect in defects if defect.kind == "hung"}
    for name in sorted(hung):
        own = [cell for cell in firm if cell["defect"] == name and cell["reaction_ms"]]
        chosen += _spread(own, PER_HANG)
    habits = {d.id for d in defects if isinstance(d, ControlDefect) and d.residual}
    chosen += _one_a_defect([cell for cell in firm if cell["defect"] in habits], len(habits))
    for name in sorted(falls):
        own = [
            cell
            for cell in result["cells"]
            if cell["defect"] == name and cell["verdict"] == "unpreventable"
        ]
        chosen += _spread(own, PER_FALL)
    passing = {row["fault"] for row in result["tolerated"]}
    passing |= {d.id for d in defects if isinstance(d, PlantDefect) and d.category in PASSING}
    runs = [Candidate("", 0, HEALTHY, "", script) for script in (HEALTHY_SCRIPT, result["script"])]
    runs += _broken(result, falls, passing)
    runs += [_candidate(cell, result, falls, passing) for cell in chosen]
    return list(dict.fromkeys(runs))


def _ticked(cell: Mapping[str, Any]) -> bool:
    return "reaction_at_ms" in cell


def _broken(result: Mapping[str, Any], falls: set[str], passing: set[str]) -> list[Candidate]:
    """Return the first broken run of some defects for each requirement."""
    first: dict[str, dict[str, Candidate]] = {}
    for row in result["broken"]:
        defect = row["fault"]
        at_ms = round(row["at_s"] * 1000)
        # The line that repeats a break names the script in which it was found.
        script = row["replay"].partition("--script ")[2].split()[0]
        marks = (defect in falls, defect in passing)
        run = Candidate(defect, at_ms, row["moment"], "", script, *marks)
        first.setdefault(row["requirement"], {}).setdefault(defect, run)
    return [run for runs in first.values() for run in list(runs.values())[:PER_BROKEN]]


def _candidate(
    cell: Mapping[str, Any], result: Mapping[str, Any], falls: set[str], passing: set[str]
) -> Candidate:
    moment = cell["moment"]
    begin_ms = round(result["moment_s"][moment] * 1000)
    # Where a moment stands for every tick up to the next one, the cell names the worst tick.
    at_ms = int(cell.get("worst_ms", begin_ms))
    name = result["moment_names"][moment]
    scripts = result.get("moment_scripts")
    script = scripts[moment] if scripts else result["script"]
    defect = cell["defect"]
    marks = (defect in falls, defect in passing)
    return Candidate(defect, at_ms, name, cell["found"], script, *marks)


def _worst_first(cells: Iterable[Mapping[str, Any]], key: str) -> list[Mapping[str, Any]]:
    return sorted((cell for cell in cells if cell[key]), key=lambda cell: -float(cell[key]))


def _one_a_defect(cells: Iterable[Mapping[str, Any]], most: int) -> list[Mapping[str, Any]]:
    """Return the first cell of each defect, `most` of them."""
    first: dict[str, Mapping[str, Any]] = {}
    for cell in cells:
        first.setdefault(cell["defect"], cell)
    return list(first.values())[:most]


def _one_a_sign(cells: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return the first cell of each way to find a defect that was there from the first moment."""
    first: dict[str, Mapping[str, Any]] = {}
    for cell in cells:
        if cell["moment"] == 0 and cell["found"].startswith(("fault", "warning")):
            first.setdefault(cell["found"], cell)
    return list(first.values())


def _spread(cells: Sequence[Mapping[str, Any]], most: int) -> list[Mapping[str, Any]]:
    """Return `most` cells evenly spread over all of them, the first and the last included."""
    if len(cells) <= most:
        return list(cells)
    return [cells[index * (len(cells) - 1) // (most - 1)] for index in range(most)]


class Recorder:
    """Keeps what a plot of a worst run needs and the trace does not hold."""

    def __init__(self, meter: Meter) -> None:
        self.meter = meter
        self.free_end_mm: list[float] = []

    def observe(self, bench: Bench, o: Observation) -> None:
        """Take in one step."""
        self.meter.observe(bench, o)
        self.free_end_mm.append(o.free_end_m * 1000.0)


def play(
    site: Site, net: Netlist, run: Candidate, seed: int, trace: bool = False
) -> tuple[RunResult, dict[str, Reading]]:
    """Play one run again; return what came of it and the worst reading of each measure.

    With `trace` its columns are those of `leafwinch_sim.run` and `free_end_mm`.
    """
    healthy = not run.defect
    script = load_script(run.script)
    meter = Meter(site, net.has_controller, None if healthy else run.at_ms, run.found)
    recorder = Recorder(meter)
    result = run_script(
        site,
        script,
        net,
        [] if healthy else [(run.defect, run.at_ms)],
        seed,
        trace=trace,
        observer=recorder.observe if trace else meter.observe,
    )
    if trace:
        result.trace["free_end_mm"] = recorder.free_end_mm
    return result, meter.readings


def _measure(
    site: Site, net: Netlist, seed: int, run: Candidate
) -> tuple[Candidate, dict[str, Reading]]:
    return run, play(site, net, run, seed)[1]


def worst_runs(
    result: Mapping[str, Any],
    site: Site,
    net: Netlist,
    workers: int = 1,
    progress: Progress | None = None,
) -> list[dict[str, Any]]:
    """Return the worst run for each measure, in the order of the requirements, as plain data.

    Args:
        result: what `leafwinch_sim.campaign.prove` returned.
        site: the installation it was run on.
        net: its wiring.
        workers: processes; the rows do not depend on it.
        progress: called with (runs played, runs in all).
    """
    defects = all_defects(site, net)
    known = {defect.id for defect in defects}
    runs = [run for run in candidates(result, defects) if not run.defect or run.defect in known]
    measured: list[tuple[Candidate, dict[str, Reading]]] = []
    measure_one = partial(_measure, site, net, result["seed"])
    with ExitStack() as stack:
        played: Iterable[tuple[Candidate, dict[str, Reading]]]
        if workers > 1:
            played = stack.enter_context(ProcessPoolExecutor(workers)).map(measure_one, runs)
        else:
            played = map(measure_one, runs)
        for one in played:
            measured.append(one)
            if progress is not None:
                progress(len(measured), len(runs))
    limits = limits_of(site)
    rows = []
    for measure in MEASURES:
        if net.has_controller or measure.key in WITHOUT_CONTROLLER:
            row = _worst(measure, limits[measure.key], measured, result)
            if row is not None:
                rows.append(row)
    return rows


def _worst(
    measure: Measure,
    limit: Limit,
    measured: Sequence[tuple[Candidate, dict[str, Reading]]],
    result: Mapping[str, Any],
) -> dict[str, Any] | None:
    """Return the row of one measure, or None where no run has a reading of it."""
    fits = [
        (run, readings[measure.key])
        for run, readings in measured
        if measure.key in readings
        and run.falls == (measure.key == "fall")
        and not (run.passing and measure.key == "unnoticed")
        and not (run.script != HEALTHY_SCRIPT and measure.key == "healthy")
    ]
    if not fits:
        return None
    sign = -1.0 if limit is not None and limit[0] == AT_LEAST else 1.0
    # The first of equals, so that the choice does not depend on anything but the order.
    run, reading = max(fits, key=lambda item: (sign * item[1].value, item[1].rank))
    return {
        "measure": measure.key,
        "requirement": measure.requirement,
        "words": measure.words,
        "value": round(reading.value, 3),
        "unit": measure.unit,
        "limit_kind": None if limit is None else limit[0],
        "limit": None if limit is None else round(limit[1], 3),
        "defect": run.defect,
        "moment": run.moment,
        "at_s": run.at_ms / 1000.0,
        "found": run.found,
        "script": run.script,
        "from_s": reading.from_ms / 1000.0,
        "to_s": reading.t_ms / 1000.0,
        "runs_measured": len(fits),
        "replay": replay_line(result, run),
    }


def replay_line(result: Mapping[str, Any], run: Candidate) -> str:
    """Return the command that plays a run again."""
    options = result.get("options", f"--site {result['site']}")
    line = f"leafwinch run {options} --wiring {result['wiring']} --script {run.script}"
    if run.defect:
        line += f" --defect {run.defect} --at {run.at_ms / 1000:g}"
    return f"{line} --seed {result['seed']}"


def candidate_of(row: Mapping[str, Any]) -> Candidate:
    """Return the run of one row of `worst_runs`."""
    at_ms = round(row["at_s"] * 1000)
    return Candidate(row["defect"], at_ms, row["moment"], row["found"], row["script"])
