"""From power-up to the loop, and what happens when the loop ends."""

from leafwinch.controller import BOOT_SELF_TEST, BOOT_WATCHDOG, Controller
from leafwinch.edge.console import LOADING, Console
from leafwinch.edge.keeper import Keeper
from leafwinch.edge.loop import Loop
from leafwinch.edge.meter import Meter
from leafwinch.edge.settings_store import SettingsStore
from leafwinch.edge.trace import Trace
from leafwinch.numbers import TYPE_CHECKING, const

if TYPE_CHECKING:
    from leafwinch.edge.hardware import Files, Hardware

VERSION_TEXT = "0.1.0"
VERSION = const(100)  # the same as one number: 10,000 major + 100 minor + patch
FOR_EVER = const(-1)
SELF_TEST = "test "  # before what failed, in the journal

# Files that one start leaves for the next one.
RESTART_FILE = "restart"  # the restart was meant; some boards report it as the watchdog's
LOADING_FILE = "loading"  # main.py goes to the prompt, once
TRIAL_FILE = "trial"  # this program is new and has not proven itself
FALLBACK_FILE = "fallback"  # why main.py went back to the previous program


def run(board: "Hardware") -> None:
    """Run the program on a board until it is told to restart.

    Whatever is raised: outputs go low, the journal gets its name and place, the error goes on to
    main.py, and the watchdog, which nobody feeds any more, restarts the board.
    """
    keeper = Keeper(board.files, SettingsStore(board.files))
    try:
        loop = make_loop(board, keeper)
        board.take_over()
        request = loop.run(FOR_EVER)
    except BaseException as error:
        board.all_off()
        board.start_watchdog()
        board.collect()  # the error may have been that no room was left
        keeper.program_error(type(error).__name__, board.described(error))
        raise
    finally:
        board.all_off()
        board.release()
    board.files.write(RESTART_FILE, b"")
    if request == LOADING:
        board.files.write(LOADING_FILE, b"")
    board.restart()


def make_loop(board: "Hardware", keeper: Keeper) -> Loop:
    """Read what was kept, test the board, start the watchdog; return the loop, ready to run."""
    from leafwinch.edge.self_test import self_test  # dropped again when garbage is collected

    board.set_up()
    files = board.files
    store = keeper.store
    boot = store.load()
    kept = keeper.open()
    boot |= keeper.boot_flags
    meant = _taken(files, RESTART_FILE)
    if board.watchdog_caused() and meant is None:
        boot |= BOOT_WATCHDOG
    settings = store.settings
    meter = Meter(board.ring, board.slots, settings.current_signed, settings.sensor_range_ma)
    failed = self_test(board, meter)
    if failed:
        boot |= BOOT_SELF_TEST
    # Only now, since reading may take longer than its time and nothing could feed it meanwhile.
    board.start_watchdog()
    controller = Controller(settings, kept, boot)
    keeper.booted(board.cause() & 0xFF, boot, VERSION)
    if failed:
        keeper.program_error(SELF_TEST + failed, "")
    reason = _taken(files, FALLBACK_FILE)
    if reason is not None:
        keeper.fell_back(_printable(reason)[:14])
    port = board.port
    trace = Trace(controller, keeper, port, "leafwinch " + VERSION_TEXT + " " + board.name)
    console = Console(controller, keeper, store, port, files, trace)
    loop = Loop(board, meter, controller, keeper, trace, console, settings.supply_full_mv)
    if files.size(TRIAL_FILE) >= 0:
        loop.on_trial(files, TRIAL_FILE)
    return loop


def _taken(files: "Files", name: str) -> "bytes | None":
    """Return a file's content and remove it; None where there is no such file."""
    content = files.read(name)
    if content is not None:
        files.remove(name)
    return content


def _printable(text: bytes) -> str:
    """Return the printable ASCII characters of what a file held, which may be damaged."""
    found = ""
    for code in text:
        if 32 <= code < 127:
            found += chr(code)
    return found
