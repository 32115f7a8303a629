"""Reads a scenario or an operator script that a page sends as text."""

import tomllib
from collections.abc import Container

from leafwinch_host.commands.run import pair_defects
from leafwinch_host.page.keeping import names_of
from leafwinch_host.page.play import Opening
from leafwinch_host.recipe import RECIPE, recipe_of
from leafwinch_sim import toml_files
from leafwinch_sim.bench_defects import Defect, all_defects
from leafwinch_sim.scenario import Scenario, parse_scenario, surroundings
from leafwinch_sim.scripts import load_script, parse_script
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

SOURCE = "page"  # what errors call the text


def opening_of(text: str, site: Site, net: Netlist, known: dict[str, Defect]) -> Opening:
    """Return what a text holds: a script (with steps), a scenario (with acts), or nothing.

    It may also be a line `leafwinch run ...` that a proof printed, with a shipped script.

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
    if text.lstrip().startswith(RECIPE):
        return _of_line(text.strip(), site, net, known)
    if _is_script(text):
        return Opening(script=parse_script(data, SOURCE))
    scenario = parse_scenario(data, SOURCE)
    _must_fit(site, net, scenario.site, scenario.wiring, scenario.settings)
    check_acts(scenario, known, SOURCE)
    return Opening(scenario=scenario)


def known_defects(site: Site, net: Netlist) -> dict[str, Defect]:
    """Return every defect and surrounding of an installation by its id."""
    found = {defect.id: defect for defect in all_defects(site, net, strict=True)}
    return {**found, **surroundings(site)}


def check_acts(scenario: Scenario, known: Container[str], source: str) -> None:
    """Raise BadInput where an act names what is not there; `source` names the text."""
    for number, act in enumerate(scenario.acts, 1):
        if act.verb in ("come", "go", "break", "mend") and act.object not in known:
            raise BadInput(f"{source}: act {number}: there is no '{act.object[:80]}' here.")


def _of_line(line: str, site: Site, net: Netlist, known: dict[str, Defect]) -> Opening:
    recipe = recipe_of(line)
    _must_fit(site, net, recipe.site, recipe.wiring or "", str(recipe.settings or ""))
    shipped = toml_files.shipped("scripts")
    if recipe.script not in shipped:
        raise BadInput(
            f"The script '{recipe.script[:80]}' is not a shipped one ({', '.join(shipped)}); "
            "start 'leafwinch bench --scenario' with this line instead."
        )
    defects = pair_defects(recipe.defect, recipe.at)
    for name, _ in defects:
        if name not in known:
            raise BadInput(f"There is no defect '{name[:80]}' on this installation.")
    return Opening(script=load_script(recipe.script), defects=tuple(defects), seed=recipe.seed)


def _must_fit(site: Site, net: Netlist, site_name: str, wiring: str, settings: str) -> None:
    """Refuse what is meant for another installation than the page's."""
    here = names_of(site)
    if site_name not in (site.name, here["site"]):
        raise BadInput(f"The scenario is for site '{site_name[:80]}'; here is {site.name}.")
    if wiring not in ("", net.name):
        raise BadInput(f"The scenario is for wiring '{wiring[:80]}'; here is {net.name}.")
    if settings != here["settings"]:
        raise BadInput(
            f"The scenario is for settings '{settings[:80] or 'of the site'}'; here are "
            f"'{here['settings'] or 'of the site'}'."
        )


def _is_script(text: str) -> bool:
    try:
        return "step" in tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return False  # the reader of scenarios says what is wrong
