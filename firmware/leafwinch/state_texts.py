"""Reasons, refusals, endings and warnings in words. Read by hosts and documents only."""

# Why held is not left. Row i is bit i: (name, words for a person).
HELD_REASONS = (
    ("supply", "no 24 V control supply: every input is dead"),
    ("settling", "inputs are being read for the first time"),
    ("resolving", "finding out why it stopped"),
    ("chain", "the cut-off chain is dead"),
    ("recovery_key", "release the recovery key"),
    ("contactor", "a contactor has not released yet"),
    ("both_ways", "the control asks both ways at once"),
    ("actuated", "the control is actuated: release it to the middle"),
    ("neutral_wait", "the control must stay in the middle for 300 ms"),
    ("pause", "pause before the next start"),
    ("record", "the last travel is being stored"),
    ("thermal", "the motor is too warm for another start: wait"),
    ("duty", "too many travels in a short time: wait"),
)

# Why a demand was refused. Row n is refusal n.
REFUSALS = (
    ("none", "nothing was refused"),
    ("end", "this end is reached: only the other way is open"),
    ("budget", "travel time this way is used up or the position is unknown after power-up"),
    ("slack", "the rope is slack: raise to take it up"),
    ("recovery", "recovery is on: only away from the final limit"),
    ("unproven", "the control was not proven in time: halfway, or a contact or wire is open"),
)

# What ended the last travel. Row n is ending n.
ENDINGS = (
    ("none", "no travel since power-up"),
    ("released", "the control was released"),
    ("top_end", "the top end was reached"),
    ("bottom_end", "the bottom end was reached"),
    ("halfway", "a contact of the control or the end opened while it was still actuated"),
    ("pulse", "the recovery pulse was over"),
    ("final_closed", "the final limit closed again: recovery is over"),
    ("cause", "a cause for a fault appeared"),
)

# Row n is warning n.
WARNINGS = (
    ("nothing", "nothing to warn of"),
    ("halfway", "control halfway for 3 s: its contact, the end contact or a wire may be open"),
    ("kept_actuated", "control still actuated 10 s after an end stop: latching or jammed switch?"),
    ("drift", "a limit moved while at rest: the deck drifts or was moved"),
    ("reset_refused", "reset refused: the cause is still there, or the control is not neutral"),
    ("reset_stuck", "reset button closed for more than 10 s: stuck or bridged?"),
    (
        "recovery_refused",
        "powered recovery refused: direction unknown or wrong, release by hand, isolated",
    ),
    ("service_link", "the service link is fitted: remove it for daily use"),
)
