"""Reads a scenario or an operator script that a page sends as text."""

import tomllib

from leafwinch_host.page.play import Opening
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.scenario import parse_scenario
from leafwinch_sim.scripts import parse_script
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

SOURCE = "page"  # what errors call the text


def opening_of(text: str, site: Site, net: Netlist, known: dict[str, Defect]) -> Opening:
    """Return what a text holds: a script (with steps), a scenario (with acts), or nothing.

    A scenario is played on the installation of the page, never on a file that it names, and is
    over after its last act: mending at its end is for `leafwinch replay`.

    Args:
        text: TOML; empty for hands only.
        site: what is installed; a scenario must be meant for it.
        net: how it is wired; the same.
        known: every defect and surrounding by id.

    Raises:
        BadInput: one sentence that says what was found and what is allowed.
    """
    if not text.strip():
        return Opening()
    data = text.encode("utf-8", "replace")
    if _is_script(text):
        return Opening(script=parse_script(data, SOURCE))
    scenario = parse_scenario(data, SOURCE)
    if scenario.site != site.name:
        raise BadInput(f"The scenario is for site '{scenario.site[:80]}'; here is {site.name}.")
    if scenario.wiring not in ("", net.name):
        raise BadInput(f"The scenario is for wiring '{scenario.wiring[:80]}'; here is {net.name}.")
    for number, act in enumerate(scenario.acts, 1):
        if act.verb in ("come", "go", "break", "mend") and act.object not in known:
            raise BadInput(f"{SOURCE}: act {number}: there is no '{act.object[:80]}' here.")
    return Opening(scenario=scenario)


def _is_script(text: str) -> bool:
    try:
        return "step" in tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return False  # the reader of scenarios says what is wrong
