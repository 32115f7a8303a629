"""Sound installations that differ: friction, mass, supply, bounce, contact skew, throw, noise.

What an ordinary installation may differ by is common practice, no source.
"""

from dataclasses import asdict
from functools import cache

import pytest

from leafwinch_sim.nuisance import play_cycle, summary
from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import load_site
from leafwinch_sim.spread import (
    BOUNCE_MS,
    DRAG,
    EFFICIENCY,
    FRICTION,
    MASS,
    NOISE_MA,
    SKEW_MS,
    SUPPLY,
    THROW_MS,
    draw,
)
from leafwinch_wiring.netlist import load_netlist
from tests.sim.sites import ALTERNATING, DIRECT
from tests.sim.test_bench import EXPECTED_FAULTS

SEEDS = range(1, 401)
"""Draws to choose from; `leafwinch healthy --cycles 400` plays them all."""

PLAIN = {ALTERNATING: 24, DIRECT: 16}
"""How many of the first draws are played, whatever they are."""


def shares(seed: int) -> list[float]:
    """Where each quantity of a draw lies: 0 at one limit of the spread, 1 at the other."""
    limits = {
        "friction": FRICTION,
        "mass": MASS,
        "supply": SUPPLY,
        "bounce_ms": BOUNCE_MS,
        "skew_ms": SKEW_MS,
        "throw_ms": THROW_MS,
        "noise_ma": NOISE_MA,
        "efficiency": EFFICIENCY,
        "drag": DRAG,
    }
    drawn = asdict(draw(seed))
    assert set(drawn) == set(limits)
    return [(drawn[name] - low) / (high - low) for name, (low, high) in limits.items()]


def load(seed: int) -> float:
    """How hard the winch of a draw has to work: all that loads it, less all that helps it."""
    friction, mass, supply, _, _, _, _, efficiency, drag = shares(seed)
    return friction + mass + drag - supply - efficiency


@cache
def hardest() -> tuple[int, ...]:
    """The lowest and highest of each quantity, and the four lightest and the four heaviest."""
    by_load = sorted(SEEDS, key=load)
    found = {*by_load[:4], *by_load[-4:]}
    rows = {seed: shares(seed) for seed in SEEDS}
    for place in range(len(rows[SEEDS[0]])):
        found |= {
            min(SEEDS, key=lambda s: rows[s][place]),
            max(SEEDS, key=lambda s: rows[s][place]),
        }
    return tuple(sorted(found))


@pytest.mark.parametrize("name", [ALTERNATING, DIRECT])
def test_full_cycles_without_a_fault(name: str) -> None:
    site = load_site(name)
    net = load_netlist(site.wiring)
    seeds = sorted({*SEEDS[: PLAIN[name]], *hardest()})
    result = summary([play_cycle(site, net, seed) for seed in seeds], site, net)
    assert result["wrong"] == []
    assert (result["verdict"], result["cycles"]) == ("holds", len(seeds))
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
    for seed in (201, 202, *sorted(SEEDS, key=load)[:: len(SEEDS) - 1]):
        result = run_script(site, script, seed=seed, spread=draw(seed), trace=False)
        assert result.faults == EXPECTED_FAULTS[name], seed
        assert result.broken == {}, seed
        assert result.surprised == (), seed


def test_the_draws_reach_the_limits_of_the_spread() -> None:
    rows = [shares(seed) for seed in hardest()]
    for reached in zip(*rows, strict=True):
        assert 0.0 <= min(reached) < 0.02
        assert 0.98 < max(reached) <= 1.0
