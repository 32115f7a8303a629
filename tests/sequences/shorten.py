"""Makes a failing scenario short and plain: fewer acts, shorter, a nominal installation.

Hypothesis shrinks what it draws, this shrinks what is played: it may leave out an act in the
middle, or join what Hypothesis draws as one rule. A change stays where the same requirement
still breaks.
"""

from collections.abc import Iterator
from dataclasses import replace

from leafwinch_sim.board import MakeController
from leafwinch_sim.scenario import CLOCK_WRAPS_MS, Scenario
from leafwinch_sim.scenario_play import ScenarioPlayer
from leafwinch_sim.scripts import Step
from leafwinch_sim.spread import NOMINAL
from tests.sequences.machine import Finding

PLAYS = 100
ROUND_MS = (0, 50, 100, 200, 300, 500, 1000, 1500, 2000, 2500, 3000, 5000, 8000)


def breaks(scenario: Scenario, make: MakeController | None) -> Finding | None:
    """Play a scenario until something breaks; return that, or None."""
    player = ScenarioPlayer(scenario, make, judge_only=True)
    try:
        for act in scenario.acts:
            player.act(act)
            if player.broken:
                break
        if not player.broken and scenario.mend_at_end:
            player.mend()
        if not player.broken:
            player.finish()
    except Exception as error:
        return Finding(scenario, type(error).__name__, str(error))
    for name, broken in player.broken.items():
        return Finding(scenario, name, broken.text)
    return None


def shorten(finding: Finding, make: MakeController | None = None, plays: int = PLAYS) -> Finding:
    """Return the shortest variant found within a number of plays."""
    tried: set[Scenario] = set()
    better = True
    while better:
        better = False
        for candidate in _simpler(finding.scenario):
            if candidate in tried:
                continue
            if len(tried) >= plays:
                return finding
            tried.add(candidate)
            found = breaks(candidate, make)
            if found is not None and found.requirement == finding.requirement:
                finding = found
                better = True
                break
    return finding


def _simpler(scenario: Scenario) -> Iterator[Scenario]:
    """Yield simpler scenarios, the boldest first."""
    acts = scenario.acts
    if scenario.mend_at_end:
        yield replace(scenario, mend_at_end=False)
    size = len(acts) // 2
    while size >= 1:
        for start in range(len(acts) - size, -1, -1):
            if size < len(acts):
                yield replace(scenario, acts=acts[:start] + acts[start + size :])
        size //= 2
    yield replace(scenario, spread=NOMINAL, seed=1, clock_wraps_ms=CLOCK_WRAPS_MS, switched_off=())
    yield replace(scenario, spread=NOMINAL)
    yield replace(scenario, clock_wraps_ms=CLOCK_WRAPS_MS)
    yield replace(scenario, starts_at="bottom")
    for place, act in enumerate(acts):
        for for_ms in ROUND_MS:
            if for_ms < act.for_ms and not act.until:
                yield replace(
                    scenario, acts=(*acts[:place], _lasting(act, for_ms), *acts[place + 1 :])
                )


def _lasting(act: Step, for_ms: int) -> Step:
    return Step(act.verb, act.object, for_ms, act.until, act.note)
