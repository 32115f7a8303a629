"""Nuisance runs: many full cycles of sound installations that differ, in which no fault may show.

A drive that stops for nothing gets bridged. Each cycle is one draw of the healthy spread,
named by its seed; what it shows is how near each supervision came to its limit.
"""

import hashlib
import json
import signal
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import asdict, dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from leafwinch.fault_texts import FAULTS
from leafwinch.settings_schema import settings_from
from leafwinch_sim.nuisance_margins import MARGINS, MarginMeter
from leafwinch_sim.own_sources import own_sources
from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site_schema import Site
from leafwinch_sim.spread import draw
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

SCRIPT = "full-cycle"
AHEAD = 4  # cycles handed to each worker in advance
CANARY_SHARE = 0.75  # of the healthy running current: a trip level that must trip

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Cycle:
    """What came of one healthy cycle.

    Attributes:
        seed: of the draw and of bounce, skew and noise.
        faults: numbers of the faults that showed; empty in a sound drive.
        broken: requirements that broke, each with what happened.
        waited: how many steps of the script waited in vain.
        shares: of each margin, in the order of `nuisance_margins.MARGINS`.
    """

    seed: int
    faults: tuple[int, ...]
    broken: tuple[tuple[str, str], ...]
    waited: int
    shares: tuple[float, ...]

    def sound(self) -> bool:
        """Tell whether nothing at all went wrong."""
        return not self.faults and not self.broken and not self.waited


def play_cycle(site: Site, net: Netlist, seed: int) -> Cycle:
    """Play one full cycle of one healthy draw."""
    meter = MarginMeter(settings_from(site.settings))
    result = run_script(
        site,
        load_script(SCRIPT),
        net,
        seed=seed,
        spread=draw(seed),
        trace=False,
        observer=meter.observe,
    )
    broken = tuple((name, first.text) for name, first in result.broken.items())
    waited = len(result.given_up) + len(result.surprised)
    return Cycle(seed, tuple(result.faults), broken, waited, meter.row())


def canary_site(site: Site, net: Netlist) -> Site:
    """Return the site with a trip level below its healthy running current: it must trip."""
    result = run_script(site, load_script(SCRIPT), net, trace=False)
    trip_ma = round(result.peak_running_a * 1000.0 * CANARY_SHARE)
    low = {"trip_ma": trip_ma, "run_max_ma": trip_ma - 1}
    for name in ("missing_raise_ma", "missing_lower_ma", "rest_ma"):
        low[name] = min(site.settings[name], trip_ma // 2)
    return site.model_copy(update={"settings": {**site.settings, **low}})


_worker: tuple[Site, Netlist] | None = None


def _start_worker(site: Site, net: Netlist) -> None:
    global _worker
    # Ctrl-C reaches the whole process group; only the parent answers it.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _worker = (site, net)


def _in_worker(seed: int) -> Cycle:
    if _worker is None:
        raise RuntimeError("this process was not prepared")
    return play_cycle(*_worker, seed)


def _played(site: Site, net: Netlist, seeds: Sequence[int], workers: int) -> Iterator[Cycle]:
    """Yield each cycle as it is done."""
    if workers <= 1:
        for seed in seeds:
            yield play_cycle(site, net, seed)
        return
    pool = ProcessPoolExecutor(workers, initializer=_start_worker, initargs=(site, net))
    left = iter(seeds)
    try:
        waiting: set[Future[Cycle]] = {
            pool.submit(_in_worker, seed) for seed in islice(left, AHEAD * workers)
        }
        while waiting:
            done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            waiting |= {pool.submit(_in_worker, seed) for seed in islice(left, len(done))}
            for future in done:
                yield future.result()
    finally:
        pool.shutdown(cancel_futures=True)


def healthy(
    site: Site,
    net: Netlist,
    cycles: int,
    first: int = 1,
    workers: int = 1,
    kept: Path | None = None,
    progress: Progress | None = None,
) -> dict[str, Any]:
    """Play healthy cycles and return what came of them as plain data.

    Args:
        site: what is installed.
        net: how it is wired, with a controller.
        cycles: how many.
        first: seed of the first; the others follow.
        workers: processes; the result does not depend on it.
        kept: file that keeps each cycle as it is done. Cycles that it holds already are not
            played again, if they are of the same site, netlist and program.
        progress: called with (cycles done, cycles in all).

    Stopped from the keyboard it returns what was done, `complete` being False.

    Raises:
        BadInput: the wiring has no controller, or `kept` holds cycles of something else.
        KeyboardInterrupt: stopped before the first cycle was done.
    """
    if not net.has_controller:
        raise BadInput(f"Wiring {net.name} has no controller, so no supervision can trip.")
    identity = identity_of(site, net)
    wanted = range(first, first + cycles)
    rows = {cycle.seed: cycle for cycle in _read_kept(kept, identity) if cycle.seed in wanted}
    complete = True
    if progress is not None:
        progress(len(rows), cycles)
    try:
        for cycle in _played(site, net, [seed for seed in wanted if seed not in rows], workers):
            rows[cycle.seed] = cycle
            if kept is not None:
                _append(kept, identity, cycle)
            if progress is not None:
                progress(len(rows), cycles)
    except KeyboardInterrupt:
        if not rows:
            raise
        complete = False
    data = summary([rows[seed] for seed in sorted(rows)], site, net)
    return {**data, "cycles_wanted": cycles, "complete": complete, "identity": identity}


def summary(cycles: Sequence[Cycle], site: Site, net: Netlist) -> dict[str, Any]:
    """Return the figures of all cycles: what went wrong, and quantiles of each margin."""
    wrong = [cycle for cycle in cycles if not cycle.sound()]
    causes: dict[str, int] = {}
    for cycle in wrong:
        for fault in set(cycle.faults):
            name = str(FAULTS[fault - 1][0])
            causes[name] = causes.get(name, 0) + 1
    return {
        "verdict": "broken" if wrong else "holds",
        "site": site.name,
        "wiring": net.name,
        "script": SCRIPT,
        "cycles": len(cycles),
        "first_seed": cycles[0].seed,
        "wrong": [_wrong(cycle, site, net) for cycle in wrong],
        "causes": causes,
        "margins": [_figures(index, cycles) for index in range(len(MARGINS))],
    }


def _wrong(cycle: Cycle, site: Site, net: Netlist) -> dict[str, Any]:
    return {
        "seed": cycle.seed,
        "faults": [FAULTS[fault - 1][0] for fault in cycle.faults],
        "broken": dict(cycle.broken),
        "waited": cycle.waited,
        "spread": asdict(draw(cycle.seed)),
        "replay": f"leafwinch healthy {site.options} --wiring {net.name} "
        f"--first {cycle.seed} --cycles 1",
    }


def _figures(index: int, cycles: Sequence[Cycle]) -> dict[str, Any]:
    margin = MARGINS[index]
    shares = sorted(cycle.shares[index] for cycle in cycles)
    worst = max(cycles, key=lambda cycle: (cycle.shares[index], -cycle.seed))
    return {
        "key": margin.key,
        "fault": FAULTS[margin.fault - 1][0],
        "words": margin.words,
        "least": shares[0],
        "median": quantile(shares, 0.5),
        "q99": quantile(shares, 0.99),
        "worst": shares[-1],
        "worst_seed": worst.seed,
    }


def quantile(ascending: Sequence[float], share: float) -> float:
    """Return the smallest value that at least this share of all values does not exceed."""
    count = len(ascending)
    place = -int(-share * count // 1) - 1
    return ascending[min(max(place, 0), count - 1)]


# --- cycles kept in a file -----------------------------------------------------------


def identity_of(site: Site, net: Netlist) -> str:
    """Return the first 16 digits of a SHA-256 over site, netlist and the program's own sources."""
    digest = hashlib.sha256(site.model_dump_json().encode("utf-8"))
    digest.update(net.content_hash.encode("ascii"))
    digest.update(own_sources().encode("ascii"))
    return digest.hexdigest()[:16]


def _read_kept(path: Path | None, identity: str) -> list[Cycle]:
    if path is None or not path.exists():
        return []
    cycles = []
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    if lines and not lines[-1].endswith("\n"):
        # The program was ended while it wrote this one; what follows needs a line of its own.
        lines.pop()
        path.write_text("".join(lines), encoding="utf-8")
    for number, line in enumerate(lines, start=1):
        row = _row(path, number, line)
        if row["identity"] != identity:
            raise BadInput(
                f"{path}: line {number} is of another site, netlist or program, allowed are cycles "
                "of this one; name another file or remove it."
            )
        cycles.append(
            Cycle(
                row["seed"],
                tuple(row["faults"]),
                tuple((name, text) for name, text in row["broken"]),
                row["waited"],
                tuple(row["shares"]),
            )
        )
    return cycles


def _row(path: Path, number: int, line: str) -> Mapping[str, Any]:
    try:
        row = json.loads(line)
        if set(row) == {"identity", "seed", "faults", "broken", "waited", "shares"}:
            return dict(row)
    except (ValueError, TypeError):
        pass
    raise BadInput(
        f"{path}: line {number} is no cycle, allowed is what this command kept; name another file."
    )


def _append(path: Path, identity: str, cycle: Cycle) -> None:
    line = json.dumps({"identity": identity, **asdict(cycle)}) + "\n"
    with path.open("a", encoding="utf-8") as target:
        target.write(line)
