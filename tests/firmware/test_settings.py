"""Settings: every wrong value is refused with one sentence that names it."""

import pytest

from leafwinch.settings import BUCKETS, Settings
from leafwinch.settings_schema import (
    ORDER_RULES,
    SCHEMA,
    SETTING_NAMES,
    check_converter,
    check_order,
    default_settings,
    settings_from,
)


def test_names_left_out_take_the_default() -> None:
    settings = settings_from({"trip_ms": 80})
    for name, _unit, _lowest, _highest, default in SCHEMA:
        assert getattr(settings, name) == (80 if name == "trip_ms" else default)


@pytest.mark.parametrize("row", SCHEMA, ids=SETTING_NAMES)
def test_range_of_each_setting(row: tuple[str, str, int, int, int]) -> None:
    name, unit, lowest, highest, default = row
    assert lowest <= default <= highest
    assert unit
    for value in (lowest - 1, highest + 1):
        sentence = f"settings.{name} is {value}, allowed are {lowest} to {highest} {unit}"
        with pytest.raises(ValueError, match=sentence):
            settings_from({name: value})


@pytest.mark.parametrize("value", [1.5, "5", None, True])
def test_only_whole_numbers(value: object) -> None:
    with pytest.raises(ValueError, match=r"settings\.pull_ms must be a whole number of ms"):
        settings_from({"pull_ms": value})  # type: ignore[dict-item]


def test_unknown_name() -> None:
    with pytest.raises(ValueError, match=r"settings\.pul_ms is unknown"):
        settings_from({"pul_ms": 60})


@pytest.mark.parametrize("rule", ORDER_RULES, ids=lambda rule: f"{rule[0]} < {rule[1]}")
def test_order_rules(rule: tuple[str, str]) -> None:
    left, right = rule
    settings = default_settings()
    setattr(settings, left, getattr(settings, right))
    found = f"settings.{left} is .* must be lower than settings.{right}"
    with pytest.raises(ValueError, match=found):
        check_order(settings)


def test_settings_that_contradict_each_other_are_refused() -> None:
    found = r"settings\.run_max_ma is 8000.* lower than settings\.trip_ma, which is 7000"
    with pytest.raises(ValueError, match=found):
        settings_from({"run_max_ma": 8000, "trip_ma": 7000})
    with pytest.raises(ValueError, match=r"settings\.run_max_ma is 9000"):
        settings_from({"run_max_ma": 9000})


def test_defaults_are_in_order() -> None:
    check_order(default_settings())


def test_all_settings_are_attributes_and_the_envelope_has_its_buckets() -> None:
    settings = Settings()
    assert set(vars(settings)) - set(SETTING_NAMES) == {
        "raise_low_ma",
        "raise_high_ma",
        "lower_low_ma",
        "lower_high_ma",
    }
    assert len(settings.raise_low_ma) == BUCKETS


def test_converter_must_reach_the_trips_and_tell_the_rest_level() -> None:
    check_converter(settings_from({"rest_ma": 300, "sensor_range_ma": 60_000}))
    found = r"rest_ma is 300, .*sensor_range_ma 60200 the converter can tell 301"
    with pytest.raises(ValueError, match=found):
        check_converter(settings_from({"rest_ma": 300, "sensor_range_ma": 60_200}))
    found = r"inrush_trip_ma is 25000, .* lower than settings\.sensor_range_ma, which is 25000"
    with pytest.raises(ValueError, match=found):
        check_converter(settings_from({"sensor_range_ma": 25_000}))
