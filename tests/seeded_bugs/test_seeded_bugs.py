"""Each seeded bug is caught by its scenario, and many by the reference model alone."""

import pytest

from leafwinch.controller import Controller
from tests.firmware.drive import Drive, make_controller
from tests.seeded_bugs.bugs import BUGS, Bug
from tests.seeded_bugs.catching import (
    CAUGHT,
    METHODS,
    README,
    caught_by_model,
    caught_text,
    kept,
    model_disagrees,
    readme,
    scenario_fails,
)
from tests.seeded_bugs.patched import maker_of, patched_source

BUGS_MIN = 20
CAUGHT_ALONE_MIN = {"model": 8, "exploration": 8, "sequences": 1}
# Tried anew in each run; to try all takes minutes.
TRIED_ANEW = (("exploration", "wrap compare reversed"), ("sequences", "start straight from held"))
NAMES = [bug.name for bug in BUGS]


def test_there_are_enough_bugs_with_names_of_their_own() -> None:
    assert len(set(NAMES)) == len(BUGS) >= BUGS_MIN


@pytest.mark.parametrize("bug", BUGS, ids=NAMES)
def test_the_scenario_passes_with_the_real_core_and_fails_with_the_bug(bug: Bug) -> None:
    Drive(bug.values, make_controller).play(bug.scenario)
    make = maker_of(bug)
    assert type(make(bug.values, None, 0)) is not Controller
    assert scenario_fails(bug, make)


def test_the_reference_model_finds_nothing_in_the_real_core() -> None:
    assert not model_disagrees(make_controller)


def test_each_method_alone_catches_many() -> None:
    table = kept()
    assert list(table) == NAMES
    for method, least in CAUGHT_ALONE_MIN.items():
        assert sum(row[method] for row in table.values()) >= least, method


def test_the_table_says_what_the_reference_model_finds_today() -> None:
    assert {name: row["model"] for name, row in kept().items()} == caught_by_model()


@pytest.mark.parametrize(("method", "name"), TRIED_ANEW)
def test_the_table_says_what_the_slow_methods_find_today(method: str, name: str) -> None:
    _, catches = METHODS[method]
    bug = next(bug for bug in BUGS if bug.name == name)
    assert catches(maker_of(bug)) == kept()[name][method]


def test_the_table_is_up_to_date() -> None:
    # Renew both with: python -m tests.seeded_bugs.catching
    assert README.read_text(encoding="utf-8") == readme(kept())
    assert CAUGHT.read_text(encoding="utf-8") == caught_text(kept())


def test_a_bug_whose_text_is_gone_is_said_so() -> None:
    with pytest.raises(ValueError, match=r"its text occurs 0 times in cause\.py"):
        patched_source(BUGS[0]._replace(file="cause.py"))
