"""The explored core against SPIN, a model checker for Promela (G. J. Holzmann, The SPIN Model
Checker, Addison-Wesley 2004; language and options from memory).

A reduced model of the state machine, written by hand in spin/core.pml, chooses every input and
every timer freely. SPIN lists all its states and proves its claims. The real core, explored with
real timers, must show exactly the same states under the map in spin/image.py: one that the model
lacks is a transition nobody wrote down, one that the core lacks is a claim about nothing.
"""

import functools
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.external.spin.image import State, explored_image

MODEL = Path(__file__).parent / "spin" / "core.pml"
CLAIMS = ("r1", "r3", "r4", "r5")
LIMIT_S = 60
# A model with a mistake: (text that goes, text that comes, claim that must notice).
MISTAKES = (
    ("moving && asked && !candidate -> skip", "moving && !candidate -> skip", "r1"),
    ("moving -> skip", "moving -> mode = RAISING + LOWERING - mode", "r3"),
    ("proven -> mode = IDLE", "proven -> mode = RAISING", "r4"),
    ("chain && proven -> to_held()", "chain && proven -> mode = IDLE", "r5"),
)


def tool(name: str, package: str) -> str:
    found = shutil.which(name)
    if found is None:
        pytest.fail(f"this test needs '{name}': install it with 'apt-get install {package}'")
    return found


def run(folder: Path, *command: str) -> str:
    done = subprocess.run(
        command, cwd=folder, capture_output=True, text=True, timeout=LIMIT_S, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def verifier(folder: Path, model: str, *flags: str) -> Path:
    """Turn a model into the program that searches all its states."""
    spin, gcc = tool("spin", "spin"), tool("gcc", "gcc")
    (folder / "core.pml").write_text(model, encoding="ascii")
    run(folder, spin, "-a", "core.pml")
    run(folder, gcc, "-O0", "-w", *flags, "-o", "pan", "pan.c")
    return folder / "pan"


def errors(pan: Path, *arguments: str) -> int:
    out = run(pan.parent, str(pan), "-m100000", *arguments)
    found = re.search(r"errors: (\d+)", out)
    assert found, out
    assert "max search depth too small" not in out
    return int(found[1])


def model_states(folder: Path) -> set[State]:
    """Return every state at the end of a pass that the model can be in."""
    pan = verifier(folder, MODEL.read_text(encoding="ascii"), "-DNOREDUCE", "-DNOCLAIM")
    out = run(folder, str(pan), "-m100000")
    assert "errors: 0" in out, "an assertion of the model fails"
    found: set[State] = set()
    for line in re.findall(r"^STATE (.*)$", out, re.MULTILINE):
        mode, phase, ask, chain, proven, window = map(int, line.split())
        found.add((mode, phase, ask, chain, proven, window))
    return found


@functools.cache
def core_states() -> frozenset[State]:
    return frozenset(explored_image())


def test_the_explored_core_shows_exactly_the_states_of_the_model(tmp_path: Path) -> None:
    model, core = model_states(tmp_path), core_states()
    assert core - model == set(), "the core shows what the model does not know"
    assert model - core == set(), "the model can do what the core never shows"
    assert {state[0] for state in core} == {0, 1, 2, 3, 4}


def test_every_claim_of_the_model_is_proven(tmp_path: Path) -> None:
    pan = verifier(tmp_path, MODEL.read_text(encoding="ascii"))
    assert {claim: errors(pan, "-a", "-N", claim) for claim in CLAIMS} == dict.fromkeys(CLAIMS, 0)


@pytest.mark.parametrize(("old", "new", "claim"), MISTAKES, ids=[row[2] for row in MISTAKES])
def test_a_mistake_in_the_model_is_noticed(tmp_path: Path, old: str, new: str, claim: str) -> None:
    model = MODEL.read_text(encoding="ascii")
    wrong = model.replace(f" {old} }}", f" {new} }}", 1)
    assert wrong != model
    assert errors(verifier(tmp_path, wrong), "-a", "-N", claim) > 0
