"""What was done on the page as a scenario file, which others can play."""

import shlex
from dataclasses import dataclass

from leafwinch_host.page.happened import ACTS_MAX
from leafwinch_host.page.play import Play
from leafwinch_host.page.trace_rows import file_name
from leafwinch_sim.scenario import Scenario, scenario_text
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.errors import BadInput


@dataclass(frozen=True, slots=True)
class Kept:
    """A scenario to be kept: name of a file for it, and its text."""

    name: str
    text: str


def kept_scenario(play: Play) -> Kept:
    """Return what happened so far as a scenario file; `leafwinch replay` plays the same run.

    Raises:
        BadInput: more happened than is kept.
    """
    if play.happened.full:
        raise BadInput(
            f"More than {ACTS_MAX} things happened, which is more than a scenario keeps; begin "
            "anew and do less before saving."
        )
    begun = play.begun
    where = names_of(play.site)
    scenario = Scenario(
        name=begun.name,
        summary="what happened on the page of the bench",
        site=where["site"],
        settings=where["settings"],
        wiring="" if play.net.name == play.site.wiring else play.net.name,
        starts_at=begun.starts_at,
        seed=begun.seed,
        clock_wraps_ms=begun.clock_wraps_ms,
        spread=begun.spread,
        mend_at_end=False,
        acts=play.happened.steps(play.bench.t_ms),
    )
    return Kept(file_name(play, "scenario.toml"), scenario_text(scenario))


def names_of(site: Site) -> dict[str, str]:
    """Return names or paths of site and settings, as a scenario has them."""
    words = shlex.split(site.options)
    found = dict(zip(words[::2], words[1::2], strict=True))
    return {"site": found["--site"], "settings": found.get("--settings", "")}
