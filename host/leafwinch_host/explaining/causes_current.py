"""Faults 24 to 31: what the motor current tells."""

from leafwinch_host.explaining.explanation import (
    COME_BACK,
    ELECTRICIAN,
    ISOLATED,
    LOOK_FIRST,
    OUT_OF_USE,
    PROP_FIRST,
    RESET,
    Explanation,
    Measure,
    closed,
)

_LEADS = f"motor leads at XD2, winding to winding and to earth, {ISOLATED}"
_BY_HAND = Measure(
    "deck moved by hand with the rope off, two persons, propped at each stop",
    "no place that rubs, grates or binds",
)
_SUPPLY = Measure(
    "motor supply at QB0 in a start, by a licensed electrician", "within 10 % of {motor_v}"
)

CURRENT: dict[str, Explanation] = {
    "current_at_rest": Explanation(
        OUT_OF_USE,
        (
            "poles of the line contactor and of a direction contactor welded together",
            "the sensor's zero has moved: BC1, its supply or its wires",
            "a fault to earth or between motor wires",
        ),
        (
            Measure(f"QA0, QA1, QA2: every main pole, released, {ISOLATED}", "open, all of them"),
            Measure("isolated with QB0: current shown by 'leafwinch board inputs'", "0 A"),
            Measure("not isolated, at rest: the same", "below {rest_a} A"),
        ),
        (
            "Isolate FIRST, before anything else: the motor may move at any moment.",
            ELECTRICIAN,
            PROP_FIRST,
        ),
        "After poles and sensor were proved sound: " + RESET,
    ),
    "samples_stalled": Explanation(
        LOOK_FIRST,
        (
            "the board's converter or its program stands still: restart it with the 24 V",
            "a wire of the sensor BC1 loose, so that its signal flutters",
            "the board fails",
        ),
        (
            Measure("KF1 terminals AP and AN: wires", "tight, not discoloured"),
            Measure("'leafwinch board inputs' at rest", "current changes by a few mA, near 0 A"),
            Measure("'leafwinch board journal'", "no program error, no test that failed"),
        ),
        ("It comes back after a restart: replace the board. Without its eye nothing trips.",),
        RESET,
    ),
    "current_trip": Explanation(
        LOOK_FIRST,
        (
            "something blocks the deck: under a wheel, in a hinge, behind or beneath the leaves",
            "a load on the deck: people, goods, water, snow, ice",
            "hinges, wheels or sheaves dry, rusted or bent",
            "supply too low, or the run capacitor weak (mains hoist)",
            "brake not lifted fully: a contactor's brake pole or the rectifier",
            "rope jammed on the drum",
        ),
        (
            Measure("trace: current before the trip", "a step (an object) or a slow rise (wear)?"),
            Measure("greatest running current of a healthy travel", "below {run_max_a} A"),
            Measure("trip level of the settings", "{trip_a} A for {trip_ms} ms"),
            _BY_HAND,
            Measure("brake at a start, by ear, nobody near", "lifts with a click"),
            _SUPPLY,
            Measure("run capacitor, discharged, by a licensed electrician", "plate value, +/- 5 %"),
        ),
        (
            "Somebody may be caught: look first. Never raise the trip level to get on.",
            "The current trip does not protect people: its force already crushes.",
            COME_BACK,
        ),
        RESET,
    ),
    "current_wrong_way": Explanation(
        OUT_OF_USE,
        (
            "motor leads swapped after work on motor or contactors",
            "the sensor BC1 fitted the other way round, or its signal wires swapped",
            "the deck drives the motor: gear or load brake no longer hold",
        ),
        (
            Measure("arrow on BC1 and wires AP, AN", "as drawn"),
            Measure("inch with the rope off the hook, by two persons", "drum turns as asked"),
            Measure("trace: sign of the current raising", "positive, above {missing_raise_a} A"),
        ),
        (
            "The motor may turn against what is asked: no travel with the deck on the rope.",
            PROP_FIRST,
        ),
        "After leads and sensor were put right and proved: " + RESET,
    ),
    "current_missing": Explanation(
        LOOK_FIRST,
        (
            "the breaker tripped or QB0 is off: only the 24 V is there",
            "a motor wire or terminal open",
            "brushes worn (12 V winch), motor's thermal switch open (mains hoist)",
            "a main pole of a contactor burnt",
            "the sensor BC1, its supply or its wires open",
        ),
        (
            Measure("QB0 and breaker FC1", "on"),
            Measure(_LEADS, "as on the winding's plate; above 1 megohm to earth"),
            Measure("main poles of QA0, QA1, QA2, pressed in by hand, isolated", "below 0.1 ohm"),
            Measure("KF1 AP to AN, isolated, 24 V off", "{burden}"),
        ),
        (
            "The breaker tripped: find why before it is switched on again. " + ELECTRICIAN,
            "Without a torque the deck hangs on the brake alone. " + PROP_FIRST,
        ),
        RESET,
    ),
    "blocked": Explanation(
        OUT_OF_USE,
        (
            "brake MB1 does not lift: its coil, rectifier, or the poles that feed it",
            "run capacitor open or an auxiliary winding's wire off (mains hoist)",
            "a motor wire or pole open, so that it hums without turning",
            "something blocks the deck, or rope jammed on the drum",
            "supply far too low",
        ),
        (
            Measure("brake at a start, by ear, nobody near", "lifts with a click"),
            Measure("trace: current while it tries", "starting current, never {run_max_a} A"),
            Measure("coil of MB1, " + ISOLATED, "as on its plate, not open"),
            Measure(_LEADS, "as on the winding's plate, all windings"),
            _BY_HAND,
            _SUPPLY,
        ),
        (
            "No further tries: two seconds of starting current in all are what motor and poles "
            "stand.",
            PROP_FIRST,
            ELECTRICIAN,
        ),
        "After the cause was mended and the motor has cooled: " + RESET,
    ),
    "jam": Explanation(
        LOOK_FIRST,
        (
            "an object under, on or behind the leaves",
            "hinges or wheels that rub: dirt, rust, a bent pin, swollen boards",
            "cold grease on the first travel of a winter's day",
            "a load on the deck",
            "the envelope was learned on an easier day: much warmer, drier, other boards",
        ),
        (
            Measure("trace against the learned envelope", "at most {jam_a} A above it"),
            _BY_HAND,
            Measure("kicker, wheels, hinges, by eye", "clean, greased, bolts tight"),
            Measure("'leafwinch upkeep': trend of the running current", "level over months"),
        ),
        (
            "Somebody may be caught: look first.",
            "It comes at one place again and again: something bends or wears there. Mend it "
            "before it breaks. Do not learn it away.",
        ),
        RESET,
    ),
    "underload": Explanation(
        OUT_OF_USE,
        (
            "rope parted or off its hook, or its anchor came loose",
            "the deck stands on something and the rope carries nothing",
            "coupling, key or gear broken between motor and drum",
            "somebody lifts or helps the deck along",
            "the sensor's gain changed: BC1 or a loose burden wire",
        ),
        (
            Measure("rope, hook, latch, anchor, by eye from beside", "whole, in place, taut"),
            Measure("trace against the learned envelope", "at most {under_a} A below it"),
            closed("BG5 11-12", "rope taut"),
            Measure("drum while inching, nobody near", "turns with the motor"),
        ),
        (
            "The deck may fall at any moment: nobody beneath it, on it or in line with the rope.",
            PROP_FIRST,
            "Never load or test the rope with a person near. A damaged rope is replaced, never "
            "knotted or clamped together.",
        ),
        "After rope, hook and gear were inspected and found sound: " + RESET,
    ),
}
