"""Every tick: neither merging nor early ending changes a verdict, and pieces stand alone."""

import random
from functools import lru_cache

import pytest

from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_defects import find_defect
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.campaign_work import SCRIPT, TICK_SCRIPTS, Plan, columns_of
from leafwinch_sim.every_tick import TickWorker, as_tick
from leafwinch_sim.nominal import Nominal
from leafwinch_sim.outcomes import BROKEN, DORMANT, FOUND, SILENT
from leafwinch_sim.requirements import Monitors
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import load_site
from leafwinch_sim.tick_results import TickResults
from leafwinch_wiring.netlist import load_netlist

TICKS = 20
# What merges in each of the ways there are; on the bare wiring what breaks.
NAMES = (
    "SF1.raise_no:welded",
    "SF1.lower_no:dead",
    "BG1.second:dead",
    "KF1.top_end:short",
    "W2:cut",
    "QA1.pole1:welded",
    "friction_tripled",
    "board_hung",
    "brake_slow",
)
SAMPLES = {"reference": 1, "bare": 2}  # ticks of each defect that are run on their own
BARE_NAMES = ("SF1.raise_1:welded", "BG1.path:welded")


@lru_cache(maxsize=2)
def plan(wiring: str) -> Plan:
    site = load_site("workshop-pit")
    names = BARE_NAMES if wiring == "bare" else NAMES
    return Plan(site, load_netlist(wiring), 1, False, names)


@lru_cache(maxsize=2)
def worker(wiring: str) -> TickWorker:
    p = plan(wiring)
    nominal = p.nominal(SCRIPT)
    columns = [t_ms for _, t_ms in columns_of(nominal, SCRIPT)]
    return TickWorker(p.site, p.net, load_script(SCRIPT), 1, nominal, p.defects(), columns)


def moving_tick(nominal: Nominal) -> int:
    """Return a tick at which the deck is being raised; without a controller, of a release."""
    inrush_ms = dict(nominal.moments).get("inrush", nominal.step_starts[2])
    return inrush_ms // STEP_MS


@lru_cache(maxsize=8)
def results(wiring: str, first: int) -> TickResults:
    w = worker(wiring)
    piece = w.piece(first, TICKS).as_data()
    columns = columns_of(w.nominal, SCRIPT)
    return TickResults(SCRIPT, columns, w.nominal.end_ms // STEP_MS, [piece])


def brute_force(wiring: str, name: str, tick: int) -> set[str]:
    """Run one defect from the very start to the end of the script; return what broke."""
    p = plan(wiring)
    bench = Bench(p.site, p.net, load_script(SCRIPT), 1)
    monitors = Monitors(p.site, p.net)
    while not bench.operator.done() and not monitors.broken:
        if bench.t_ms == tick * STEP_MS:
            bench.add_defect(find_defect(p.site, p.net, name))
        monitors.step(bench.step())
    return set(monitors.broken)


@pytest.mark.parametrize("wiring", ["reference", "bare"])
def test_neither_merging_nor_early_ending_changes_a_verdict(wiring: str) -> None:
    """A sample of pairs, each defect at a tick of its own, is run without any of that."""
    w = worker(wiring)
    first = moving_tick(w.nominal)
    found = results(wiring, first)
    draw = random.Random(3)
    broken = 0
    for index, defect in enumerate(w.defects):
        for tick in draw.sample(range(first, first + TICKS), SAMPLES[wiring]):
            code = next(c for a, b, c in found.spans(index) if a <= tick < b)
            whole = brute_force(wiring, defect.id, tick)
            if code[0] == BROKEN:
                broken += 1
                assert code[1] in whole
            else:
                # What only gravity does once the defect is found is judged apart.
                assert whole <= {"R11"}, (defect.id, tick, code)
    assert (broken > 0) == (wiring == "bare")


def test_each_pair_is_run_or_merged_once() -> None:
    w = worker("reference")
    first = moving_tick(w.nominal)
    piece = w.piece(first, TICKS)
    assert piece.run + piece.merged == len(w.defects) * TICKS
    assert piece.run > 0
    assert piece.merged > 0
    for spans in piece.spans.values():
        assert spans[0][0] == first
        assert [tick for tick, _ in spans] == sorted({tick for tick, _ in spans})


def test_a_piece_does_not_depend_on_what_its_worker_did_before() -> None:
    w = worker("reference")
    first = moving_tick(w.nominal)
    once = w.piece(first, TICKS).as_data()
    w.piece(first + 400, TICKS)
    assert w.piece(first, TICKS).as_data() == once


def test_a_defect_is_found_silent_or_dormant_as_it_acts() -> None:
    w = worker("reference")
    at = dict(w.nominal.moments)
    ids = [defect.id for defect in w.defects]
    raising = results("reference", moving_tick(w.nominal))
    verdicts = {
        name: {code[0] for _, _, code in raising.spans(ids.index(name))}
        for name in ("W2:cut", "friction_tripled")
    }
    assert verdicts["W2:cut"] == {FOUND}
    assert verdicts["friction_tripled"] <= {SILENT, FOUND}
    last = w.nominal.end_ms // STEP_MS - TICKS
    ended = results("reference", last)
    assert ended.spans(ids.index("SF1.lower_no:dead"))[-1][2][0] in (DORMANT, SILENT)
    assert at["inrush"] < w.nominal.end_ms


def test_what_ends_as_a_later_tick_does_is_looked_up() -> None:
    found = ["found", "", "", "fault 1", 1, False]
    silent = ["silent", "", "", "", 0, False]
    pieces = [
        {
            "first": 0,
            "ticks": 4,
            "run": 1,
            "merged": 3,
            "codes": [silent],
            "spans": {"0": [[0, as_tick(2)], [2, 0], [3, as_tick(5)]]},
            "worst": {"0": {"0": [20, 2, 1.5, 2]}},
        },
        {
            "first": 4,
            "ticks": 3,
            "run": 1,
            "merged": 2,
            "codes": [found],
            "spans": {"0": [[4, as_tick(6)], [5, 0], [6, as_tick(7)]]},
            "worst": {"0": {"1": [30, 5, 0.5, 5]}},
        },
    ]
    whole = TickResults("s", [("a", 0), ("b", 15)], 7, reversed(pieces))
    codes = [code[0] for a, b, code in whole.spans(0) for _ in range(a, b)]
    assert codes == [SILENT, SILENT, SILENT, FOUND, DORMANT, FOUND, DORMANT]
    one, two = whole.cells(0)
    assert (one.verdict, one.ticks, one.reaction_ms) == (SILENT, {SILENT: 3}, 20)
    assert (two.verdict, two.found, two.reaction_ms) == (FOUND, "fault 1", 30)
    assert two.ticks == {FOUND: 2, DORMANT: 2}
    assert (whole.run, whole.merged) == (2, 5)


def test_two_full_cycles_have_more_than_24000_ticks_on_both_sites() -> None:
    for name in ("workshop-pit", "boat-slip"):
        site = load_site(name)
        p = Plan(site, load_netlist(site.wiring), 1, False)
        assert sum(p.nominal(script).end_ms // STEP_MS for script in TICK_SCRIPTS) >= 24_000
