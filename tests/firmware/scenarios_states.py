"""Every held reason, refusal, ending and warning, each by its shortest scenario."""

from tests.firmware.scenarios_faults import (
    DOWN,
    LONG,
    QUICK,
    READY,
    REST,
    UP,
    WARM,
    quick,
)

TOP_HIT = UP + "run 1500; at top; run 60; state: held; ended: top_end;"
AT_FINAL = UP + "run 1500; at top; open top_final; run 100; ask nothing; run 500;"
RECOVERED = AT_FINAL + "open recovery_off; run 200; press 2500; until idle 2000;"

# (reason, settings, script after which the reason is among those named)
REASONS = (
    ("supply", QUICK, READY + "supply 0; run 50; reasons: supply"),
    ("settling", QUICK, "power_up 0; run 50; reasons: settling"),
    ("resolving", QUICK, UP + "ask nothing; run 30"),
    ("chain", QUICK, READY + "open stop_ok; run 15; reasons: resolving chain neutral_wait"),
    ("recovery_key", QUICK, RECOVERED + "ask lower; run 300; close top_final; run 60"),
    ("contactor", QUICK, UP + "ask nothing; run 20"),
    ("both_ways", QUICK, READY + "ask both; run 50"),
    ("actuated", QUICK, READY + "ask lower; run 50; reasons: actuated"),
    ("neutral_wait", QUICK, READY + "ask lower; run 50; ask nothing; run 50;"
     "reasons: neutral_wait"),
    ("pause", QUICK, UP + "ask nothing; run 500"),
    ("record", QUICK, UP + "autostore no; ask nothing; run 2000; reasons: record"),
    ("thermal", WARM, "at bottom; run 1000; reasons: thermal"),
    ("duty", LONG, UP + "run 9000; ask nothing; run 1500; reasons: duty"),
)  # fmt: skip

REFUSED = (
    ("end", QUICK, READY + "ask lower; run 60; state: held"),
    ("budget", QUICK, REST + "power_up 0; settle; state: idle; ask raise; run 60; state: held"),
    (
        "slack",
        QUICK,
        DOWN + "run 300; open rope_taut; run 550; ask nothing; settle; ask lower; run 300;"
        "ask nothing; settle; ask lower; run 60",
    ),
    ("recovery", QUICK, RECOVERED + "at middle; run 60; ask raise; run 60"),
    ("unproven", QUICK, READY + "open raise_path; ask raise; run 400; state: held"),
    ("none", QUICK, READY + "ask lower; run 60; refused: end; settle; ask raise; run 60"),
)

ENDED = (
    ("none", QUICK, READY),
    ("released", QUICK, UP + "ask nothing; run 200"),
    ("top_end", QUICK, TOP_HIT),
    ("bottom_end", QUICK, DOWN + "run 1500; at bottom; run 60"),
    ("halfway", QUICK, UP + "open raise_path; run 200"),
    ("pulse", QUICK, RECOVERED + "ask lower; run 900; state: held"),
    ("final_closed", QUICK, RECOVERED + "ask lower; run 300; close top_final; run 60"),
    ("cause", QUICK, UP + "open stop_ok; run 60"),
)

WARNED = (
    ("nothing", QUICK, READY),
    ("halfway", QUICK, UP + "open raise_path; run 2900; warning: nothing; run 400"),
    ("kept_actuated", QUICK, TOP_HIT + "run 9800; warning: nothing; run 400"),
    ("drift", QUICK, READY + "at middle; run 100; state: idle"),
    (
        "reset_refused",
        QUICK,
        UP + "open stop_ok; run 60; ask nothing; run 300; press 2500; state: fault",
    ),
    ("reset_stuck", QUICK, READY + "press 9900; warning: nothing; close reset; run 10100"),
    (
        "recovery_refused",
        QUICK,
        READY + "at middle; open bottom_final; run 100; open recovery_off; run 200; press 2500",
    ),
    ("service_link", QUICK, "close service_link;" + READY),
)

SLACK_ZONE = quick(slack_zone_ms=60000, slack_top_ms=1500)
HEALTHY = (
    (
        "full cycle",
        QUICK,
        UP + "run 1800; at top; run 60; ended: top_end; settle; state: idle;"
        "ask lower; run 300; at middle; run 2500; state: lowering; at bottom; open rope_taut;"
        "run 60; ended: bottom_end; settle; close rope_taut; state: idle; fault: none",
    ),
    (
        "inching",
        QUICK,
        REST + "ask raise; run 150; ask nothing; settle; ask lower; run 150; ask nothing; settle;"
        "state: idle; fault: none",
    ),
    (
        "slack near the top is healthy for longer, then not",
        SLACK_ZONE,
        DOWN + "open rope_taut; run 1400; state: lowering; run 300; fault: rope_slack",
    ),
    (
        "a rope that is taut again clears the slack account",
        QUICK,
        DOWN
        + "run 300; open rope_taut; run 450; close rope_taut; run 200; open rope_taut; run 450;"
        "state: lowering",
    ),
    (
        "no slack-rope switch fitted",
        quick(slack_fitted=0),
        DOWN + "open rope_taut; run 1500; state: lowering",
    ),
    (
        "a wait between NC and path of one actuation is allowed",
        QUICK,
        READY
        + "open raise_path; ask raise; run 250; force raise_path free; run 60; state: raising",
    ),
    (
        "the service link grants one extra allowance",
        QUICK,
        REST + "close service_link; power_up 0; settle; ask raise; run 1500; state: raising;"
        "run 1500; fault: travel_late; ask nothing; run 1000; press 2500; settle; state: idle;"
        "ask raise; run 60; refused: budget; settle; power_up 0; settle; ask raise; run 60;"
        "refused: budget",
    ),
    (
        "the same the other way",
        QUICK,
        DOWN + "ask nothing; settle; close service_link; power_up 0; settle; ask lower; run 1500;"
        "state: lowering; run 1500; fault: travel_late; ask nothing; run 1000; press 2500; settle;"
        "ask lower; run 60; refused: budget",
    ),
    (
        "a path that leads its NC contact at an end is no start",
        QUICK,
        READY + "close lower_path; run 10; ask lower; run 30; state: held; refused: end",
    ),
    (
        "an end that only the path spoke for is doubted at the next demand",
        QUICK,
        UP + "open raise_path; run 200; ended: halfway; settle; state: idle; ask raise; run 900;"
        "fault: none; run 300; fault: top_end_disagrees",
    ),
    (
        "the same at the bottom",
        QUICK,
        DOWN + "open lower_path; run 200; settle; ask lower; run 1200; fault: bottom_end_disagrees",
    ),
    (
        "a doubt is settled by a healthy demand",
        QUICK,
        UP + "open raise_path; run 200; settle; force raise_path free; ask raise; run 300;"
        "state: raising; open raise_path; run 200; settle; ask raise; run 60; ask nothing; settle;"
        "fault: none",
    ),
    (
        "a hand that lets go slowly leaves no doubt, even if it then holds halfway",
        QUICK,
        UP + "autostore no; open raise_path; run 80; ask nothing; run 100; autostore yes; settle;"
        "state: idle; open raise_off; run 2000; fault: none",
    ),
    (
        "nor going down",
        QUICK,
        DOWN + "autostore no; open lower_path; run 80; ask nothing; run 100; autostore yes; settle;"
        "state: idle; open lower_off; run 2000; fault: none",
    ),
    (
        "recovery from the top final, up to a released key",
        QUICK,
        RECOVERED + "ask lower; run 300; state: lowering; close top_final; run 200; state: held;"
        "ask nothing; run 2000; reasons: recovery_key; close recovery_off; run 60; state: idle",
    ),
    (
        "recovery from the bottom final",
        QUICK,
        DOWN + "run 1500; at bottom; open bottom_final; run 100; ask nothing; run 500;"
        "open recovery_off; run 200; press 2500; until idle 2000; ask raise; run 300;"
        "state: raising; close bottom_final; run 60; ended: final_closed; fault: none",
    ),
    (
        "recovery ends when the key is let go too early",
        QUICK,
        RECOVERED + "ask lower; run 300; close recovery_off; run 100; fault: top_final_actuated",
    ),
    (
        "the direction of a final survives a power cycle",
        QUICK,
        AT_FINAL + "power_up 0; run 300; open recovery_off; run 200; press 2500; until idle 2000",
    ),
)


def named(
    kind: str, verb: str, table: "tuple[tuple[str, dict[str, int], str], ...]"
) -> "tuple[tuple[str, dict[str, int], str], ...]":
    """Return scenarios that end by expecting the name of their row."""
    return tuple(
        (kind + " " + name, values, script + ";" + (verb + " " + name if verb else ""))
        for name, values, script in table
    )


REASON_SCENARIOS = named("held by", "reason:", REASONS)
REFUSED_SCENARIOS = named("refused for", "refused:", REFUSED)
ENDED_SCENARIOS = named("ended by", "ended:", ENDED)
WARNED_SCENARIOS = named("warned of", "warning:", WARNED)
STATE_SCENARIOS = (
    REASON_SCENARIOS
    + REFUSED_SCENARIOS
    + ENDED_SCENARIOS
    + WARNED_SCENARIOS
    + named("healthy:", "", HEALTHY)
)
