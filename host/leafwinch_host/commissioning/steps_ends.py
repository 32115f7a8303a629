"""Steps at the ends: whole travels, where each limit operates, broken wires."""

from leafwinch_host.commissioning.asking import AskNumber
from leafwinch_host.commissioning.checks import highest_running_ma, overrun_limit
from leafwinch_host.commissioning.sized import (
    greatest_pull_kg,
    lower_band_n,
    pull_deg,
    raise_band_n,
)
from leafwinch_host.commissioning.steps_inputs import no_slack, ready
from leafwinch_host.commissioning.steps_moving import DOWN, MOVES, UP
from leafwinch_host.commissioning.table import Context, Part, Step
from leafwinch_host.commissioning.watching_moves import LOWER, RAISE
from leafwinch_host.commissioning.watching_stops import WireBroken
from leafwinch_host.commissioning.watching_travel import Lifted, Travel

POINT_OFF = {"leaf_angle": 0.5, "drum_turns": 0.1, "rope_slack": 10.0}
POINT_UNIT = {"leaf_angle": "deg", "drum_turns": "turn", "rope_slack": "mm"}
POINT_WORDS = {
    "leaf_angle": "angle of the wall leaf on a level, such as '79.2 deg'",
    "drum_turns": "turns on the drum by its mark, such as '3.6 turn'",
    "rope_slack": "slack of the rope, such as '25 mm'",
}
LEAVE_MS = 3000
PULL_UP = "pull at the rope's fixed end, raising"
SCALE_WORDS = "such as '123 N' (a scale's kilograms times 9.81)"


def end_overrun(way: int) -> Part:
    """Return the part that asks how far the deck ran on after its working limit."""
    name = "top" if way == UP else "bottom"

    def make(context: Context) -> AskNumber:
        limit, why = overrun_limit(context, way, at_end=True)
        return AskNumber(
            f"overrun at the {name} end",
            "How far its fastest point went on, such as '25 mm'",
            "mm",
            low=0.0,
            high=limit,
            source=why,
        )

    return Part("overrun", "Measure how far it went on after its working limit operated.", make)


def point(limit: str, name: str) -> Part:
    """Return the part that asks where a limit operates."""

    def make(context: Context) -> AskNumber:
        data = getattr(context.site.limits, limit)
        off = POINT_OFF[data.senses]
        return AskNumber(
            f"{name} operates at",
            f"{POINT_WORDS[data.senses]}; 'none' where it does not operate",
            POINT_UNIT[data.senses],
            low=round(data.at - off, 4),
            high=round(data.at + off, 4),
            source="the site's place; tolerance common practice, no source",
            none=f"{name} does not operate: cam, bracket or lever lost",
        )

    return Part(
        limit,
        f"Isolated and locked off, move the cam of the {name} by hand along its scale and note "
        "where its contacts open.",
        make,
    )


def broken(contact: str, way: str, name: str) -> Part:
    """Return the part that pulls one wire of a limit."""
    return Part(
        contact,
        f"Take the wire of the second contact of the {name} off its terminal. Hold the control "
        f"to {way} for two seconds: it must not start. Let go, put the wire back.",
        lambda _context: WireBroken(contact, way),
    )


def pull_up(context: Context) -> AskNumber:
    """Return the question for the rope's pull while raising."""
    low, high = raise_band_n(context)
    return AskNumber(
        PULL_UP,
        f"Reading while the wall leaf passed {pull_deg(context.site):g} degrees, {SCALE_WORDS}",
        "N",
        low=low,
        high=high,
        source="sized, with the mass and friction that sound decks differ by",
    )


def pull_down(context: Context) -> AskNumber:
    """Return the question for the rope's pull while lowering, beside what was read raising."""
    low, high = lower_band_n(context, context.values.get(PULL_UP, 0.0))
    return AskNumber(
        "pull at the rope's fixed end, lowering",
        f"Reading while the wall leaf passed {pull_deg(context.site):g} degrees, {SCALE_WORDS}",
        "N",
        low=low,
        high=high,
        source="sized from the pull raising; less means friction in hinges, wheels or sheaves",
    )


ENDS = (
    Step(
        "top_travel",
        "Up to the top working limit",
        (
            ready(),
            Part(
                "travel",
                "From the bottom end: hold the control to raise until the top working limit stops "
                "it, in short pieces near the end. Keep holding for a second after it stopped.",
                lambda context: Travel(RAISE, context.settings, highest_running_ma(context)),
            ),
            end_overrun(UP),
            ready("after"),
        ),
        MOVES + " Be ready to press the emergency stop near the end.",
        "stops by itself; time within 15 % of its setting; both contacts of the limit open",
        needs=("stop_moving", "finals_moving", "power_loss"),
    ),
    Step(
        "bottom_travel",
        "Down to the bottom working limit",
        (
            ready(),
            Part(
                "travel",
                "From the top end: hold the control to lower until the bottom working limit stops "
                "it. Keep holding for a second after it stopped.",
                lambda context: Travel(LOWER, context.settings, highest_running_ma(context)),
            ),
            end_overrun(DOWN),
            ready("after"),
        ),
        MOVES,
        "stops by itself; time within 15 % of its setting; both contacts of the limit open",
        needs=("top_travel",),
    ),
    Step(
        "pull",
        "Pull of the rope halfway (only with a hanging scale)",
        (
            Part(
                "hang",
                "Isolated and locked off, hang a scale between the rope's fixed end and its "
                "anchor, rated for twice the greatest pull, its display in sight or in a film. "
                "Then unlock and switch on.",
                lambda context: AskNumber(
                    "load that the scale bears",
                    f"Load that the scale bears by its marking; it is read at "
                    f"{pull_deg(context.site):g} degrees of the wall leaf; such as '300 kg'",
                    "kg",
                    low=round(2.0 * greatest_pull_kg(context)),
                    source="twice the greatest sized pull; common practice, no source",
                    tell=True,
                ),
            ),
            ready(),
            Part(
                "up",
                "From the bottom end: hold the control to raise until the wall leaf is well past "
                "the angle that is asked for next, let it go.",
                lambda context: Lifted(context.settings, LEAVE_MS),
            ),
            Part("raising", "What did the scale show at that angle, in motion?", pull_up),
            ready("between"),
            Part(
                "down",
                "Hold the control to lower until the bottom end stops it, then let go.",
                lambda context: Travel(LOWER, context.settings),
            ),
            Part(
                "lowering",
                "What did the scale show at that angle, in motion? Then isolate, lock off and take "
                "the scale out.",
                pull_down,
            ),
        ),
        MOVES + " Nobody stands in line with the rope. Without a scale, skip this step and say so: "
        "the current can't tell tripled friction.",
        "as sized; the motor's current alone can't tell tripled friction from a sound deck",
        needs=("bottom_travel",),
    ),
    Step(
        "points",
        "Where each limit operates",
        (
            point("top_end", "top working limit BG1"),
            point("bottom_end", "bottom working limit BG2"),
            point("top_final", "top final limit BG3"),
            point("bottom_final", "bottom final limit BG4"),
        ),
        "Isolate and lock off before hands go near cams and levers; prop raised leaves.",
        "within 0.5 degrees, 0.1 turn, 10 mm of the site's place (common practice, no source)",
    ),
    Step(
        "slack_point",
        "Where the slack-rope switch operates",
        (point("slack_rope", "slack-rope switch BG5"),),
        "Isolate and lock off before hands go near the rope.",
        "within 10 mm of the site's place (common practice, no source)",
        wanted=no_slack,
    ),
    Step(
        "wires",
        "A wire off each limit",
        (
            ready(),
            Part(
                "lift",
                "Hold the control to raise for three to five seconds, let it go.",
                lambda context: Lifted(context.settings, LEAVE_MS),
            ),
            broken("top_end", RAISE, "top working limit BG1"),
            ready("after_1"),
            broken("bottom_end", LOWER, "bottom working limit BG2"),
            ready("after_2"),
            broken("top_final", RAISE, "top final limit BG3"),
            ready("after_3"),
            broken("bottom_final", LOWER, "bottom final limit BG4"),
            ready("after_4"),
            Part(
                "home",
                "Hold the control to lower until the bottom end stops it, then let go.",
                lambda context: Travel(LOWER, context.settings),
            ),
        ),
        MOVES + " Extra-low voltage only: the second contacts are on 24 V. Isolate before any "
        "other terminal.",
        "a broken wire reads as an actuated limit: no start",
        needs=("bottom_travel",),
    ),
)
