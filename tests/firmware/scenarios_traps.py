"""The traps: what must not renew an account, and what must never start the motor."""

from tests.firmware.scenarios_faults import (
    DOWN,
    QUICK,
    READY,
    READY_TOP,
    REST,
    UP,
    WARM,
    quick,
)

NO_START = "resting: yes; state: held;"
LET_GO_AND_PRESS = "ask nothing; run 1000; press 2500;"

# Each travel of a second counts 0.8 s, since 0.2 s of every start is free: the sum trips.
INCH_UP = "ask raise; run 1100; ask nothing; settle;"
INCH_DOWN = "ask lower; run 1100; ask nothing; settle;"
NO_FREE = quick(start_allow_ms=0, start_allow_total_ms=0)
HOT = quick(thermal_base_ma=5000, thermal_heat_s=10, thermal_cool_s=60)
BLOCKED_START = "amps 8500; ask raise; run 600; ask nothing; run 1200;"

RENEWALS = (
    ("pauses do not renew the budget", NO_FREE, UP + "ask nothing; settle;" + INCH_UP * 3
     + "ask raise; run 1400; fault: travel_late"),
    ("neither do they going down", NO_FREE, DOWN + "ask nothing; settle;" + INCH_DOWN * 3
     + "ask lower; run 1400; fault: travel_late"),
    ("the free part of the starts is bounded", quick(start_allow_ms=500, start_allow_total_ms=500),
     UP + "ask nothing; settle;" + INCH_UP * 4 + "ask raise; run 1400; fault: travel_late"),
    ("inching to and fro gives back only what was paid", NO_FREE, UP + "run 3300; ask nothing;"
     "settle;" + "ask lower; run 500; ask nothing; settle; ask raise; run 500; ask nothing; settle;"
     * 3 + "ask raise; run 1000; fault: travel_late"),
    ("a reset does not renew the budget", QUICK, UP + "run 4300; fault: travel_late;"
     + LET_GO_AND_PRESS + "settle; state: idle; ask raise; run 60; refused: budget; state: held"),
    ("after a late travel the other way is open", QUICK, UP + "run 4300; fault: travel_late;"
     + LET_GO_AND_PRESS + "settle; ask lower; run 300; state: lowering"),
    ("a power cycle does not renew the budget", QUICK, UP + "run 3000; ask nothing; settle;"
     "power_up 0; settle; state: idle; ask raise; run 60; refused: budget; settle;"
     "ask lower; run 60; refused: budget"),
    ("an end tells the position after a power cycle", QUICK, REST + "power_up 0; at bottom; settle;"
     "ask raise; run 300; state: raising"),
    ("a reset does not cool the motor", HOT, "at bottom; run 16000; ask raise; run 300; at middle;"
     "amps 8000; run 4000; fault: thermal;" + LET_GO_AND_PRESS + "run 300; state: held;"
     "reason: thermal"),
    ("a power cycle does not cool the motor", HOT, "at bottom; run 16000; ask raise; run 300;"
     "at middle; amps 8000; run 4000; fault: thermal; ask nothing; run 500; power_up 0; run 1200;"
     "reasons: thermal"),
    ("without a record the motor counts as hot", QUICK, "forget_record; power_up 0; at bottom;"
     "run 3000; reasons: thermal"),
    ("a reset does not clear the duty account", quick(duty_pct=5, duty_allow_ms=10000), READY
     + "open stop_ok; run 60; close stop_ok; run 500; press 2500; settle; state: idle"),
    ("starts do not clear the blocked account", QUICK, REST + BLOCKED_START * 3
     + "amps 8500; ask raise; run 900; fault: blocked"),
    ("a reset does not clear the blocked account", QUICK, REST + BLOCKED_START * 3 + "open stop_ok;"
     "run 60; close stop_ok; run 500; press 2500; settle; ask raise; run 900; fault: blocked"),
    ("a fault is stored although a contactor never lets go", QUICK, READY + "ask raise; run 900;"
     "open line_released; ask nothing; run 1500; fault: line_not_released; power_up 0; run 300;"
     "fault: line_not_released"),
    ("a reset with the service link leaves room for one start", QUICK, READY + "amps 8500;"
     "ask raise; run 2600; fault: blocked; ask nothing; run 800; close service_link; run 60;"
     "press 2500; settle; open service_link; amps 2000; ask raise; run 900; fault: none"),
    ("a power cycle does not clear the blocked account", QUICK, READY + "amps 8500;"
     "ask raise; run 600; ask nothing; settle; power_up 0; settle; ask raise; run 900;"
     "fault: blocked"),
    ("the running band clears the blocked account", QUICK, READY + "amps 8500; ask raise; run 500;"
     "at middle; amps 5000; run 200; amps 8500; run 1200; state: raising"),
    ("a slack rope is not forgiven by pauses", QUICK, DOWN + "run 300; open rope_taut; run 400;"
     "ask nothing; settle; ask lower; run 600; fault: rope_slack"),
    ("an end not left is not forgiven by pauses", quick(start_allow_ms=0), READY + "ask raise;"
     "run 700; ask nothing; settle; ask raise; run 700; fault: end_not_left"),
    ("nor on the way down", quick(start_allow_ms=0), READY_TOP + "ask lower; run 700; ask nothing;"
     "settle; ask lower; run 700; fault: end_not_left"),
)  # fmt: skip

STARTS = (
    ("power-up with the control actuated", QUICK, "at bottom; ask raise; power_up 0; run 3000;"
     + NO_START + "reasons: actuated; settle; ask raise; run 300; state: raising"),
    ("the same downwards", QUICK, "at top; ask lower; power_up 0; run 3000;" + NO_START),
    ("brown-out with the control actuated", QUICK, UP + "supply 12000; run 100; supply 24000;"
     "run 3000; state: fault; resting: yes"),
    ("brown-out at rest", QUICK, READY + "supply 12000; run 100; ask raise; supply 24000; run 3000;"
     + NO_START),
    ("stop released with the control actuated", QUICK, UP + "open stop_ok; run 500; close stop_ok;"
     "run 3000; state: fault; resting: yes; press 2500; state: fault; warning: reset_refused;"
     "settle; press 2500; settle; state: idle"),
    ("reset with the control actuated from neutral", QUICK, READY + "open stop_ok; run 100;"
     "close stop_ok; run 500; close reset; run 2300; ask raise; run 100; open reset; run 3000;"
     "state: fault; resting: yes"),
    ("control actuated just after a reset", QUICK, READY + "open stop_ok; run 100; close stop_ok;"
     "run 500; press 2500; ask raise; run 3000;" + NO_START),
    ("limit released with the control actuated", QUICK, UP + "run 1500; at top; run 100; at middle;"
     "run 3000;" + NO_START + "ended: top_end"),
    ("limit released after a refused start", QUICK, READY + "ask lower; run 100; at middle;"
     "run 3000;" + NO_START),
    ("lower limit released with the control actuated", QUICK, DOWN + "run 1500; at bottom; run 100;"
     "at middle; run 3000;" + NO_START),
    ("path wire mended with the control actuated", QUICK, UP + "open raise_path; run 200;"
     "force raise_path free; run 3000;" + NO_START),
    ("chain mended with the control actuated", QUICK, UP + "open chain_ok; run 200;"
     "force chain_ok free; run 3000; state: fault; resting: yes"),
    ("current normal again with the control actuated", QUICK, UP + "amps 10000; run 200; amps 5000;"
     "run 3000; state: fault; resting: yes"),
    ("samples fresh again with the control actuated", QUICK, UP + "sampled no; run 200;"
     "sampled yes; run 3000; state: fault; resting: yes"),
    ("thermal level low again with the control actuated", WARM, "at bottom; run 1000;"
     "reasons: thermal; ask raise; run 6000;" + NO_START + "reasons: actuated"),
    ("recovery pulse over with the control actuated", QUICK, UP + "run 1500; at top;"
     "open top_final; run 100; ask nothing; run 500; open recovery_off; run 200; press 2500;"
     "until idle 2000; ask lower; run 900; ended: pulse; run 2000;" + NO_START),
    ("reversal without a pause in neutral", QUICK, UP + "ask lower; run 3000;" + NO_START),
    ("reversal through a short neutral", QUICK, UP + "ask nothing; run 200; ask lower; run 3000;"
     + NO_START),
    ("neutral is not proven with the chain dead", QUICK, READY + "open stop_ok; run 100;"
     "close stop_ok; ask nothing; press 2500; state: held; run 120; reason: neutral_wait"),
    ("both ways is no start", QUICK, REST + "ask both; run 300; resting: yes"),
)  # fmt: skip

FAULTS_KEPT = (
    ("a short press does not reset", QUICK, READY + "open stop_ok; run 60; close stop_ok; run 500;"
     "press 1900; state: fault"),
    ("a long press does not reset", QUICK, READY + "open stop_ok; run 60; close stop_ok; run 500;"
     "press 10100; state: fault"),
    ("a press acts on release only", QUICK, READY + "open stop_ok; run 60; close stop_ok; run 500;"
     "close reset; run 5000; state: fault; open reset; run 30; state: held"),
    ("a press from before power-up does not count", QUICK, "keep fault blocked; close reset;"
     "power_up 0; run 3000; open reset; run 100; state: fault"),
    ("no reset while the cause is there", QUICK, READY + "open stop_ok; run 60; press 2500;"
     "state: fault; warning: reset_refused"),
    ("a serious fault survives a power cycle", QUICK, UP + "at bottom; run 60; ask nothing;"
     "run 1000; fault: end_wrong_way; power_up 0; run 500; fault: end_wrong_way; press 2500;"
     "settle; state: idle; power_up 0; run 500; fault: none"),
    ("an ordinary fault does not, and still nothing starts", QUICK, UP + "amps 10000; run 150;"
     "run 1000; fault: current_trip; power_up 0; run 3000; state: held; resting: yes"),
    ("a watchdog boot does not hide a kept fault", QUICK, "keep fault blocked; power_up 1; run 200;"
     "fault: blocked"),
    ("a failed self-test stands before a watchdog boot and a kept fault", QUICK,
     "keep fault blocked; power_up 9; run 200; fault: program_error"),
    ("bad settings stand before a failed self-test", QUICK,
     "power_up 10; run 200; fault: settings_bad"),
    ("a failed self-test can be acknowledged", QUICK, "at bottom; power_up 8; run 1000;"
     "press 2500; settle; state: idle"),
    ("bad settings cannot be reset away", QUICK, "power_up 2; run 1000; press 2500; state: fault;"
     "warning: reset_refused"),
    ("a watchdog boot can be acknowledged", QUICK, "at bottom; power_up 1; run 1000; press 2500;"
     "settle; state: idle"),
    ("no reset with both ends actuated", QUICK, READY + "at both; run 150; run 500; press 2500;"
     "state: fault; at bottom; run 500; press 2500; settle; state: idle"),
    ("no reset while a contactor is pulled", QUICK, READY + "open raise_released; run 200;"
     "press 2500; state: fault; warning: reset_refused"),
    ("no reset without fresh samples", QUICK, READY + "sampled no; run 150; press 2500;"
     "state: fault; sampled yes; run 100; press 2500; settle; state: idle"),
    ("no reset with current at rest", QUICK, READY + "rest_amps 1000; run 300; press 2500;"
     "state: fault; rest_amps 0; run 300; press 2500; settle; state: idle"),
    ("the first cause is kept, a later one noted", QUICK, UP + "amps 10000; run 150; open stop_ok;"
     "run 100; fault: current_trip; later: stop_actuated"),
    ("a late end is no fault once the travel is judged", QUICK, UP + "run 1500; at top; run 100;"
     "fault: none; run 300; state: held"),
    ("drift is settled by a completed travel", QUICK, READY + "at middle; run 100; warning: drift;"
     "ask raise; run 2500; at top; run 100; ask nothing; settle; at middle; run 100; fault: none"),
    ("powered recovery is refused after the wrong way", QUICK, DOWN + "run 300; at top;"
     "open top_final; run 100; fault: top_final_actuated; ask nothing; run 1000;"
     "open recovery_off; run 200; press 2500; state: fault; warning: recovery_refused"),
    ("the key does not bridge the stop", QUICK, UP + "run 1500; at top; open top_final; run 100;"
     "ask nothing; run 500; open recovery_off; open stop_ok; run 200; press 2500; state: fault"),
    ("the key does not bridge two finals", QUICK, UP + "open top_final bottom_final; run 100;"
     "ask nothing; run 500; open recovery_off; run 200; press 2500; state: fault"),
    ("a mirror that bounces at rest is a fault", QUICK, READY + "open lower_released; run 10;"
     "force lower_released free; run 60; fault: lower_uncommanded"),
    ("the wrong contactor pulls", QUICK, READY + "ask raise; run 80; open lower_released; run 60;"
     "fault: lower_uncommanded"),
    ("the line contactor pulls before its turn", QUICK, READY + "close raise_released; ask raise;"
     "run 100; open line_released; run 60; fault: line_uncommanded"),
    ("a contactor pulled before the start", QUICK, READY + "ask raise; run 20;"
     "open raise_released; run 60; fault: raise_uncommanded"),
    ("the direction contactor drops out while running", QUICK, UP + "close raise_released; run 60;"
     "fault: raise_not_pulled"),
    ("the line contactor drops out while running", QUICK, UP + "close line_released; run 60;"
     "fault: line_not_pulled"),
)  # fmt: skip

TRAP_SCENARIOS = tuple(
    (kind + name, values, script)
    for kind, table in (
        ("not renewed: ", RENEWALS),
        ("no start: ", STARTS),
        ("kept: ", FAULTS_KEPT),
    )
    for name, values, script in table
)
