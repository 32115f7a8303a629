"""Searches random sequences for a broken requirement, and writes what it finds as a scenario."""

import random
from dataclasses import replace
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, Phase, settings
from hypothesis import seed as seeded
from hypothesis.stateful import run_state_machine_as_test

from leafwinch_sim.board import ControllerLike, MakeController
from leafwinch_sim.scenario import Scenario, act_words, scenario_text
from leafwinch_sim.site import load_site
from tests.seeded_bugs.patched import Make
from tests.sequences.catalogue import Catalogue, catalogue_of
from tests.sequences.machine import EnoughError, Finding, FoundError, Sequences, Task
from tests.sequences.shorten import shorten

SITES = ("workshop-pit", "boat-slip")
ROUND_EXAMPLES = 10  # beyond its tenth Hypothesis mostly varies what it drew before
# The search for a bug in the core: few mended sequences, then more of short acts.
MENDED_STEPS = 6
MENDED_PLAYS = 15
SHORT_ROUNDS = 6
SHORT_STEPS = 40
SHORT_PLAYS = 60


def search(task: Task, rounds: int, steps: int, seed: int = 1, plays: int = 100) -> Finding | None:
    """Draw sequences until a requirement breaks; return the shortened scenario or None.

    The same arguments draw the same sequences.

    Args:
        task: what to draw from; it also counts.
        rounds: each draws ROUND_EXAMPLES sequences.
        steps: rules in each sequence at most.
        seed: of the first round; the others count on from it.
        plays: how many plays the shortening may take.
    """
    for number in range(seed, seed + rounds):
        _round(task, steps, number)
        if task.finding is not None:
            return shorten(task.finding, task.make, plays)
    return None


def _round(task: Task, steps: int, seed: int) -> None:
    """Draw the sequences of one round."""

    @seeded(seed)
    def machine() -> Sequences:
        return Sequences(task)

    factory: Any = machine  # wants a class, and calls it

    chosen = settings(
        max_examples=ROUND_EXAMPLES,
        stateful_step_count=steps,
        database=None,
        deadline=None,
        report_multiple_bugs=False,
        print_blob=False,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=list(HealthCheck),
    )
    try:
        run_state_machine_as_test(factory, settings=chosen)
    except (EnoughError, FoundError):
        pass
    except Exception:
        # Stopped from within, Hypothesis complains that the last run drew less than before.
        if not task.enough:
            raise


def write_finding(finding: Finding, folder: Path) -> Path:
    """Write a finding as a scenario file and return its path."""
    folder.mkdir(parents=True, exist_ok=True)
    scenario = finding.scenario
    named = replace(
        scenario,
        found=finding.requirement,
        summary=finding.text,
        name=f"{finding.requirement}-{mark_of(scenario)}",
    )
    path = folder / f"{named.name}.toml"
    path.write_text(scenario_text(named), encoding="utf-8")
    return path


def mark_of(scenario: Scenario) -> str:
    """Return a short mark that tells scenarios apart."""
    text = "".join(act_words(act) for act in scenario.acts) + scenario.site
    return f"{random.Random(text).getrandbits(24):06x}"


def told(finding: Finding) -> str:
    """Return a finding in a few lines: what broke, the draw, the acts."""
    scenario = finding.scenario
    acts = "; ".join(act_words(act) for act in scenario.acts)
    off = ", ".join(scenario.switched_off) or "nothing"
    return (
        f"{finding.requirement} broke: {finding.text}\n"
        f"{scenario.site}, seed {scenario.seed}, clock wraps after "
        f"{scenario.clock_wraps_ms} ms, {scenario.spread}, switched off: {off}\n{acts}"
    )


def installations() -> tuple[Catalogue, ...]:
    """Return the catalogues of the demo sites."""
    return tuple(catalogue_of(site) for site in SITES)


def bench_maker(make: Make, site: str) -> MakeController:
    """Return the bench's maker of controllers for a maker of cores."""
    values: dict[str, Any] = dict(load_site(site).settings)

    def made(kept: tuple[int, ...] | None, boot: int) -> ControllerLike:
        core: ControllerLike = make(values, kept, boot)
        return core

    return made


def caught_by_sequences(make: Make, site: str = SITES[0]) -> Scenario | None:
    """Return a short scenario on which a core breaks a requirement, or None.

    The same draws every time: a few that are mended at the end, then many of short acts that
    are not, so that it takes seconds.

    Args:
        make: maker of cores, as `tests.seeded_bugs.patched.maker_of` returns.
        site: the installation on which it runs.
    """
    maker = bench_maker(make, site)
    catalogues = (catalogue_of(site),)
    finding = search(Task(catalogues, maker, shrink_runs=5), 1, MENDED_STEPS, plays=MENDED_PLAYS)
    if finding is None:
        task = Task(catalogues, maker, frozenset({"ends"}), mend=False, shrink_runs=20)
        finding = search(task, SHORT_ROUNDS, SHORT_STEPS, plays=SHORT_PLAYS)
    return None if finding is None else replace(finding.scenario, found=finding.requirement)
