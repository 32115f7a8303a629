"""The settings of one installation: one schema, and the object the core reads.

Everything is an integer. The schema is the only list of names, units, ranges and
defaults; host texts and the site file are checked against it.
"""

from leafwinch.numbers import const

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
BUCKETS = 16  # the learned envelope divides each full travel into this many parts

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
    ("inrush_trip_ma", "sensor_range_ma"),
    ("rest_ma", "trip_ma"),
    ("thermal_base_ma", "inrush_trip_ma"),
    ("slack_allow_ms", "slack_top_ms"),
)


class Settings:
    """Checked integers of one installation plus its learned current envelope.

    The envelope is four lists of BUCKETS signed currents in mA; a bucket is a
    sixteenth of the healthy travel time in that direction.
    """

    def __init__(self) -> None:
        self.supply_low_mv = 0
        self.pull_ms = 0
        self.release_ms = 0
        self.pause_ms = 0
        self.travel_raise_ms = 0
        self.travel_lower_ms = 0
        self.budget_raise_ms = 0
        self.budget_lower_ms = 0
        self.early_raise_ms = 0
        self.early_lower_ms = 0
        self.start_allow_ms = 0
        self.start_allow_total_ms = 0
        self.extra_ms = 0
        self.leave_bottom_ms = 0
        self.leave_top_ms = 0
        self.current_signed = 0
        self.lower_drives = 0
        self.trip_ma = 0
        self.trip_ms = 0
        self.inrush_ms = 0
        self.inrush_trip_ma = 0
        self.run_max_ma = 0
        self.missing_raise_ma = 0
        self.missing_lower_ma = 0
        self.rest_ma = 0
        self.wrong_ma = 0
        self.envelope_learned = 0
        self.jam_margin_ma = 0
        self.jam_ms = 0
        self.under_margin_ma = 0
        self.under_ms = 0
        self.thermal_base_ma = 0
        self.thermal_heat_s = 0
        self.thermal_cool_s = 0
        self.thermal_restart_pct = 0
        self.duty_pct = 0
        self.duty_allow_ms = 0
        self.slack_fitted = 0
        self.slack_allow_ms = 0
        self.slack_top_ms = 0
        self.slack_zone_ms = 0
        self.sensor_range_ma = 0
        self.supply_full_mv = 0
        for row in SCHEMA:
            setattr(self, row[0], row[4])
        self.raise_low_ma = [0] * BUCKETS
        self.raise_high_ma = [0] * BUCKETS
        self.lower_low_ma = [0] * BUCKETS
        self.lower_high_ma = [0] * BUCKETS


def settings_from(values: "dict[str, int]") -> Settings:
    """Build settings from a mapping of names to integers; names left out take the default.

    Raises ValueError with one sentence for an unknown name, a value that is not
    an integer, a value outside its range, or two values in the wrong order.
    """
    settings = Settings()
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
    if settings.rest_ma * REST_PART < settings.sensor_range_ma:
        raise ValueError(
            "settings.rest_ma is {}, but with settings.sensor_range_ma {} the converter can tell"
            " {} at least".format(
                settings.rest_ma, settings.sensor_range_ma, settings.sensor_range_ma // REST_PART
            )
        )
