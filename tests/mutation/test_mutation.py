"""A hundred small changes of the core, drawn by seed, are noticed or listed with a reason."""

import ast
import functools
import subprocess
import sys
from pathlib import Path

import pytest
from cosmic_ray.mutating import mutate_code

from tests.mutation.isolated import ROOT
from tests.mutation.mutants import (
    LEFT_OUT,
    Mutant,
    all_mutants,
    modules,
    mutated,
    sample,
    source,
    words,
)
from tests.mutation.operators import operators
from tests.mutation.report import Result, listed, stale, unlisted

SAMPLE = 100
SEED = 1
NOTICED_MIN = 90  # of a hundred drawn; the whole run, `make mutation`, asks for 95 %


@functools.cache
def every() -> list[Mutant]:
    return all_mutants()


def test_a_sample_of_changes_is_noticed_or_listed(tmp_path: Path) -> None:
    """Runs in a process of its own, since it forks and imports the core anew."""
    command = [sys.executable, "-m", "tests.mutation", "--workers", "2"]
    command += ["--sample", str(SAMPLE), "--seed", str(SEED)]
    command += ["--results", str(tmp_path / "mutation.json")]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    # Mend the hole in the tests, or list the change in survivors.toml with its reason.
    assert run.returncode == 0, run.stdout + run.stderr
    killed = int(run.stdout.split()[0])
    assert run.stdout.startswith(f"{killed} of {SAMPLE} changes noticed")
    assert killed >= NOTICED_MIN


def test_a_hole_in_the_tests_would_be_seen() -> None:
    mutant = sample(every(), 1, SEED)[0]
    survived = Result(mutant, "chain.step: a change that nobody knows", "")
    assert unlisted([survived]) == [survived.words]
    assert stale([survived]) == sorted(listed())


def test_every_listed_survivor_is_a_line_of_its_module() -> None:
    for entry in listed():
        place, _, change = entry.partition(": ")
        module = place.partition(".")[0]
        was = change.partition(" -> ")[0]
        assert was in [line.strip() for line in source(module).splitlines()], entry


def test_every_module_of_the_core_is_changed_or_left_out() -> None:
    mutants = every()
    assert {mutant.module for mutant in mutants} == set(modules())
    assert not set(modules()) & set(LEFT_OUT)
    assert len({mutant.slot for mutant in mutants}) == len(mutants)


def test_changes_have_words_and_compile() -> None:
    for mutant in sample(every(), 60, 2):
        text = mutated(mutant)
        compile(text, mutant.module, "exec")
        assert text != source(mutant.module)
        assert words(mutant, text).startswith(f"{mutant.module}.{mutant.function}")


@pytest.mark.parametrize("name", operators())
def test_each_operator_does_what_its_example_says(name: str) -> None:
    operator = operators()[name]
    examples = list(operator.examples())
    assert examples
    for example in examples:
        text = mutate_code(example.pre_mutation_code, operator, example.occurrence)
        changed = example.pre_mutation_code if text is None else text
        wanted = ast.dump(ast.parse(example.post_mutation_code.strip()))
        assert ast.dump(ast.parse(changed.strip())) == wanted
