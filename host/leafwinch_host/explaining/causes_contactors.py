"""Faults 15 to 23: contactors that pull, stay or drop out without being asked."""

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
)

_PARTS = {"line": ("QA0", "I11"), "raise": ("QA1", "I12"), "lower": ("QA2", "I13")}
_POLES = "every main pole of {part}, released, " + ISOLATED


def _uncommanded(name: str) -> Explanation:
    part, terminal = _PARTS[name]
    return Explanation(
        OUT_OF_USE,
        (
            f"the mirror contact of {part}, its wire or terminal open or loose",
            f"a driver of the board that passes: {part} pulls in by itself",
            f"a bridge to the coil of {part}: crushed or wet cable, a loose strand",
            f"board input {terminal} dead",
        ),
        (
            Measure(f"{part}, by eye and ear at rest", "its indicator stands at released"),
            Measure(f"coil of {part}, A1 to A2, at rest", "below 2 V"),
            Measure(f"voltage at KF1 {terminal} to 0V, {part} released", "22 V to 26 V"),
            Measure(f"mirror contact of {part}, released, {ISOLATED}", "closed: below 2 ohm"),
        ),
        (
            f"{part} hums or stands pulled in at rest: isolate at once, {ELECTRICIAN}",
            COME_BACK,
            PROP_FIRST,
        ),
        RESET,
    )


def _not_released(name: str) -> Explanation:
    part, terminal = _PARTS[name]
    pump = " or its charge pump" if name == "line" else ""
    return Explanation(
        OUT_OF_USE,
        (
            f"a main pole of {part} welded: a short, inching too much, the end of its life",
            f"the driver of {part}{pump} passes although it is off",
            f"a plain diode across the coil of {part} instead of a clamp: it lets go too slowly",
            f"dirt, rust or a worn armature keeps {part} in",
            f"the mirror contact of {part} or input {terminal} does not close",
        ),
        (
            Measure(_POLES.format(part=part), "open: above 1 megohm, each of them"),
            Measure(f"coil of {part}, A1 to A2, at rest", "below 2 V"),
            Measure("trace: from command off to the mirror closed", "within {release_ms} ms"),
            Measure(f"suppressor of {part}", "a clamp of the coil's rating, not a plain diode"),
            Measure(f"mirror contact of {part}, released, {ISOLATED}", "closed: below 2 ohm"),
        ),
        (
            "A welded contactor is one of two ways off: the next weld leaves none. No travel.",
            "Never tap a contactor loose and go on: replace it, and look for what welded it.",
            ELECTRICIAN,
            PROP_FIRST,
        ),
        "After the contactor was replaced or its driver mended: " + RESET,
    )


def _not_pulled(name: str) -> Explanation:
    part, terminal = _PARTS[name]
    own = {
        "line": "charge pump or line driver of the board dead",
        "raise": "interlock contact of QA2 open, or its mechanical interlock jammed",
        "lower": "interlock contact of QA1 open, or its mechanical interlock jammed",
    }[name]
    return Explanation(
        LOOK_FIRST,
        (
            f"a loose terminal or broken wire in the coil's path of {part}",
            own,
            f"coil of {part} open",
            f"24 V too low while {part} pulls in",
            f"the mirror contact of {part} welded or bridged, so that it never opens",
            "the control, an end or the stop opened in that moment: a contact that bounces",
        ),
        (
            Measure(f"coil of {part}, A1 to A2, {ISOLATED}", "{coil}, not open"),
            Measure(f"coil of {part}, A1 to A2, while it is asked to pull", "at least 20 V"),
            Measure("24 V at KF1 in a start", "never below {supply_low_v} V"),
            Measure("trace: from command to the mirror open", "within {pull_ms} ms"),
            Measure(f"KF1 {terminal} to 0V, {part} pressed in by hand, isolated", "open"),
        ),
        (
            f"{part} chatters: stop trying, its poles weld.",
            "Never press a contactor in by hand with the motor's supply on.",
            COME_BACK,
        ),
        RESET,
    )


CONTACTORS: dict[str, Explanation] = {
    "line_uncommanded": _uncommanded("line"),
    "raise_uncommanded": _uncommanded("raise"),
    "lower_uncommanded": _uncommanded("lower"),
    "line_not_released": _not_released("line"),
    "raise_not_released": _not_released("raise"),
    "lower_not_released": _not_released("lower"),
    "line_not_pulled": _not_pulled("line"),
    "raise_not_pulled": _not_pulled("raise"),
    "lower_not_pulled": _not_pulled("lower"),
}
