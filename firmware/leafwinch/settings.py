"""The settings of one installation, as the object that the core reads.

Everything is an integer. Names, units, ranges and defaults are in settings_schema.py.
"""

BUCKETS = 16  # the learned envelope divides each full travel into this many parts


class Settings:
    """Checked integers of one installation plus its learned current envelope.

    A new object holds zeros; settings_schema.py fills it.

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
        self.raise_low_ma = [0] * BUCKETS
        self.raise_high_ma = [0] * BUCKETS
        self.lower_low_ma = [0] * BUCKETS
        self.lower_high_ma = [0] * BUCKETS
