"""Rare turns of the state machine: what is forgotten, kept, named or said in each."""

from tests.firmware.scenarios_faults import DOWN, QUICK, READY, UP
from tests.firmware.scenarios_states import AT_FINAL, RECOVERED, TOP_HIT

DRIFTED = READY + "at middle; run 100; warning: drift;"
BRIDGED = AT_FINAL + "open recovery_off; run 200;"

_EDGES = (
    ("no direction is remembered through a lost supply", UP + "run 1500; supply 0; run 100;"
     "open top_final; supply 24000; run 200; ask nothing; run 600; open recovery_off; run 200;"
     "press 2500; warning: recovery_refused"),
    ("a lost supply is being resolved", UP + "supply 0; run 15; reasons: supply resolving;"
     "run 60; reasons: supply; fault: supply_lost; supply 24000; run 300; reasons:"),
    ("a lost supply at rest is no fault", READY + "supply 0; run 200; supply 24000; run 200;"
     "fault: none; settle; state: idle"),
    ("an end named after its path settles a drift", DRIFTED + "ask raise; run 2600;"
     "open raise_path; run 20; at top; run 100; ended: top_end; force raise_path free;"
     "ask nothing; settle; at middle; run 100; fault: none; warning: drift"),
    ("so does the bottom end", "at top; settle; at middle; run 100; warning: drift; ask lower;"
     "run 2600; open lower_path; run 20; at bottom; run 100; ended: bottom_end;"
     "force lower_path free; ask nothing; settle; at middle; run 100; fault: none"),
    ("a released control is named though its path came first", UP + "open raise_path; run 15;"
     "ask nothing; run 100; ended: released"),
    ("the same going down", DOWN + "open lower_path; run 15; ask nothing; run 100;"
     "ended: released"),
    ("said again at the next end", TOP_HIT + "run 200; ask nothing; settle; ask lower; run 300;"
     "at middle; run 2500; at bottom; run 60; ended: bottom_end; run 9800; warning: nothing;"
     "run 400; warning: kept_actuated"),
    ("not said after a release", TOP_HIT + "run 5000; ask nothing; run 50; ask raise; run 10500;"
     "state: held; warning: nothing"),
    ("not said while a fault is latched", TOP_HIT + "run 200; open stop_ok; run 11000;"
     "fault: stop_actuated; warning: nothing"),
    ("not said away from an end", UP + "ask lower; run 11000; state: held; warning: nothing"),
    ("nor the other way from the bottom", DOWN + "ask raise; run 11000; warning: nothing"),
    ("a reset forgets what came later and how the travel ended", UP + "amps 10000; run 150;"
     "open stop_ok; run 100; later: stop_actuated; ended: cause; close stop_ok; amps 5000;"
     "ask nothing; run 600; press 2500; state: held; later: none; ended: none"),
    ("after a reset neutral is proven anew, stored or not", UP + "open stop_ok; run 60;"
     "close stop_ok; ask nothing; run 700; autostore no; press 2500;"
     "reasons: neutral_wait record; run 400; reasons: record"),
    ("a fault ends recovery", RECOVERED + "ask lower; run 300; open stop_ok; run 60;"
     "fault: stop_actuated; close stop_ok; run 300;"
     "later: top_final_actuated"),
    ("a pulse is named though the hand lets go then", RECOVERED + "ask lower; until held 900;"
     "ask nothing; run 100; ended: pulse"),
    ("no recovery while a contactor is pulled", BRIDGED + "open lower_released; run 300;"
     "press 2500; state: fault; warning: reset_refused"),
    ("no recovery with current at rest", BRIDGED + "rest_amps 1000; run 900; press 2500;"
     "state: fault; warning: reset_refused"),
    ("no recovery with the control actuated", BRIDGED + "ask lower; run 100; press 2500;"
     "state: fault; warning: reset_refused"),
    ("no recovery without fresh samples", BRIDGED + "sampled no; run 100; press 2500;"
     "state: fault; warning: reset_refused"),
    ("no recovery after bad settings", "power_up 2; run 300; at top; open top_final; run 100;"
     "open recovery_off; run 200; press 2500; warning: reset_refused"),
    ("foreign settings cannot be reset away", "power_up 4; run 1000; press 2500; state: fault;"
     "warning: reset_refused"),
    ("no reset with the key turned and no final actuated", READY + "open stop_ok; run 60;"
     "close stop_ok; run 400; open recovery_off; run 20; press 2500; state: fault"),
    ("the second contact of the top end stops alone", UP + "run 1500; force top_end open; run 10;"
     "state: held; ended: top_end; run 100; fault: none"),
    ("so does that of the bottom end", DOWN + "run 1500; force bottom_end open; run 10;"
     "state: held; ended: bottom_end; run 100; fault: none"),
    ("no recovery with a path live", BRIDGED + "close lower_path; run 100; press 2500;"
     "state: fault; warning: reset_refused"),
    ("nor the other path", BRIDGED + "close raise_path; run 100; press 2500;"
     "state: fault; warning: reset_refused"),
    ("a stop that is bridged cannot be reset away", READY + "close chain_ok; open stop_ok;"
     "run 100; fault: chain_bridged; run 500; press 2500; state: fault; warning: reset_refused"),
    ("nor a bridged top final", READY + "close chain_ok; open top_final; run 100;"
     "fault: chain_bridged; run 500; press 2500; state: fault; warning: reset_refused"),
    ("nor a bridged bottom final", READY + "close chain_ok; open bottom_final; run 100;"
     "fault: chain_bridged; run 500; press 2500; state: fault; warning: reset_refused"),
    ("a pulse ends in passes of any length", RECOVERED + "tick_ms 7; ask lower; run 900;"
     "ended: pulse; state: held"),
    ("halfway and kept actuated are said in passes of any length", TOP_HIT + "tick_ms 7;"
     "run 11000; warning: kept_actuated; ask nothing; settle; at middle; tick_ms 7; run 70;"
     "open lower_path; ask lower; run 4000; warning: halfway"),
    ("a live path keeps it held before it is a fault", UP + "ask nothing; run 450;"
     "close lower_path; run 30; state: held; reason: actuated; run 120; state: fault"),
    ("so does the other path", DOWN + "ask nothing; run 450; close raise_path; run 30;"
     "state: held; reason: actuated; run 120; state: fault"),
    ("only the first later fault is noted", UP + "amps 10000; run 150; ask nothing; amps 5000;"
     "open stop_ok; run 100; later: stop_actuated; close stop_ok; run 300; close lower_path;"
     "run 200; later: stop_actuated; fault: current_trip"),
    ("the way into a final is known while the deck coasts", TOP_HIT + "run 200; open top_final;"
     "run 100; fault: top_final_actuated; ask nothing; run 700; open recovery_off; run 200;"
     "press 2500; until idle 2000"),
    ("and unknown long after", TOP_HIT + "run 2000; open top_final; run 100;"
     "fault: top_final_actuated; ask nothing; run 700; open recovery_off; run 200; press 2500;"
     "state: fault; warning: recovery_refused"),
    ("a path that bounces ends a travel halfway, not released", UP + "open raise_path; run 15;"
     "force raise_path free; run 100; state: held; ended: halfway; fault: none"),
    ("nor going down", DOWN + "open lower_path; run 15; force lower_path free; run 100;"
     "state: held; ended: halfway; fault: none"),
    ("two samples without supply are enough", UP + "supply 0; run 10; supply 24000; run 150;"
     "fault: supply_lost"),
    ("going down too", DOWN + "supply 0; run 10; supply 24000; run 150; fault: supply_lost"),
    ("one sample without supply is no fault", UP + "supply 0; run 5; supply 24000; run 150;"
     "state: raising"),
)  # fmt: skip

EDGE_SCENARIOS = tuple(("edge: " + name, QUICK, script) for name, script in _EDGES)
