"""One scenario for every fault number: the shortest healthy way to it, then its cause."""

# Short travels, so that a scenario lasts seconds.
QUICK = {
    "travel_raise_ms": 4000,
    "travel_lower_ms": 4000,
    "budget_raise_ms": 4800,
    "budget_lower_ms": 4800,
    "early_raise_ms": 2000,
    "early_lower_ms": 2000,
    "leave_bottom_ms": 1000,
    "leave_top_ms": 1000,
    "extra_ms": 2000,
    "slack_zone_ms": 1000,
}


def quick(**changes: int) -> "dict[str, int]":
    """Return the short travels with some settings changed."""
    values = dict(QUICK)
    values.update(changes)
    return values


READY = "at bottom; settle; state: idle;"
READY_TOP = "at top; settle; state: idle;"
UP = READY + "ask raise; run 300; at middle; run 700; state: raising;"
DOWN = READY_TOP + "ask lower; run 300; at middle; run 700; state: lowering;"
REST = UP + "ask nothing; settle; state: idle;"  # between the ends
LATCHED = "state: fault; resting: yes; fault: "

WARM = quick(thermal_base_ma=5000, thermal_heat_s=10, thermal_cool_s=10)
LONG = quick(
    travel_raise_ms=20000, budget_raise_ms=24000, duty_pct=5, duty_allow_ms=10000, early_raise_ms=0
)
SIGNED = quick(current_signed=1)
LEARNED = quick(envelope_learned=1, jam_margin_ma=6000, current_signed=1, missing_raise_ma=0)

# (fault, settings, script up to and with the cause)
CAUSES = (
    ("supply_lost", QUICK, UP + "supply 0; run 100"),
    ("stop_actuated", QUICK, UP + "open stop_ok; run 60"),
    ("top_final_actuated", QUICK, UP + "open top_final; run 60"),
    ("bottom_final_actuated", QUICK, DOWN + "open bottom_final; run 60"),
    ("chain_dead", QUICK, UP + "open chain_ok; run 60"),
    ("chain_bridged", QUICK, UP + "close chain_ok; open stop_ok; run 60"),
    ("recovery_key_turned", QUICK, READY + "open recovery_off; run 200"),
    ("end_wrong_way", QUICK, UP + "at bottom; run 60"),
    ("both_ends", QUICK, READY + "at both; run 150"),
    ("top_end_disagrees", QUICK, REST + "force top_end open; ask raise; run 150"),
    ("bottom_end_disagrees", QUICK, REST + "force bottom_end open; ask lower; run 150"),
    ("raise_contact_stuck", QUICK, READY + "close raise_path; run 150"),
    ("lower_contact_stuck", QUICK, READY + "close lower_path; run 150"),
    ("control_both", QUICK, READY + "ask both; run 600"),
    ("line_uncommanded", QUICK, READY + "open line_released; run 60"),
    ("raise_uncommanded", QUICK, READY + "open raise_released; run 60"),
    ("lower_uncommanded", QUICK, READY + "open lower_released; run 60"),
    ("line_not_released", QUICK, UP + "open line_released; ask nothing; run 200"),
    ("raise_not_released", QUICK, UP + "open raise_released; ask nothing; run 200"),
    ("lower_not_released", QUICK, DOWN + "open lower_released; ask nothing; run 200"),
    ("line_not_pulled", QUICK, READY + "close line_released; ask raise; run 400"),
    ("raise_not_pulled", QUICK, READY + "close raise_released; ask raise; run 300"),
    ("lower_not_pulled", QUICK, READY_TOP + "close lower_released; ask lower; run 300"),
    ("current_at_rest", QUICK, READY + "rest_amps 1000; run 300"),
    ("samples_stalled", QUICK, READY + "sampled no; run 150"),
    ("current_trip", QUICK, UP + "amps 10000; run 150"),
    ("current_wrong_way", SIGNED, UP + "amps -3000; run 200"),
    ("current_missing", QUICK, UP + "amps 100; run 300"),
    ("blocked", QUICK, UP + "amps 8500; run 2100"),
    ("jam", LEARNED, UP + "amps 7000; run 300"),
    ("underload", LEARNED, UP + "amps -1500; run 500"),
    ("rope_slack", QUICK, DOWN + "run 300; open rope_taut; run 700"),
    ("end_not_left", QUICK, READY + "ask raise; run 1500"),
    ("travel_early", QUICK, READY + "ask raise; run 300; at middle; run 500; at top; run 60"),
    ("travel_late", QUICK, UP + "run 4300"),
    ("thermal", WARM, "at bottom; run 6000; state: idle; ask raise; run 300; at middle;"
     "amps 8000; run 4000"),
    ("duty", LONG, UP + "run 11000"),
    ("drift", QUICK, READY + "at middle; run 100; state: idle; warning: drift; at bottom; run 60"),
    ("loop_late", QUICK, UP + "gap 40; run 60"),
    ("settings_bad", QUICK, "power_up 2; run 200"),
    ("settings_foreign", QUICK, "power_up 4; run 200"),
    ("watchdog_boot", QUICK, "power_up 1; run 200"),
    ("program_error", QUICK, "keep fault program_error; power_up 0; run 200"),
)  # fmt: skip

# (name, settings, script): the form that every scenario table of these tests has.
FAULT_SCENARIOS = tuple(
    ("fault " + fault, values, script + ";" + LATCHED + fault) for fault, values, script in CAUSES
)
