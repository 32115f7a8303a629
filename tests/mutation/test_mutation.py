"""A hundred small changes of the core, drawn by seed, are noticed or listed with a reason."""

import functools
import os

import pytest

from tests.mutation.foretold import Foretold
from tests.mutation.kill_set import killer_of
from tests.mutation.mutants import LEFT_OUT, all_mutants, modules, mutated, sample, source, words
from tests.mutation.operators import operators
from tests.mutation.report import Result, listed, stale, unlisted
from tests.mutation.trial import Hints, outcomes

SAMPLE = 100
SEED = 1
NOTICED_MIN = 90  # of a hundred drawn; the whole run, `make mutation`, asks for 95 %


@functools.cache
def foretold() -> Foretold:
    """The reference model's answers; made once, since it takes seconds."""
    return Foretold()


def test_the_unchanged_core_passes_every_test() -> None:
    assert killer_of("budget", foretold(), ()) == ""


def test_a_sample_of_changes_is_noticed_or_listed() -> None:
    chosen = sample(all_mutants(), SAMPLE, SEED)
    workers = min(2, os.cpu_count() or 1)
    results = [
        Result(row.mutant, row.words, row.killer)
        for row in outcomes(chosen, foretold(), Hints(), workers)
    ]
    assert len(results) == SAMPLE
    # Mend the hole in the tests, or list the change in survivors.toml with its reason.
    assert unlisted(results) == []
    assert sum(bool(row.killer) for row in results) >= NOTICED_MIN


def test_a_hole_in_the_tests_would_be_seen() -> None:
    mutant = sample(all_mutants(), 1, SEED)[0]
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
    mutants = all_mutants()
    assert {mutant.module for mutant in mutants} == set(modules())
    assert not set(modules()) & set(LEFT_OUT)
    assert len({mutant.slot for mutant in mutants}) == len(mutants)


def test_changes_have_words_and_compile() -> None:
    for mutant in sample(all_mutants(), 60, 2):
        text = mutated(mutant)
        compile(text, mutant.module, "exec")
        assert text != source(mutant.module)
        assert words(mutant, text).startswith(f"{mutant.module}.{mutant.function}")


@pytest.mark.parametrize("name", operators())
def test_each_operator_does_what_its_example_says(name: str) -> None:
    operator = operators()[name]
    for example in operator.examples():
        places = list(positions(operator, example.pre_mutation_code))
        assert len(places) > example.occurrence, example


def positions(operator: object, code: str) -> list[object]:
    """Every place in the code at which the operator applies."""
    from cosmic_ray.ast import ast_nodes, get_ast  # type: ignore[import-untyped]

    mutation_positions = getattr(operator, "mutation_positions")  # noqa: B009
    return [place for node in ast_nodes(get_ast(code)) for place in mutation_positions(node)]
