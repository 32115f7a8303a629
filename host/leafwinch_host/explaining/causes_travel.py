"""Faults 32 to 43: rope and travel, heat, drift, and the board itself."""

from leafwinch_host.explaining.explanation import (
    COME_BACK,
    LOOK_FIRST,
    NO_BYPASS,
    OUT_OF_USE,
    PROP_FIRST,
    RESET,
    WAIT,
    Explanation,
    Measure,
    closed,
    opened,
)

_JOURNAL = Measure("'leafwinch board journal'", "what happened before, with its place")

TRAVEL: dict[str, Explanation] = {
    "rope_slack": Explanation(
        OUT_OF_USE,
        (
            "something holds the deck up: a wedge, ice, a seized hinge, a person",
            "slack-rope switch BG5, its cable W8 or its lever open or stuck",
            "the deck starts slowly from the top: dry hinges, a lost kicker, wind",
            "rope loose on the drum after work",
        ),
        (
            Measure("deck and rope, by eye from beside", "nothing holds it; rope in its grooves"),
            closed("BG5 11-12", "rope taut"),
            opened("BG5 11-12", "lever at slack"),
            Measure("trace: how long slack", "below {slack_ms} ms, near the top {slack_top_ms} ms"),
        ),
        (
            "A deck that hangs on an obstacle falls into the slack when it lets go: nobody beneath "
            "or on it, and no hand there to free it. Take the rope up first.",
            "Never lower on in the hope that it comes.",
            PROP_FIRST,
        ),
        "Deck held and clear: " + RESET + " Then raise to take the rope up; lowering stays "
        "refused until it is taut.",
    ),
    "end_not_left": Explanation(
        LOOK_FIRST,
        (
            "the rope was slack and is only being taken up, or slips on the drum",
            "the deck sticks: frozen, swollen, wheels blocked, something lies on it",
            "the motor does not turn: a wire or pole open, brake not lifted",
            "the limit's lever or contact stuck although the deck left",
        ),
        (
            Measure("did the deck move?", "if it did: the limit; if not: motor, brake, rope"),
            closed("BG1 21-22", "off its end"),
            closed("BG2 21-22", "off its end"),
            Measure("trace: current while it tried", "running current, not 0 A, not starting"),
            Measure("time to leave: bottom, top", "below {leave_bottom_ms} ms, {leave_top_ms} ms"),
        ),
        ("The drum turned and the deck did not: rope parted or loose. " + PROP_FIRST, COME_BACK),
        RESET,
    ),
    "travel_early": Explanation(
        OUT_OF_USE,
        (
            "a limit operated too soon: cam or bracket moved, lever pushed, wire loose",
            "rope climbed onto another layer, so that the drum takes it faster",
            "the wrong limit operated, or the limits were swapped",
            "after new boards, rope or motor: the times of the settings no longer fit",
        ),
        (
            Measure("where the deck stands", "at the mark of its end, or short of it?"),
            Measure("cams and brackets of BG1, BG2", "on the marks made at commissioning"),
            Measure("rope on the drum", "one layer, as at commissioning, dead wraps there"),
            Measure("journal: time of this travel", "raise {raise_s} s, lower {lower_s} s"),
        ),
        (
            "A deck short of its end that counts as at its end: do not reach beneath, do not walk "
            "on it.",
            PROP_FIRST,
        ),
        RESET,
    ),
    "travel_late": Explanation(
        OUT_OF_USE,
        (
            "the end's limit did not operate: cam, bracket, lever, a welded contact",
            "supply low, brake dragging or hinges stiff: the whole travel is slow",
            "rope slips, parted or is slack: the drum turns, the deck does not",
            "many short starts: each costs time that the budget counts",
        ),
        (
            Measure("where the deck stands", "at its end: the limit; short of it: drive or rope"),
            opened("BG1 21-22", "lever pushed by hand"),
            opened("BG2 21-22", "lever pushed by hand"),
            Measure(
                "journal: times of travels before", "raise {raise_s} s, lower {lower_s} s, level"
            ),
            Measure("budget of the settings", "raise {budget_raise_s} s, lower {budget_lower_s} s"),
        ),
        (
            "Never renew the budget to get on towards the same end: the motor pulls into the "
            "wall. Travel the other way first, watching limit and rope.",
            NO_BYPASS,
            PROP_FIRST,
        ),
        RESET + " After that only the other way is open.",
    ),
    "thermal": Explanation(
        WAIT,
        (
            "many travels in a short time, or much inching",
            "current higher than it was: hinges, wheels, brake, low supply",
            "after a power loss without a record the motor counts as hot: it may be cold",
        ),
        (
            Measure("motor's housing, by a thermometer, isolated", "below 70 degC"),
            Measure("running current", "below {thermal_base_a} A in the long run"),
            Measure("restart level", "below {thermal_restart} %, cools by 63 % in {cool_s} s"),
        ),
        ("It smells or smokes: isolate, leave it off.", "Do not load the settings anew to get on."),
        "Wait until it has cooled. " + RESET,
    ),
    "duty": Explanation(
        WAIT,
        (
            "more travels than the winch is rated for",
            "somebody plays with the control, or trains on it",
        ),
        (
            Measure("duty of the winch's plate", "not below {duty_pct} %"),
            Measure("energised time allowed in one go", "{duty_s} s"),
        ),
        ("Do not raise the settings above what the winch's plate allows.",),
        "Wait. " + RESET,
    ),
    "drift": Explanation(
        OUT_OF_USE,
        (
            "brake MB1 slips: oil, wear, a weak spring, not cut on its direct-current side",
            "gear or load brake no longer holds",
            "somebody or wind moved the deck",
            "a limit's contact, wire or cam loose: it moves though the deck does not",
        ),
        (
            Measure("mark on leaf and wall, deck nearly down, over ten minutes", "does not move"),
            Measure("brake lining, isolated, propped", "dry, thicker than its least thickness"),
            closed("BG1 21-22", "off its end"),
            closed("BG2 21-22", "off its end"),
        ),
        (
            "A deck that sinks by itself falls one day: nobody beneath or on it.",
            PROP_FIRST,
            "No travel, not even to bring it down, before two persons have looked at brake, gear "
            "and rope.",
        ),
        "After brake and gear were proved to hold: " + RESET,
    ),
    "loop_late": Explanation(
        LOOK_FIRST,
        (
            "the board was disturbed: a contactor without suppression, a loose 0 V",
            "the board's memory or clock fails",
            "a changed or foreign program on the board",
        ),
        (
            Measure("'leafwinch board verify'", "equal to a fresh build"),
            Measure("'leafwinch board counters': late passes", "does not grow from day to day"),
            Measure("suppressors of QA0, QA1, QA2", "fitted, clamps"),
        ),
        ("It comes back: replace the board.",),
        RESET,
    ),
    "settings_bad": Explanation(
        OUT_OF_USE,
        ("the flash lost both copies", "a load of settings was cut off, twice", "a worn-out board"),
        (
            Measure("'leafwinch board settings'", "the values of this site"),
            Measure("'leafwinch board counters': flash trouble", "0"),
        ),
        ("Never load the settings of another site to get on.", COME_BACK),
        "Load the settings of this site with 'leafwinch board load --renew-settings', the motor "
        "isolated; learn the envelope anew; prove limits and trip before use.",
    ),
    "settings_foreign": Explanation(
        OUT_OF_USE,
        (
            "the board or its flash came from another installation",
            "site or wiring were changed and the settings not loaded again",
        ),
        (
            Measure("'leafwinch board settings'", "the values of this site"),
            Measure("netlist and wires", "as drawn for this site"),
        ),
        ("Trip, budget and times of another deck protect nobody here.",),
        "Load the settings of this site with 'leafwinch board load --renew-settings', the motor "
        "isolated; prove limits and trip before use.",
    ),
    "watchdog_boot": Explanation(
        LOOK_FIRST,
        (
            "the program stood still for two seconds: a disturbance, a failing board",
            "the 24 V dipped just so far that the board hung",
            "an error in the program: the journal names its place",
        ),
        (
            _JOURNAL,
            Measure("'leafwinch board verify'", "equal to a fresh build"),
            Measure("'leafwinch board counters': watchdog boots", "does not grow"),
            Measure("24 V at KF1 in a start", "never below {supply_low_v} V"),
        ),
        ("It comes a second time: replace the board.",),
        RESET,
    ),
    "program_error": Explanation(
        OUT_OF_USE,
        (
            "a test at power-up failed: sensor's zero, supply, an output that reads back wrong",
            "a file of the program is damaged",
            "both copies of the record are damaged: a serious fault may have stood there",
            "an error in the program",
        ),
        (
            _JOURNAL,
            Measure("'leafwinch board verify'", "equal to a fresh build"),
            Measure("current at rest, isolated, 'leafwinch board inputs'", "0 A"),
            Measure("24 V at KF1", "22 V to 26 V"),
        ),
        (
            "What stood before is not known: inspect as after a serious fault.",
            "It comes back after loading: replace the board.",
        ),
        "Load the program again with 'leafwinch board load', then: " + RESET,
    ),
}
