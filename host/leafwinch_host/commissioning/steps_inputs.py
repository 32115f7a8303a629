"""Steps with the motor taken off: program, settings, every input, lamps, contactors."""

from collections.abc import Callable
from functools import partial

from leafwinch.fault_texts import FAULTS
from leafwinch.faults import CURRENT_MISSING, STOP_ACTUATED
from leafwinch_host.commissioning import checks
from leafwinch_host.commissioning.asking import AskWords, Check
from leafwinch_host.commissioning.results import Outcome
from leafwinch_host.commissioning.steps_before import ELECTRICIAN
from leafwinch_host.commissioning.table import Context, Part, Step
from leafwinch_host.commissioning.watching import Latched, Ready
from leafwinch_host.commissioning.watching_contacts import ContactIs, ContactsSeen, RestPicture
from leafwinch_host.commissioning.watching_moves import RAISE, Contactors
from leafwinch_host.commissioning.watching_supply import SUPPLY_BAND_MV, SupplySeen

CODE = FAULTS[STOP_ACTUATED - 1][2:]
CODES = tuple(f"{long} {short}" for long in range(10) for short in range(10))
REST = {
    "raise_off": True,
    "lower_off": True,
    "raise_path": False,
    "lower_path": False,
    "top_end": True,
    "bottom_end": False,
    "top_final": True,
    "bottom_final": True,
    "stop_ok": True,
    "chain_ok": True,
    "line_released": True,
    "raise_released": True,
    "lower_released": True,
    "recovery_off": True,
    "reset": False,
    "service_link": False,
}


def ready(id_: str = "ready") -> Part:
    """Return the part that waits until the drive is ready; a fault is reset first."""
    return Part(
        id_,
        "Control in the middle. Where the red lamp blinks, press reset for 2 s to 10 s.",
        lambda _context: Ready(),
        quiet=True,
    )


def latched() -> Part:
    """Return the part that waits for a latched fault, which keeps everything off."""
    return Part(
        "latched",
        "A latched fault keeps everything off here. Where the red lamp does not blink, press the "
        "emergency stop for two seconds and release it.",
        lambda _context: Latched(),
    )


def checked(words: str, run: Callable[[], Outcome]) -> Check:
    """Return a check that asks for nothing."""
    return Check(words, lambda _answer: run())


def no_slack(context: Context) -> str:
    """Tell why slack-rope steps do not concern an installation."""
    return "" if context.has_slack else "no slack-rope switch is fitted"


def _rest(context: Context) -> RestPicture:
    return RestPicture(REST, context.settings.rest_ma, SUPPLY_BAND_MV)


def _by_hand(
    id_: str,
    title: str,
    do: str,
    parts: tuple[Part, ...] = (),
    needs: tuple[str, ...] = ("rest",),
    **kwargs: bool,
) -> Step:
    """Return the step of one switch; kwargs: contacts with their state while it is worked."""
    last = Part("by_hand", do, lambda _context: ContactsSeen(kwargs))
    return Step(
        id_,
        title,
        (*parts, last),
        "",
        "every contact changes and comes back, no other one",
        needs=needs,
    )


INPUTS = (
    Step(
        "program",
        "Program on the board",
        (
            Part(
                "files",
                "The tool reads every file's SHA-256 off the board and compares it with fresh "
                "builds.",
                lambda context: checked("reading files", partial(checks.program, context)),
            ),
        ),
        limits="equal to a fresh build, file by file",
    ),
    Step(
        "settings",
        "Settings on the board",
        (
            Part(
                "identity",
                "The tool compares the hashes of site and netlist.",
                lambda context: checked("reading hashes", partial(checks.identity, context)),
            ),
            Part(
                "values",
                "The tool compares every setting.",
                lambda context: checked("reading settings", partial(checks.settings, context)),
            ),
            Part(
                "trip",
                "The tool compares the trip with the current of a motor that stands still.",
                lambda context: checked("working out", partial(checks.trip_level, context)),
            ),
        ),
        limits="every setting as the site's; the trip below the current at standstill",
    ),
    Step(
        "motor_off",
        "Motor and brake taken off, then power for the first time",
        (
            Part(
                "off_on",
                "Deck flat on its bottom end. Isolator off, locked, proven dead: take the cores of "
                "motor and brake off their terminals and insulate them. Covers closed, nobody "
                "touches the control. Then unlock the isolator and switch it on.",
                lambda _context: SupplySeen(SUPPLY_BAND_MV, at_most_s=7200),
            ),
        ),
        "Mains kills: isolate, lock off, prove dead. With the motor on, a wiring mistake moves "
        "the deck. " + ELECTRICIAN,
        "control supply dead when off, 20.4 V to 28.8 V when on; the contactor step proves that "
        "no motor is on",
        needs=("people", "dead", "settings"),
        whole=("continuity", "earth", "interlock"),
    ),
    Step(
        "rest",
        "Everything at rest",
        (
            ready(),
            Part(
                "picture",
                "Touch nothing. Deck flat on its bottom end, service link removed.",
                _rest,
            ),
        ),
        limits="every contact as at rest; no current; supply 20.4 V to 28.8 V",
        needs=("motor_off",),
    ),
    _by_hand(
        "stop",
        "Emergency stop",
        "Press the emergency stop, wait two seconds, release it. The fault stays latched: nothing "
        "can start during the following steps.",
        stop_ok=False,
        chain_ok=False,
    ),
    Step(
        "lamps",
        "Lamps and buzzer",
        (
            Part(
                "latched",
                "The fault of the emergency stop must be latched.",
                lambda _context: Latched(STOP_ACTUATED),
            ),
            Part(
                "code",
                "The red lamp counts the fault that the emergency stop left: long flashes, then "
                "short ones.",
                lambda _context: AskWords(
                    "red lamp, long and short flashes",
                    "Count them between two long pauses and type both numbers, such as '5 3'; "
                    "'0 0' where it stays dark",
                    CODES,
                    (f"{CODE[0]} {CODE[1]}",),
                    "the red lamp does not show the latched fault: lamp, its wires, its output",
                ),
            ),
            Part(
                "white",
                "Look at the white lamp.",
                lambda _context: AskWords(
                    "white lamp",
                    "Type dark, dim or bright",
                    ("dark", "dim", "bright"),
                    ("dim",),
                    "the white lamp does not glow dimly: lamp, its wires, its output",
                ),
            ),
            Part(
                "buzzer",
                "The buzzer sounded for a second when the emergency stop was pressed.",
                lambda _context: AskWords(
                    "buzzer when the stop was pressed",
                    "Type heard or silent; press and release the stop once more where unsure",
                    ("heard", "silent"),
                    ("heard",),
                    "the buzzer is silent: buzzer, its wires, its output",
                ),
            ),
        ),
        limits="red lamp, white lamp and buzzer say that the emergency stop was pressed",
        needs=("stop",),
    ),
    _by_hand(
        "control_raise",
        "Control, raise contacts",
        "Hold the control to raise for two seconds, let it go.",
        (latched(),),
        ("rest", "stop"),
        raise_off=False,
        raise_path=True,
    ),
    _by_hand(
        "control_lower",
        "Control, lower contact",
        "Hold the control to lower for two seconds, let it go. The lower path stays dead, since "
        "the bottom end is reached.",
        (latched(),),
        ("rest", "stop"),
        lower_off=False,
    ),
    Step(
        "top_end",
        "Top working limit, both contacts",
        (
            latched(),
            Part(
                "by_hand",
                "Hold the control to raise. Then move the lever of the top working limit by hand "
                "for two seconds, let the lever go, and only then the control.",
                lambda _context: ContactsSeen(
                    {"top_end": False, "raise_path": False},
                    held={"raise_off": False},
                ),
            ),
        ),
        limits="second contact and path open together, no other one",
        needs=("rest", "stop"),
    ),
    _by_hand(
        "top_final",
        "Top final limit, both contacts",
        "Move the lever of the top final limit by hand for two seconds, let it go.",
        top_final=False,
        chain_ok=False,
    ),
    _by_hand(
        "bottom_final",
        "Bottom final limit, both contacts",
        "Move the lever of the bottom final limit by hand for two seconds, let it go.",
        bottom_final=False,
        chain_ok=False,
    ),
    Step(
        "recovery_key",
        "Recovery key, both contacts",
        (
            Part(
                "by_hand",
                "Hold the lever of the top final limit. Turn the recovery key for two seconds, "
                "let the key go, and only then the lever.",
                lambda _context: ContactsSeen(
                    {"recovery_off": False, "chain_ok": True},
                    held={"top_final": False},
                ),
            ),
        ),
        limits="second contact opens and the chain is bridged, no other one",
        needs=("rest", "stop"),
    ),
    Step(
        "slack_rope",
        "Slack-rope switch",
        (
            Part(
                "by_hand",
                "Move the slack-rope switch by hand for two seconds, let it go.",
                lambda _context: ContactsSeen({"rope_taut": False}),
            ),
        ),
        limits="its contact opens, no other one",
        needs=("rest",),
        wanted=no_slack,
    ),
    _by_hand(
        "service_link",
        "Service link",
        "Fit the service link for two seconds, remove it.",
        service_link=True,
    ),
    Step(
        "reset",
        "Reset button",
        (
            latched(),
            Part(
                "by_hand",
                "Control in the middle. Press reset for three seconds, let it go.",
                lambda _context: ContactsSeen({"reset": True}),
            ),
            Part("taken_back", "The fault must be gone now.", lambda _context: Ready()),
        ),
        limits="its contact closes, the fault is taken back",
        needs=("rest", "stop"),
    ),
    Step(
        "contactors",
        "Contactors, with the motor off",
        (
            ready(),
            Part(
                "raise",
                "Hold the control to raise until the red lamp blinks, let it go. Line and raise "
                "contactor pull; without a motor the missing current ends it.",
                lambda context: Contactors(RAISE, context.settings, CURRENT_MISSING, current=False),
            ),
            Part(
                "link",
                "Fit the service link: a reset with it gives back the starting time that a run "
                "without a motor uses up.",
                lambda _context: ContactIs("service_link", True),
            ),
            ready("after"),
            Part(
                "unlink",
                "Remove the service link.",
                lambda _context: ContactIs("service_link", False),
            ),
        ),
        "With the motor still on, the deck moves here.",
        "mirrors follow within the times of the settings, no current, fault 28",
        needs=("rest", "control_raise", "stop", "reset"),
        wanted=lambda context: (
            "" if context.settings.missing_raise_ma else "missing current is not judged here"
        ),
    ),
    Step(
        "motor_on",
        "Motor and brake connected",
        (
            Part(
                "off_on",
                "Switch the isolator off, lock it, prove dead; connect motor and brake as the "
                "drawing says. Unlock it and switch on. From now on the deck can move.",
                lambda _context: SupplySeen(SUPPLY_BAND_MV, at_most_s=7200),
            ),
            ready(),
        ),
        "From here on the deck can move. The second person stays at the isolator. " + ELECTRICIAN,
        "control supply dead when off, ready when on",
        needs=(
            "contactors",
            "people",
            "stop",
            "control_raise",
            "control_lower",
            "top_end",
            "top_final",
            "bottom_final",
            "reset",
        ),
    ),
)
