"""Nuisance runs: what the meters read, what a canary shows, and cycles kept in a file."""

import json
from pathlib import Path

import pytest

from leafwinch.fault_texts import FAULTS
from leafwinch.faults import CURRENT_TRIP
from leafwinch_sim import nuisance
from leafwinch_sim.nuisance import Cycle, canary_site, healthy, play_cycle, quantile, summary
from leafwinch_sim.nuisance_margins import KEYS, MARGINS
from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import load_site
from leafwinch_sim.spread import draw
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist
from tests.sim.sites import ALTERNATING, DIRECT


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_the_meters_agree_with_the_run_itself(name: str) -> None:
    site = load_site(name)
    cycle = play_cycle(site, load_netlist(site.wiring), 5)
    shares = dict(zip(KEYS, cycle.shares, strict=True))
    run = run_script(site, load_script("full-cycle"), seed=5, spread=draw(5))
    assert cycle.sound()
    # The core sees the current through a sensor with noise, one mains cycle late.
    peak = 1000 * run.peak_current_a / site.settings["inrush_trip_ma"]
    assert shares["start_current"] == pytest.approx(peak, rel=0.1)
    running = 1000 * run.peak_running_a / site.settings["trip_ma"]
    assert shares["run_current"] == pytest.approx(running, rel=0.1)
    angle = run.trace["angle_deg"]
    top = angle.index(max(angle))
    fed_up_ms = 5 * sum(1 for way in run.trace["powered_way"][:top] if way == 1)
    budget = fed_up_ms / site.settings["budget_raise_ms"]
    assert shares["raise_budget"] == pytest.approx(budget, rel=0.05)
    travel_ms = shares["raise_budget"] * site.settings["budget_raise_ms"]
    assert shares["early"] >= site.settings["early_raise_ms"] / travel_ms - 0.01


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_the_canary_trips_in_every_cycle(name: str) -> None:
    site = load_site(name)
    net = load_netlist(site.wiring)
    result = healthy(canary_site(site, net), net, 2)
    assert result["verdict"] == "broken"
    assert [row["seed"] for row in result["wrong"]] == [1, 2]
    assert result["causes"] == {FAULTS[CURRENT_TRIP - 1][0]: 2}
    run_current = result["margins"][KEYS.index("run_current")]
    assert run_current["worst"] > 1.0
    assert healthy(site, net, 1)["verdict"] == "holds", "the site without the sabotage"


def test_every_margin_names_a_fault_once_and_can_be_kept() -> None:
    assert len(set(KEYS)) == len(MARGINS)
    for margin in MARGINS:
        assert 1 <= margin.fault <= len(FAULTS)
    assert len({margin.fault for margin in MARGINS}) >= 20


def test_quantiles_are_values_that_occurred() -> None:
    values = [float(number) for number in range(1, 101)]
    assert quantile(values, 0.5) == 50.0
    assert quantile(values, 0.99) == 99.0
    assert quantile(values, 1.0) == 100.0
    assert quantile([7.0], 0.5) == 7.0


def test_summary_counts_each_cause_once_a_cycle() -> None:
    site = load_site(ALTERNATING)
    net = load_netlist(site.wiring)
    shares = (0.5,) * len(MARGINS)
    cycles = [
        Cycle(1, (), (), 0, shares),
        Cycle(2, (26, 26), (), 0, (0.7,) * len(MARGINS)),
        Cycle(3, (26, 1), (), 2, shares),
        Cycle(4, (), (("R10", "in vain"),), 0, shares),
    ]
    data = summary(cycles, site, net)
    assert data["verdict"] == "broken"
    assert data["causes"] == {"current_trip": 2, "supply_lost": 1}
    assert [row["seed"] for row in data["wrong"]] == [2, 3, 4]
    assert data["margins"][0]["worst_seed"] == 2
    assert data["margins"][0]["median"] == 0.5
    assert data["wrong"][0]["spread"]["friction"] == draw(2).friction


def test_kept_cycles_are_not_played_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    site = load_site(DIRECT)
    net = load_netlist(site.wiring)
    kept = tmp_path / "cycles"
    whole = healthy(site, net, 3)
    healthy(site, net, 2, kept=kept)
    with kept.open("a", encoding="utf-8") as target:
        target.write('{"identity": "torn')
    played: list[int] = []
    play = nuisance.play_cycle

    def counting(*arguments: object) -> Cycle:
        played.append(int(str(arguments[2])))
        return play(site, net, played[-1])

    monkeypatch.setattr(nuisance, "play_cycle", counting)
    resumed = healthy(site, net, 3, kept=kept)
    assert played == [3]
    assert resumed == whole
    assert healthy(site, net, 3, kept=kept) == whole
    assert played == [3]


def test_workers_change_nothing() -> None:
    site = load_site(DIRECT)
    net = load_netlist(site.wiring)
    assert healthy(site, net, 3, workers=2) == healthy(site, net, 3)


def test_cycles_of_something_else_are_refused(tmp_path: Path) -> None:
    site = load_site(DIRECT)
    net = load_netlist(site.wiring)
    kept = tmp_path / "cycles"
    row = {"identity": "0" * 16, "seed": 1, "faults": [], "broken": [], "waited": 0, "shares": []}
    for text in (json.dumps(row), "{}", "nothing"):
        kept.write_text(text + "\n", encoding="utf-8")
        with pytest.raises(BadInput, match=r"cycles: line 1 is .*\.$"):
            healthy(site, net, 1, kept=kept)
    with pytest.raises(BadInput, match="no controller"):
        healthy(load_site(ALTERNATING), load_netlist("bare"), 1)
