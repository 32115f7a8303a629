"""Names and words of every fault. Read by hosts and documents only."""

from leafwinch.faults import FAULT_COUNT, is_serious, lamp_code

# Entry n - 1 is the name of fault n.
FAULT_NAMES = (
    "supply_lost",
    "stop_actuated",
    "top_final_actuated",
    "bottom_final_actuated",
    "chain_dead",
    "chain_bridged",
    "recovery_key_turned",
    "end_wrong_way",
    "both_ends",
    "top_end_disagrees",
    "bottom_end_disagrees",
    "raise_contact_stuck",
    "lower_contact_stuck",
    "control_both",
    "line_uncommanded",
    "raise_uncommanded",
    "lower_uncommanded",
    "line_not_released",
    "raise_not_released",
    "lower_not_released",
    "line_not_pulled",
    "raise_not_pulled",
    "lower_not_pulled",
    "current_at_rest",
    "samples_stalled",
    "current_trip",
    "current_wrong_way",
    "current_missing",
    "blocked",
    "jam",
    "underload",
    "rope_slack",
    "end_not_left",
    "travel_early",
    "travel_late",
    "thermal",
    "duty",
    "drift",
    "loop_late",
    "settings_bad",
    "settings_foreign",
    "watchdog_boot",
    "program_error",
)

# Row n - 1 is fault n: (meaning, what to look at).
FAULT_TEXTS = (
    (
        "The 24 V control supply was lost during a travel.",
        "Mains switch, breaker, control fuse, 24 V supply, its terminals.",
    ),
    (
        "The emergency stop was actuated.",
        "Why it was pressed. Release it by hand; check its wires if nobody pressed it.",
    ),
    (
        "The top final limit was actuated: the working limit did not stop the deck.",
        "Top working limit, its bracket and cam, brake, rope. Then the recovery procedure.",
    ),
    (
        "The bottom final limit was actuated: rope was paid out past the bottom end.",
        "Bottom working limit, its bracket and cam, rope on the drum. Then the recovery procedure.",
    ),
    (
        "The cut-off chain is dead although stop and finals are closed.",
        "A broken wire or loose terminal in the chain, or a second contact that does not open.",
    ),
    (
        "The cut-off chain is live although stop or a final is open.",
        "A welded or bridged contact in the chain. Do not use the drive before it is found.",
    ),
    (
        "The recovery key was turned although no final is actuated.",
        "Release the key; check its second contact and wire.",
    ),
    (
        "An end was reached in the wrong direction.",
        "Rope wound backwards, motor phases swapped, limits swapped. Do not drive on.",
    ),
    (
        "Both ends are reached at once.",
        "A broken wire or loose terminal at one working limit, or its supply.",
    ),
    (
        "The two contacts of the top end disagree at a demand to raise.",
        "Top working limit: one of its contacts is welded, bridged, dead or adjusted apart.",
    ),
    (
        "The two contacts of the bottom end disagree at a demand to lower.",
        "Bottom working limit: one of its contacts is welded, bridged, dead or adjusted apart.",
    ),
    (
        "The raise path is live although the control is not actuated to raise.",
        "Control's raise contact welded, or a bridge to the path. Do not use the drive.",
    ),
    (
        "The lower path is live although the control is not actuated to lower.",
        "Control's lower contact welded, or a bridge to the path. Do not use the drive.",
    ),
    (
        "The control asks both ways at once.",
        "A jammed control, a contact that does not close, or a bridge between its wires.",
    ),
    (
        "The line contactor pulled in without a command, or its mirror contact opened.",
        "A bridge to its coil, a driver passing, the mirror contact's wire.",
    ),
    (
        "The raise contactor pulled in without a command, or its mirror contact opened.",
        "A bridge to its coil, a driver passing, the mirror contact's wire.",
    ),
    (
        "The lower contactor pulled in without a command, or its mirror contact opened.",
        "A bridge to its coil, a driver passing, the mirror contact's wire.",
    ),
    (
        "The line contactor did not release in time.",
        "Welded poles, a driver or charge pump that passes, coil suppression that is too slow.",
    ),
    (
        "The raise contactor did not release in time.",
        "Welded poles, a driver that passes, coil suppression that is too slow.",
    ),
    (
        "The lower contactor did not release in time.",
        "Welded poles, a driver that passes, coil suppression that is too slow.",
    ),
    (
        "The line contactor did not pull in, or dropped out while running.",
        "Coil and its wires, charge pump, control voltage under load.",
    ),
    (
        "The raise contactor did not pull in, or dropped out while running.",
        "Coil and its wires, driver, interlock, control voltage under load.",
    ),
    (
        "The lower contactor did not pull in, or dropped out while running.",
        "Coil and its wires, driver, interlock, control voltage under load.",
    ),
    (
        "Current flows although everything is released.",
        "Welded poles of line and direction contactor together; the sensor's zero. Isolate first.",
    ),
    (
        "The current samples stand still.",
        "Sensor wiring; a fault of the board. Replace the board if it comes back.",
    ),
    (
        "The motor current exceeded the trip level.",
        "Something blocks the deck, a load lies on it, low supply, capacitor, bearings.",
    ),
    ("The motor current flows against the direction.", "Motor leads swapped, sensor turned round."),
    (
        "No motor current although the contactors are pulled.",
        "Motor wires, breaker pole, worn brushes, contactor pole, sensor signal.",
    ),
    (
        "The motor took starting current for two seconds in all without getting going.",
        "Brake not released, capacitor open, something blocks the deck, low supply.",
    ),
    (
        "The current rose above the learned band.",
        "Something rubs or blocks: hinges, wheels, an object under or behind the leaves.",
    ),
    (
        "The current fell below the learned band.",
        "Rope parted or off its hook, coupling or gear broken, sensor gain changed.",
    ),
    (
        "The rope stayed slack while lowering.",
        "Something holds the deck up, or the rope is loose on the drum. Raise to take it up.",
    ),
    (
        "The end was not left in time after a start.",
        "Rope slack or slipping, deck stuck, the limit itself stuck.",
    ),
    (
        "The travel was shorter than it can be.",
        "A limit moved, a rope layer jumped, the wrong limit operated.",
    ),
    (
        "The travel took longer than the budget allows.",
        "The end's limit did not operate, rope slipping, low supply. Travel the other way first.",
    ),
    (
        "The motor is too warm by the thermal replica.",
        "Wait until it has cooled; look for rubbing hinges, low supply, too many travels.",
    ),
    ("Too much energised time in a short period.", "Wait; the winch is rated for short duty."),
    (
        "Limits moved while the drive was at rest, twice or at two places.",
        "Brake or gear not holding, rope creeping, someone moving the deck. Prop it first.",
    ),
    (
        "A pass of the loop came too late while an output was wanted.",
        "The board is overloaded or failing; note what happened and replace it if it comes back.",
    ),
    ("The settings are damaged in both copies.", "Load the settings of this site again."),
    ("The settings belong to another site or another wiring.", "Load the settings of this site."),
    (
        "The board was restarted by its watchdog.",
        "The program stood still: note what happened and read the journal.",
    ),
    (
        "The program met a situation that cannot be.",
        "Read the journal and report it. Load the firmware again before further use.",
    ),
)

# Row n - 1 is fault n: (name, whether serious, long flashes, short flashes).
FAULTS = tuple(
    (FAULT_NAMES[n - 1], is_serious(n), lamp_code(n) // 10, lamp_code(n) % 10)
    for n in range(1, FAULT_COUNT + 1)
)
