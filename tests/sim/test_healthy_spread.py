"""Sound installations that differ: friction, mass, supply, bounce, contact skew, throw, noise.

What an ordinary installation may differ by is common practice, no source.
"""

import pytest

from leafwinch_sim.nuisance import healthy
from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import load_site
from leafwinch_sim.spread import draw
from leafwinch_wiring.netlist import load_netlist
from tests.sim.sites import ALTERNATING, DIRECT
from tests.sim.test_bench import EXPECTED_FAULTS

DRAWS = {ALTERNATING: 200, DIRECT: 100}


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_full_cycles_without_a_fault(name: str) -> None:
    site = load_site(name)
    result = healthy(site, load_netlist(site.wiring), DRAWS[name])
    assert result["wrong"] == []
    assert (result["verdict"], result["cycles"], result["complete"]) == ("holds", DRAWS[name], True)
    worst = {row["key"]: row["worst"] for row in result["margins"]}
    # A rule that comes so near its limit in a sound drive would trip sooner or later.
    assert max(worst.values()) < 0.95, worst
    assert worst["run_current"] * site.settings["trip_ma"] < site.settings["run_max_ma"]
    for key in ("start_current", "run_current", "raise_budget", "lower_budget", "early", "thermal"):
        assert worst[key] > 0.1, "this is used in every cycle, so its meter must show it"


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_every_function_with_scripted_faults_only(name: str) -> None:
    site = load_site(name)
    script = load_script("every-function")
    for seed in range(201, 209):
        result = run_script(site, script, seed=seed, spread=draw(seed), trace=False)
        assert result.faults == EXPECTED_FAULTS[name], seed
        assert result.broken == {}, seed
        assert result.surprised == (), seed


def test_the_draws_reach_the_limits_of_the_spread() -> None:
    draws = [draw(seed) for seed in range(1, DRAWS[ALTERNATING] + 1)]
    assert min(d.friction for d in draws) < 0.72
    assert max(d.friction for d in draws) > 1.38
    assert min(d.supply for d in draws) < 0.905
    assert max(d.supply for d in draws) > 1.095
    assert {d.bounce_ms for d in draws} == set(range(7))
    assert {d.skew_ms for d in draws} == set(range(9))
