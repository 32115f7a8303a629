"""The settings of one installation: one schema, and the object the core reads.

Everything is an integer. The schema is the only list of names, units, ranges,
defaults and meanings; host texts and the site file are checked against it.
"""

# (name, unit, lowest, highest, default, meaning)
SCHEMA = (
    ("supply_low_mv", "mV", 8000, 30000, 18000, "control supply below this counts as lost"),
    ("pull_ms", "ms", 40, 400, 100, "longest time for a contactor to pull in"),
    ("release_ms", "ms", 40, 400, 100, "longest time for a contactor to release"),
    ("pause_ms", "ms", 500, 5000, 500, "pause between one travel and the next"),
    ("travel_raise_ms", "ms", 500, 300000, 30000, "healthy full travel, bottom to top"),
    ("travel_lower_ms", "ms", 500, 300000, 30000, "healthy full travel, top to bottom"),
    ("budget_raise_ms", "ms", 600, 400000, 36000, "energised raising allowed since the bottom end"),
    ("budget_lower_ms", "ms", 600, 400000, 36000, "energised lowering allowed since the top end"),
    ("early_raise_ms", "ms", 0, 300000, 24000, "a full raise shorter than this is a fault"),
    ("early_lower_ms", "ms", 0, 300000, 24000, "a full lowering shorter than this is a fault"),
    ("start_allow_ms", "ms", 0, 500, 200, "start of each travel that the budget does not count"),
    ("start_allow_total_ms", "ms", 0, 5000, 2000, "sum of those starts in one direction"),
    ("extra_ms", "ms", 0, 300000, 36000, "one extra allowance with the service link fitted"),
    ("leave_bottom_ms", "ms", 500, 60000, 3000, "longest time to leave the bottom end"),
    ("leave_top_ms", "ms", 500, 60000, 3000, "longest time to leave the top end, from its final"),
    ("current_signed", "0/1", 0, 1, 0, "1: direct current, the sign tells the direction"),
    (
        "lower_drives",
        "0/1",
        0,
        1,
        1,
        "1: the motor always drives the deck down (self-locking gear)",
    ),
    ("trip_ma", "mA", 100, 500000, 9000, "current trip while running"),
    ("trip_ms", "ms", 5, 500, 60, "time above the trip level before it trips"),
    ("inrush_ms", "ms", 50, 2000, 400, "time after a start in which the inrush level applies"),
    ("inrush_trip_ma", "mA", 100, 500000, 25000, "current trip while starting"),
    (
        "run_max_ma",
        "mA",
        100,
        500000,
        8000,
        "top of the running band: above, the motor counts as blocked",
    ),
    (
        "missing_raise_ma",
        "mA",
        0,
        500000,
        500,
        "raising current below this is missing (0: not judged)",
    ),
    (
        "missing_lower_ma",
        "mA",
        0,
        500000,
        500,
        "lowering current below this is missing (0: not judged)",
    ),
    ("rest_ma", "mA", 10, 100000, 300, "current above this at rest is a fault"),
    ("wrong_ma", "mA", 10, 500000, 2000, "current against the direction above this is a fault"),
    ("envelope_learned", "0/1", 0, 1, 0, "1: the learned current envelope is judged"),
    ("jam_margin_ma", "mA", 0, 500000, 1500, "margin above the learned envelope"),
    ("jam_ms", "ms", 20, 5000, 200, "time above envelope and margin before it trips"),
    ("under_margin_ma", "mA", 0, 500000, 1000, "margin below the learned envelope"),
    ("under_ms", "ms", 20, 5000, 400, "time below envelope and margin before it trips"),
    (
        "thermal_base_ma",
        "mA",
        100,
        500000,
        6000,
        "continuous current that just reaches 100 % (k x Ib)",
    ),
    ("thermal_heat_s", "s", 10, 7200, 600, "thermal time constant, energised"),
    ("thermal_cool_s", "s", 10, 14400, 900, "thermal time constant, at rest"),
    ("thermal_restart_pct", "%", 20, 98, 80, "below this a new start is allowed"),
    ("duty_pct", "%", 5, 100, 25, "share of energised time allowed in the long run"),
    (
        "duty_allow_ms",
        "ms",
        10000,
        3000000,
        180000,
        "energised time allowed in one go before that share",
    ),
    ("slack_fitted", "0/1", 0, 1, 1, "1: a slack-rope switch is wired"),
    ("slack_allow_ms", "ms", 50, 10000, 600, "lowering with slack rope allowed after a start"),
    ("slack_top_ms", "ms", 50, 30000, 3000, "the same near the top, where gravity starts slowly"),
    (
        "slack_zone_ms",
        "ms",
        0,
        60000,
        4000,
        "how far below the top end, in lowering time, that holds",
    ),
)

SETTING_NAMES = tuple(row[0] for row in SCHEMA)

BUCKETS = 16  # the learned envelope divides each full travel into this many parts

# (left, right, sentence): the left setting must be lower than the right one.
ORDER_RULES = (
    ("travel_raise_ms", "budget_raise_ms", "the raising budget must exceed the healthy travel"),
    ("travel_lower_ms", "budget_lower_ms", "the lowering budget must exceed the healthy travel"),
    ("early_raise_ms", "travel_raise_ms", "the early limit must be shorter than the travel"),
    ("early_lower_ms", "travel_lower_ms", "the early limit must be shorter than the travel"),
    ("leave_bottom_ms", "travel_raise_ms", "leaving an end must take less than a full travel"),
    ("leave_top_ms", "travel_lower_ms", "leaving an end must take less than a full travel"),
    ("run_max_ma", "trip_ma", "the running band must end below the trip"),
    ("trip_ma", "inrush_trip_ma", "the inrush level must exceed the running trip"),
    ("missing_raise_ma", "run_max_ma", "missing current must lie below the running band's top"),
    ("missing_lower_ma", "run_max_ma", "missing current must lie below the running band's top"),
    ("rest_ma", "trip_ma", "the rest level must lie below the trip"),
    ("thermal_base_ma", "inrush_trip_ma", "the thermal base must lie below the inrush level"),
    ("slack_allow_ms", "slack_top_ms", "slack allowed near the top must exceed that after a start"),
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
    for name, unit, lowest, highest, _default, _meaning in SCHEMA:
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
    for left, right, sentence in ORDER_RULES:
        if getattr(settings, left) >= getattr(settings, right):
            raise ValueError(
                "settings.{} is {} and settings.{} is {}: {}".format(
                    left, getattr(settings, left), right, getattr(settings, right), sentence
                )
            )
