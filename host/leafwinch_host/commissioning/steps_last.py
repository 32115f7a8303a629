"""Last steps: budget and trip with temporary settings, hung program, learning, settings frozen."""

from dataclasses import replace
from functools import partial

from leafwinch.edge.learning import TRAVELS_MIN
from leafwinch.settings import Settings
from leafwinch.settings_schema import SETTING_NAMES
from leafwinch_host.commissioning import checks, temporary
from leafwinch_host.commissioning.asking import AskWords, Check
from leafwinch_host.commissioning.results import FAIL, Outcome
from leafwinch_host.commissioning.steps_inputs import checked, ready
from leafwinch_host.commissioning.steps_moving import MOVES
from leafwinch_host.commissioning.table import Context, Part, Step
from leafwinch_host.commissioning.watching_contacts import ContactIs
from leafwinch_host.commissioning.watching_moves import LOWER, RAISE
from leafwinch_host.commissioning.watching_travel import (
    FIRST_CURRENT,
    BudgetSpent,
    FullTravels,
    Hung,
    Travel,
    Tripped,
)

BUDGET_MS = 6000
BUDGET_NAMES = ("early_raise_ms", "travel_raise_ms", "budget_raise_ms", "start_allow_total_ms")
TRIP_NAMES = ("missing_raise_ma", "run_max_ma", "trip_ma")
TRIP_SHARE = 0.7  # of the measured running current
BAND_SHARE = 0.95  # of that trip: top of the running band, which must lie below it


def budget_values(context: Context) -> dict[str, int]:
    """Return the settings of the budget test: a travel of seconds instead of the whole way."""
    least = context.settings.leave_bottom_ms + 1
    travel = max(BUDGET_MS - 500, least)
    return {
        "early_raise_ms": 0,
        "travel_raise_ms": travel,
        "budget_raise_ms": travel + 500,
        "start_allow_total_ms": 0,
    }


def trip_values(context: Context) -> dict[str, int]:
    """Return the settings of the trip test: a level below the measured running current."""
    running = context.values.get(f"{FIRST_CURRENT} {RAISE}", 0.0)
    trip = int(TRIP_SHARE * running)
    return {
        "missing_raise_ma": min(context.settings.missing_raise_ma, trip // 3),
        "run_max_ma": int(BAND_SHARE * trip),
        "trip_ma": trip,
    }


def with_values(settings: Settings, values: dict[str, int]) -> Settings:
    """Return a copy of settings with some of them replaced."""
    new = Settings()
    for name in SETTING_NAMES:
        setattr(new, name, values.get(name, getattr(settings, name)))
    return new


def lowered(context: Context, what: str) -> Outcome:
    """Send the temporary settings of a test."""
    values = budget_values(context) if what == "budget" else trip_values(context)
    if what == "trip" and values["trip_ma"] <= context.settings.rest_ma:
        return Outcome(FAIL, "the running current was not measured: pass 'top_travel' first")
    temporary.note(context, what, values)
    return checks.sent(context, values)


def _fit(id_: str = "link") -> Part:
    return Part(
        id_,
        "Fit the service link; control in the middle.",
        lambda _context: ContactIs("service_link", True),
    )


def _send(what: str, words: str) -> Part:
    return Part(
        "send",
        words,
        lambda context: Check(
            "sending temporary settings",
            lambda _answer: lowered(context, what),
            "Enter sends the temporary settings; the board restarts with them",
        ),
    )


def _put_back(names: tuple[str, ...]) -> Part:
    return Part(
        "put_back",
        "The tool puts the settings back and reads all of them. Control in the middle, service "
        "link fitted.",
        lambda context: checked("putting back", partial(checks.restored, context, names)),
        always=True,
    )


def _settled(id_: str) -> Part:
    """Return a wait for a drive that can take settings, after a fault as well."""
    return replace(ready(id_), always=True)


def put_back_step(names: tuple[str, ...], why: str) -> Step:
    """Return the step that puts settings back which a broken off test has left on the board.

    why: what is there and what should be, in a sentence.
    """
    return Step(
        "left_over",
        "Temporary settings of a test are still on the board",
        (_fit(), ready(), _put_back(names), ready("back"), _unlink()),
        f"{why} Nobody uses the drive before they are put back.",
        "every setting as the site's",
    )


def _unlink() -> Part:
    return Part(
        "unlink",
        "Remove the service link.",
        lambda _context: ContactIs("service_link", False),
    )


LAST = (
    Step(
        "budget",
        "Interrupted travel and its budget",
        (
            ready(),
            _fit(),
            _send(
                "budget",
                f"For this test the budget to raise is set to about {BUDGET_MS / 1000:g} s.",
            ),
            ready("again"),
            Part(
                "pieces",
                "From the bottom end: hold the control to raise in pieces of two seconds with "
                "pauses of two seconds, until the red lamp blinks.",
                lambda context: BudgetSpent(
                    RAISE,
                    budget_values(context)["budget_raise_ms"],
                    context.settings.start_allow_ms,
                ),
            ),
            _settled("reset"),
            _put_back(BUDGET_NAMES),
            _settled("back"),
            Part(
                "home",
                "Hold the control to lower until the bottom end stops it, then let go.",
                lambda context: Travel(LOWER, context.settings),
            ),
        ),
        MOVES,
        "the pieces add up: fault 35 when the budget is spent; settings put back",
        needs=("bottom_travel",),
    ),
    Step(
        "trip",
        "Current trip",
        (
            ready(),
            _fit(),
            _send(
                "trip",
                "For this test the trip is set below the measured running current, so that "
                "nothing has to be blocked.",
            ),
            ready("again"),
            Part(
                "tripped",
                "Hold the control to raise until the red lamp blinks, let it go.",
                lambda context: Tripped(RAISE, with_values(context.settings, trip_values(context))),
            ),
            _settled("reset"),
            _put_back(TRIP_NAMES),
            _settled("back"),
            Part(
                "up",
                "Hold the control to raise until the top end stops it, then let go.",
                lambda context: Travel(RAISE, context.settings),
            ),
            _unlink(),
        ),
        MOVES + " A trip protects the machine; it does not protect people.",
        "fault 26 after the inrush time and the trip time; settings put back",
        needs=("top_travel", "bottom_travel"),
    ),
    Step(
        "hung",
        "Program that stands still (only with a test plug)",
        (
            ready(),
            Part(
                "hang",
                "Hold the control to lower; after a second put in the test plug that stops the "
                "program, wait for the stop, let go, take the plug out.",
                lambda _context: Hung(),
            ),
            ready("after"),
        ),
        MOVES + " Without a test plug made for this board, skip this step and say so.",
        "everything off, restart by the watchdog, fault 42 latched",
        needs=("stop_moving",),
    ),
    Step(
        "learning",
        "Learning the current envelope",
        (
            ready(),
            _fit(),
            Part(
                "arm",
                "The board is to record the current of full travels.",
                lambda context: Check(
                    "arming", lambda _answer: checks.armed(context), "Enter begins the recording"
                ),
            ),
            Part(
                "travels",
                f"Make {TRAVELS_MIN} full travels each way, from end to end without a stop, "
                "unloaded, as on any day. After a restart the first way down does not count. Wait "
                "whenever the drive asks for a pause.",
                lambda _context: FullTravels(TRAVELS_MIN),
            ),
            ready("after"),
            Part(
                "accept",
                "The recorded envelope becomes a setting.",
                lambda context: Check(
                    "accepting",
                    lambda _answer: checks.accepted(context),
                    "Enter accepts the envelope; the board restarts with it",
                ),
            ),
            ready("again"),
        ),
        MOVES,
        f"{TRAVELS_MIN} full travels each way; the envelope reads back",
        needs=("trip", "bottom_travel"),
    ),
    Step(
        "frozen",
        "Settings frozen",
        (
            Part(
                "unlink",
                "Remove the service link and keep it away from the machine.",
                lambda _context: ContactIs("service_link", False),
            ),
            Part(
                "compared",
                "The tool reads all settings once more, and tries to change one, which the board "
                "must refuse.",
                lambda context: checked("comparing", partial(checks.frozen, context)),
            ),
        ),
        limits="every setting as the site's, envelope learned, changes refused",
        needs=("settings", "learning"),
    ),
    Step(
        "handover",
        "Instruction and inspection",
        (
            Part(
                "told",
                "Whoever will operate it has been shown: control in full view, stop, barrier, "
                "props, what the lamps say, what to inspect. Hang the lamp card beside the "
                "control.",
                lambda _context: AskWords("instructed", "Names of those who were instructed"),
            ),
        ),
        limits="everybody who operates it is instructed",
    ),
)
