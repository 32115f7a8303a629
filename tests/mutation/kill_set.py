"""The tests a changed core has to pass: those of the suite, called as plain functions.

Small tests come first, then all scenarios against the answers of the reference model, random
walks, and at last the tests that take longest. A test with a parametrize mark is called with
each of its values, as pytest does.
"""

import importlib
import itertools
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tests.mutation.foretold import Foretold, play_all, play_one, play_walk, walk_names

Check = Callable[[], None]
FAILED = (Exception, pytest.fail.Exception)  # the latter is what pytest.raises ends with

MODULES = (
    "tests.firmware.test_exact_times",
    "tests.firmware.test_exact_control",
    "tests.firmware.test_exact_current",
    "tests.firmware.test_mirrors",
    "tests.firmware.test_chain_and_recovery",
    "tests.firmware.test_budget",
    "tests.firmware.test_lamps_and_heat",
    "tests.firmware.test_small_parts",
    "tests.firmware.test_controller_edges",
    "tests.firmware.test_current",
    "tests.firmware.test_settings",
    "tests.firmware.test_tables",
    "tests.firmware.test_snapshot",
    "tests.firmware.test_int_bounds",
    "tests.reference_model.test_scenarios",
    "tests.reference_model.test_firmware_readme",
    "tests.external.test_thermal_against_iec",
    "tests.firmware.test_cause_skew",
)
# After scenarios and walks, which are quicker: two seconds, as long as all the rest together.
LONGEST = ("tests.firmware.test_nothing_left_out",)
# Called for these modules only: they take long, and no other module can fail them sooner.
ONLY_FOR = {
    "test_red_flashes_count_group_and_item": (),  # the next one says the same of a few
    "test_snapshot_holds_only_integers_and_all_of_the_state": ("supervision",),
    "test_canonical_form_tells_states_apart": ("supervision",),
    "test_fault_cause": ("cause", "control", "controller", "chain"),
    "test_ending": ("cause", "control", "controller", "ends"),
    "test_motor_is_off_with_the_second_open_sample": ("inputs", "chain"),
    "test_one_open_sample_is_no_cause": ("inputs",),
    "test_a_start_at_500_a_stays_in_bounds": ("current", "thermal"),
    "test_every_combination_of_mirrors_in_every_phase": ("contactors",),
    "test_red_lamp_counts_group_and_item": ("indicator",),
    "test_red_lamp_is_dark_without_a_fault": ("indicator",),
    "test_class_limits": ("thermal",),
    "test_analytic_curve": ("thermal",),
    "test_cyclic_load_of_a_textbook_motor": (),
    "test_heating_and_cooling_of_a_textbook_motor": ("thermal",),
    "test_heating_from_a_warm_start_of_a_textbook_motor": ("thermal",),
    "test_the_curve_is_flat_above_eight_times_the_trip_level": ("thermal",),
    "test_a_replica_of_the_wrong_class_breaks_the_limits": ("thermal",),
    "test_a_different_temperature_is_seen": (),
    # Scenarios are played by play_all, and these test the tests.
    "test_a_rule_that_is_left_out_too_often_is_found": (),
    "test_scenario": (),
    "test_any_difference_is_seen": (),
    "test_scenarios_stay_in_bounds": (),
    "test_currents_up_to_500_a_stay_in_bounds": (),
    "test_same_inputs_twice_give_the_same_hash": (),
    "test_an_old_part_is_renewed_and_a_missing_marker_is_said_so": (),
    "test_every_module_has_its_owner_line": (),
}


def _rows(mark: Any) -> Iterator[dict[str, Any]]:
    """Yield the arguments that one parametrize mark stands for."""
    names = mark.args[0]
    names = [name.strip() for name in names.split(",")] if isinstance(names, str) else list(names)
    for row in mark.args[1]:
        values = (row,) if len(names) == 1 else tuple(row)
        yield dict(zip(names, values, strict=True))


def calls_of(function: Callable[..., None]) -> Iterator[dict[str, Any]]:
    """Yield the arguments of every call that pytest would make."""
    marks = [mark for mark in getattr(function, "pytestmark", []) if mark.name == "parametrize"]
    for rows in itertools.product(*(list(_rows(mark)) for mark in marks)):
        yield {name: value for row in rows for name, value in row.items()}


def _check(function: Callable[..., None]) -> Check:
    def check() -> None:
        for values in calls_of(function):
            function(**values)

    return check


def small_checks(test_module: str, module: str) -> Iterator[tuple[str, Check]]:
    """Yield the tests of one test module that a change to a module of the core has to pass."""
    for test, function in vars(importlib.import_module(test_module)).items():
        if not test.startswith("test_") or hasattr(function, "hypothesis"):
            continue
        if callable(function) and module in ONLY_FOR.get(test, (module,)):
            yield f"{test_module}.{test}", _check(function)


def _hinted(name: str, module: str, foretold: Foretold) -> None:
    """Run one test by its name; a name that means nothing any more passes."""
    if name in foretold.paths:
        play_one(foretold, name)
    test_module = name.rpartition(".")[0]
    if test_module in MODULES + LONGEST:
        dict(small_checks(test_module, module)).get(name, lambda: None)()


def _killer_in(test_modules: tuple[str, ...], module: str, hints: tuple[str, ...]) -> str:
    for test_module in test_modules:
        for name, check in small_checks(test_module, module):
            if name not in hints:
                try:
                    check()
                except FAILED:
                    return name
    return ""


def killer_of(module: str, foretold: Foretold, hints: tuple[str, ...]) -> str:
    """Return the name of the first test that fails, or '' where the change goes unnoticed.

    hints: names to try first, since they noticed other changes nearby.
    """
    for name in hints:
        try:
            _hinted(name, module, foretold)
        except FAILED:
            return name
    failed = _killer_in(MODULES, module, hints) or play_all(foretold)
    if failed:
        return failed
    for index, name in enumerate(walk_names()):
        try:
            play_walk(foretold, index)
        except FAILED:
            return name
    return _killer_in(LONGEST, module, hints)
