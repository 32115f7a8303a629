"""Steps with the deck moving: direction, inching, release, overrun, stops, power loss."""

from leafwinch.faults import BOTTOM_FINAL_ACTUATED, STOP_ACTUATED, TOP_FINAL_ACTUATED
from leafwinch.states import REFUSED_BUDGET
from leafwinch_host.commissioning.asking import AskNumber, AskWords
from leafwinch_host.commissioning.checks import overrun_limit
from leafwinch_host.commissioning.sized import rest_band_v, start_least_v
from leafwinch_host.commissioning.steps_inputs import latched, no_slack, ready
from leafwinch_host.commissioning.table import Context, Part, Step
from leafwinch_host.commissioning.watching_contacts import ContactIs, ContactsSeen
from leafwinch_host.commissioning.watching_moves import LOWER, RAISE, Contactors, Inches, Leaves
from leafwinch_host.commissioning.watching_stops import (
    PowerLost,
    Refused,
    ReleaseTimed,
    Restarted,
    StopTimed,
)
from leafwinch_host.commissioning.watching_travel import SlackTimed, Travel

MOVES = "The deck moves: nobody on, under or behind it; second person at the isolator."
TAPS = 3
UP, DOWN = 1, -1
CLAMP_SHARE = 0.10  # sensor and clamp meter together; common practice, no source
CLAMP_A = 0.15
METER = "Voltmeter with a memory for its lowest value, at the terminals that feed the contactors."


def supply_at_rest(context: Context) -> AskNumber:
    """Return the question for the voltage without load."""
    low, high = rest_band_v(context)
    return AskNumber(
        "motor supply without load",
        "Voltage with nothing running, such as '228 V'",
        "V",
        low=low,
        high=high,
        source="10 % either way, as sized; IEC 60038 for mains, from memory",
    )


def supply_at_start(context: Context) -> AskNumber:
    """Return the question for the lowest voltage while the motor starts."""
    return AskNumber(
        "motor supply at a start, lowest",
        "Lowest voltage that the meter kept, such as '221 V'",
        "V",
        low=start_least_v(context),
        source="10 % low and the start's own drop, as sized",
    )


def overrun(way: int) -> Part:
    """Return the part that asks for the measured overrun after a release."""
    name = "up" if way == UP else "down"

    def make(context: Context) -> AskNumber:
        limit, why = overrun_limit(context, way)
        return AskNumber(
            f"overrun {name}",
            "How far it went on, such as '25 mm'",
            "mm",
            low=0.0,
            high=limit,
            source=why,
        )

    return Part(
        "overrun",
        "Measure how far the deck's fastest point (free end or middle hinge) went on after the "
        "release: by marks, or in a film of control and deck together.",
        make,
    )


def clamp(way: str) -> Part:
    """Return the part that compares the board's current with a clamp meter's."""

    def make(context: Context) -> AskNumber:
        shown = context.values.get(f"running current, {way}", 0.0) / 1000
        off = CLAMP_SHARE * shown + CLAMP_A
        return AskNumber(
            f"clamp meter, {way}",
            "Current on the clamp meter, such as '3.5 A'",
            "A",
            low=round(max(0.0, shown - off), 2),
            high=round(shown + off, 2),
            source=f"the board shows {shown:.2f} A; 10 % and 0.15 A, common practice, no source",
        )

    return Part("clamp", "What did the clamp meter show just before the release?", make)


def released(way: str, run_ms: int) -> Part:
    """Return the part that times a release in motion."""
    return Part(
        "release",
        "Clamp meter round one lead of the motor; marks, or a film of control and deck, ready. "
        f"Hold the control to {way} for {run_ms / 1000 + 0.5:g} s, let it go, and wait until "
        "everything stands still.",
        lambda context: ReleaseTimed(way, context.settings, run_ms),
    )


def stopped(id_: str, way: str, what: str, opens: tuple[str, ...], fault: int) -> Part:
    """Return the part that times a stop by a cause in motion."""
    return Part(
        id_,
        f"Hold the control to {way}; after a second {what}, still holding. Then let both go.",
        lambda _context: StopTimed(way, opens, fault),
    )


MOVING = (
    Step(
        "direction",
        "First inch up",
        (
            ready(),
            Part(
                "inch",
                "Hold the control to raise until the bottom end is left, two seconds at most, let "
                "it go. Let go at once if the drum turns the wrong way.",
                lambda context: Leaves(context.settings, context.has_slack),
            ),
            Part(
                "drum",
                "The drum must have wound rope on, from the marked side.",
                lambda _context: AskWords(
                    "drum while raising",
                    "Type on, off or still",
                    ("on", "off", "still"),
                    ("on",),
                    "the drum does not wind rope on when raising: motor phases or rope",
                ),
            ),
        ),
        MOVES,
        "the bottom end is left within the time of its setting, rope taut",
        needs=("motor_on",),
    ),
    Step(
        "inching",
        "Inching up",
        (
            ready(),
            Part(
                "taps",
                f"Tap the control to raise {TAPS} times, half a second each, with two seconds "
                "between.",
                lambda context: Inches(RAISE, TAPS, context.settings),
            ),
        ),
        MOVES,
        "every tap starts and stops; the pause is kept",
        needs=("direction",),
    ),
    Step(
        "supply",
        "Supply of the motor, at rest and at a start",
        (
            Part("rest", METER + " Control in the middle.", supply_at_rest),
            ready(),
            Part(
                "start",
                "Clear the meter's memory. Hold the control to raise for a second, let it go.",
                lambda context: Contactors(RAISE, context.settings, 0, current=True),
            ),
            Part("lowest", "Read the meter's lowest value.", supply_at_start),
        ),
        MOVES + " The terminals are live: a licensed electrician measures.",
        "as sized: no more than 10 % low or high at rest, and no more drop than that of a start",
        needs=("inching",),
    ),
    Step(
        "lowering",
        "First inch down",
        (
            ready(),
            Part(
                "inch",
                "Hold the control to lower for a second, let it go.",
                lambda context: Contactors(LOWER, context.settings, 0, current=True),
            ),
        ),
        MOVES,
        "line and lower contactor pull and let go in time, motor current is seen",
        needs=("inching",),
    ),
    Step(
        "bottom_end",
        "Bottom working limit, both contacts",
        (
            latched(),
            Part(
                "by_hand",
                "Hold the control to lower. Then move the lever of the bottom working limit "
                "for two seconds, let the lever go, and only then the control.",
                lambda _context: ContactsSeen(
                    {"bottom_end": False, "lower_path": False},
                    held={"lower_off": False},
                ),
            ),
            ready("after"),
        ),
        "The control is held here: keep hands off rope, hinges and the deck's edge, and work the "
        "lever with a stick.",
        "second contact and path open together, no other one",
        needs=("lowering",),
    ),
    Step(
        "release_raise",
        "Release while raising, and overrun",
        (ready(), released(RAISE, 4000), clamp(RAISE), overrun(UP)),
        MOVES,
        "off within 200 ms (R1); overrun as sized, 100 mm at most (R1)",
        needs=("bottom_end",),
    ),
    Step(
        "release_lower",
        "Release while lowering, and overrun",
        (ready(), released(LOWER, 2000), clamp(LOWER), overrun(DOWN)),
        MOVES,
        "off within 200 ms (R1); overrun as sized, 100 mm at most (R1)",
        needs=("release_raise",),
    ),
    Step(
        "stop_moving",
        "Emergency stop while moving",
        (
            ready(),
            stopped(
                "raising",
                RAISE,
                "press the emergency stop",
                ("stop_ok", "chain_ok"),
                STOP_ACTUATED,
            ),
            ready("between"),
            stopped(
                "lowering",
                LOWER,
                "press the emergency stop",
                ("stop_ok", "chain_ok"),
                STOP_ACTUATED,
            ),
            ready("after"),
        ),
        MOVES,
        "off within 200 ms, fault 2 latched",
        needs=("release_lower",),
    ),
    Step(
        "finals_moving",
        "Final limits while moving",
        (
            ready(),
            stopped(
                "top",
                RAISE,
                "move the top final limit with a stick",
                ("top_final", "chain_ok"),
                TOP_FINAL_ACTUATED,
            ),
            ready("between"),
            stopped(
                "bottom",
                LOWER,
                "move the bottom final limit with a stick",
                ("bottom_final", "chain_ok"),
                BOTTOM_FINAL_ACTUATED,
            ),
            ready("after"),
        ),
        MOVES + " Work the limits with a stick from a safe place.",
        "off within 200 ms, faults 3 and 4 latched",
        needs=("stop_moving",),
    ),
    Step(
        "slack_moving",
        "Slack rope while lowering",
        (
            ready(),
            Part(
                "slack",
                "Hold the control to lower; after a second move the slack-rope switch with a "
                "stick and keep it there until it stops. Then let both go.",
                lambda context: SlackTimed(context.settings),
            ),
            ready("after"),
        ),
        MOVES,
        "stopped within the time of its setting, fault 32 latched",
        needs=("stop_moving",),
        wanted=no_slack,
    ),
    Step(
        "power_loss",
        "Power loss while moving",
        (
            ready(),
            Part(
                "loss",
                "Hold the control to raise; after a second the second person switches the "
                "isolator off. Keep holding; isolator on again; hold two seconds more, let go.",
                lambda context: PowerLost(RAISE, context.settings),
            ),
            ready("back"),
            Part(
                "cycle",
                "Switch the isolator off and pull the USB cable; after five seconds put the cable "
                "in and switch the isolator on.",
                lambda _context: Restarted(),
            ),
            ready("again"),
            Part(
                "unknown",
                "Hold the control to raise for two seconds: the position is unknown now, so it "
                "must refuse.",
                lambda _context: Refused(RAISE, (REFUSED_BUDGET,)),
            ),
            Part(
                "link",
                "Fit the service link: it allows one way home.",
                lambda _context: ContactIs("service_link", True),
            ),
            Part(
                "home",
                "Hold the control to lower until the bottom end stops it, then let go.",
                lambda context: Travel(LOWER, context.settings),
            ),
            Part(
                "unlink",
                "Remove the service link.",
                lambda _context: ContactIs("service_link", False),
            ),
        ),
        MOVES,
        "off at once, the brake holds, no start by itself, position counts as unknown",
        needs=("stop_moving",),
    ),
)
