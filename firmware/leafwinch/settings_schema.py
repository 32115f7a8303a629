"""The schema of the settings, the only list of their names, units, ranges and defaults.

Host texts and the site file are checked against it. A board loads it to fill and to check
its settings, not while it drives.
"""

from leafwinch.numbers import const
from leafwinch.settings import Settings

# (name, unit, lowest, highest, default); the meanings are in setting_texts.py.
SCHEMA = (
    ("supply_low_mv", "mV", 8000, 30000, 18000),
    ("pull_ms", "ms", 40, 400, 100),
    ("release_ms", "ms", 40, 400, 100),
    ("pause_ms", "ms", 500, 5000, 500),
    ("travel_raise_ms", "ms", 500, 300000, 30000),
    ("travel_lower_ms", "ms", 500, 300000, 30000),
    ("budget_raise_ms", "ms", 600, 400000, 36000),
    ("budget_lower_ms", "ms", 600, 400000, 36000),
    ("early_raise_ms", "ms", 0, 300000, 24000),
    ("early_lower_ms", "ms", 0, 300000, 24000),
    ("start_allow_ms", "ms", 0, 500, 200),
    ("start_allow_total_ms", "ms", 0, 5000, 2000),
    ("extra_ms", "ms", 0, 300000, 36000),
    ("leave_bottom_ms", "ms", 500, 60000, 3000),
    ("leave_top_ms", "ms", 500, 60000, 3000),
    ("current_signed", "0/1", 0, 1, 0),
    ("lower_drives", "0/1", 0, 1, 1),
    ("trip_ma", "mA", 100, 500000, 9000),
    ("trip_ms", "ms", 5, 500, 60),
    ("inrush_ms", "ms", 50, 2000, 400),
    ("inrush_trip_ma", "mA", 100, 500000, 25000),
    ("run_max_ma", "mA", 100, 500000, 8000),
    ("missing_raise_ma", "mA", 0, 500000, 500),
    ("missing_lower_ma", "mA", 0, 500000, 500),
    ("rest_ma", "mA", 10, 100000, 300),
    ("wrong_ma", "mA", 10, 500000, 2000),
    ("envelope_learned", "0/1", 0, 1, 0),
    ("jam_margin_ma", "mA", 0, 500000, 1500),
    ("jam_ms", "ms", 20, 5000, 200),
    ("under_margin_ma", "mA", 0, 500000, 1000),
    ("under_ms", "ms", 20, 5000, 400),
    ("thermal_base_ma", "mA", 100, 500000, 6000),
    ("thermal_heat_s", "s", 10, 7200, 600),
    ("thermal_cool_s", "s", 10, 14400, 900),
    ("thermal_restart_pct", "%", 20, 98, 80),
    ("duty_pct", "%", 5, 100, 25),
    ("duty_allow_ms", "ms", 10000, 3000000, 180000),
    ("slack_fitted", "0/1", 0, 1, 1),
    ("slack_allow_ms", "ms", 50, 10000, 600),
    ("slack_top_ms", "ms", 50, 30000, 3000),
    ("slack_zone_ms", "ms", 0, 60000, 4000),
    ("sensor_range_ma", "mA", 1000, 1000000, 30000),
    ("supply_full_mv", "mV", 10000, 60000, 36000),
)

SETTING_NAMES = tuple(row[0] for row in SCHEMA)

REST_PART = const(200)  # the converter tells a current at rest by this part of its range

# The first of two settings must be lower than the second.
ORDER_RULES = (
    ("travel_raise_ms", "budget_raise_ms"),
    ("travel_lower_ms", "budget_lower_ms"),
    ("early_raise_ms", "travel_raise_ms"),
    ("early_lower_ms", "travel_lower_ms"),
    ("leave_bottom_ms", "travel_raise_ms"),
    ("leave_top_ms", "travel_lower_ms"),
    ("run_max_ma", "trip_ma"),
    ("trip_ma", "inrush_trip_ma"),
    ("missing_raise_ma", "run_max_ma"),
    ("missing_lower_ma", "run_max_ma"),
    ("rest_ma", "trip_ma"),
    ("thermal_base_ma", "inrush_trip_ma"),
    ("slack_allow_ms", "slack_top_ms"),
)


def default_settings() -> Settings:
    """Return settings that are all defaults, with no envelope learned."""
    settings = Settings()
    for row in SCHEMA:
        setattr(settings, row[0], row[4])
    return settings


def settings_from(values: "dict[str, int]") -> Settings:
    """Build settings from a mapping of names to integers; names left out take the default.

    Raises ValueError with one sentence for an unknown name, a value that is not
    an integer, a value outside its range, or two values in the wrong order.
    """
    settings = default_settings()
    for name in values:
        if name not in SETTING_NAMES:
            raise ValueError("settings." + name + " is unknown")
    for name, unit, lowest, highest, _default in SCHEMA:
        if name not in values:
            continue
        value = values[name]
        if not isinstance(value, int) or isinstance(value, bool):
            raise ValueError("settings." + name + " must be a whole number of " + unit)
        if not lowest <= value <= highest:
            raise ValueError(
                "settings.{} is {}, allowed are {} to {} {}".format(
                    name, value, lowest, highest, unit
                )
            )
        setattr(settings, name, value)
    check_order(settings)
    return settings


def check_order(settings: Settings) -> None:
    """Raise ValueError with one sentence where two settings contradict each other."""
    for left, right in ORDER_RULES:
        if getattr(settings, left) >= getattr(settings, right):
            raise ValueError(
                "settings.{} is {}, which must be lower than settings.{}, which is {}".format(
                    left, getattr(settings, left), right, getattr(settings, right)
                )
            )


def check_converter(settings: Settings) -> None:
    """Raise ValueError with one sentence where the converter can't tell what the settings ask.

    For settings of a real board; the core itself knows of no converter.
    """
    if settings.inrush_trip_ma >= settings.sensor_range_ma:
        raise ValueError(
            "settings.inrush_trip_ma is {}, which must be lower than settings.sensor_range_ma,"
            " which is {}".format(settings.inrush_trip_ma, settings.sensor_range_ma)
        )
    if settings.rest_ma * REST_PART < settings.sensor_range_ma:
        raise ValueError(
            "settings.rest_ma is {}, but with settings.sensor_range_ma {} the converter can tell"
            " {} at least".format(
                settings.rest_ma, settings.sensor_range_ma, settings.sensor_range_ma // REST_PART
            )
        )
