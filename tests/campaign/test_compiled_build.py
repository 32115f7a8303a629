"""The compiled build of the same sources is equal to the plain one, step by step."""

import json
import os
import subprocess
import sys
from functools import lru_cache
from typing import Any

import pytest

from leafwinch_host.bad_build import BadBuild
from leafwinch_host.compiled import VARIABLE, choose_build
from leafwinch_host.compiled_build import with_final_constants

PROGRAM = """
import json, sys
from leafwinch_host.compiled import choose_build
choose_build()
from leafwinch_sim.bench_defects import find_defect
from leafwinch_sim.build_kind import build_kind
from leafwinch_sim.campaign_work import Bay, Plan
from leafwinch_sim.explore.exploration import explore
from leafwinch_sim.explore.extents import TRAVELS
from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist

found = {"build": build_kind()}
for name, defects in (
    ("workshop-pit", ("SF1.raise_no:welded", "rope_parted", "QA1.pole1:welded")),
    ("boat-slip", ("BG1.second:dead", "friction_tripled", "board_hung")),
):
    site = load_site(name)
    for script in ("full-cycle", "every-function"):
        found[f"{name} {script}"] = run_script(site, load_script(script)).hash
    net = load_netlist(site.wiring)
    for defect in defects:
        run = run_script(site, load_script("full-cycle"), net, [(defect, 9000)])
        found[f"{name} {defect}"] = [run.hash, sorted(run.broken)]
    plan = Plan(site, net, 1, False, defects)
    found[f"{name} ticks"] = Bay(plan).perform(("ticks", "full-cycle", 1000))
found["exploration"] = explore(TRAVELS, site.settings).digest
json.dump(found, sys.stdout)
"""


@lru_cache(maxsize=2)
def found_by(build: str) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM],
        env={**os.environ, VARIABLE: build},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    result: dict[str, Any] = json.loads(done.stdout)
    return result


def test_both_builds_agree_in_every_step_and_every_verdict() -> None:
    """The hashes run over all observations of every step, as bits of floats."""
    plain, compiled = found_by("plain"), found_by("compiled")
    assert (plain.pop("build"), compiled.pop("build")) == ("plain", "compiled")
    assert plain == compiled
    assert plain["boat-slip ticks"]["run"] > 0


def test_constants_become_final_and_nothing_else_changes() -> None:
    text = '"""Words."""\n\nfrom x import const\n\nA = const(1 << 3)\nB = (\n    2\n)\n'
    text += "C = [1]\nd = 4\n"
    values = {"A": 8, "B": 2, "C": [1], "d": 4}
    assert with_final_constants(text, values) == (
        '"""Words."""\nfrom typing import Final\n\nfrom x import const\n\n'
        "A: Final = 8\nB: Final = 2\nC = [1]\nd = 4\n"
    )
    assert with_final_constants("d = 4\n", {"d": 4}) == "d = 4\n"


def test_an_unknown_build_is_refused_with_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(VARIABLE, "fast")
    with pytest.raises(BadBuild, match="LEAFWINCH_BUILD is 'fast'; allowed are plain and compiled"):
        choose_build()
    monkeypatch.setenv(VARIABLE, "plain")
    assert choose_build() == "plain"
