"""Whole scripts on the bench: the firmware in a real MicroPython equals this interpreter's."""

import pytest

from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import load_site


@pytest.mark.parametrize("site_name", ["workshop-pit", "boat-slip"])
@pytest.mark.parametrize("script_name", ["full-cycle", "every-function"])
def test_a_whole_script_is_the_same_under_micropython(site_name: str, script_name: str) -> None:
    # Run under "micropython" both interpreters play in lockstep and stop at any difference.
    site = load_site(site_name)
    script = load_script(script_name)
    ours = run_script(site, script, trace=False)
    theirs = run_script(site, script, interpreter="micropython", trace=False)
    assert theirs.interpreter == "micropython"
    assert theirs.hash == ours.hash
    assert theirs.state == ours.state
    assert theirs.faults == ours.faults
    assert not theirs.broken


def test_a_defect_is_found_alike_under_micropython() -> None:
    site = load_site("workshop-pit")
    script = load_script("every-function")
    defects = [("BG1.second:welded", 1000)]
    ours = run_script(site, script, defects=defects, trace=False)
    theirs = run_script(site, script, defects=defects, interpreter="micropython", trace=False)
    assert theirs.hash == ours.hash
    assert theirs.faults == ours.faults
    assert ours.faults
