"""A board on a desk whose deck goes up and down for ever, with the real parts of the edge."""

from leafwinch import signals as sig
from leafwinch.controller import Controller
from leafwinch.edge.console import Console
from leafwinch.edge.keeper import Keeper
from leafwinch.edge.loop import Loop
from leafwinch.edge.meter import Meter
from leafwinch.edge.sampling import COUNT, RING
from leafwinch.edge.settings_store import SettingsStore
from leafwinch.edge.trace import Trace
from leafwinch.numbers import TYPE_CHECKING
from leafwinch.settings_schema import settings_from
from tests.edge.desk import FULL_MV, RANGE_MA
from tests.edge.rig import ASKED, AT_REST, RUNNING
from tests.edge.whole import Memory, Whole

if TYPE_CHECKING:
    from typing import Any

AMPS_CODE = 2048 + 512
BOTTOM = AT_REST & ~sig.BOTTOM_END
TOP = AT_REST & ~sig.TOP_END
LOWERED = AT_REST & ~sig.LOWER_OFF | sig.LOWER_PATH
LOWERED_RUNNING = LOWERED & ~sig.LOWER_RELEASED & ~sig.LINE_RELEASED
# From this pass of a cycle on: contacts closed, code of the current's samples.
CYCLE = (
    (1, BOTTOM, 2048),
    (400, ASKED & ~sig.BOTTOM_END, 2048),
    (425, ASKED & ~sig.BOTTOM_END & ~sig.RAISE_RELEASED, 2048),
    (430, RUNNING & ~sig.BOTTOM_END, AMPS_CODE),
    (460, RUNNING, AMPS_CODE),
    (1600, RUNNING & ~sig.TOP_END & ~sig.RAISE_PATH, AMPS_CODE),
    (1604, TOP & ~sig.RAISE_OFF, 2048),
    (1640, TOP, 2048),
    (2000, LOWERED & ~sig.TOP_END, 2048),
    (2025, LOWERED & ~sig.TOP_END & ~sig.LOWER_RELEASED, 2048),
    (2030, LOWERED_RUNNING & ~sig.TOP_END, AMPS_CODE),
    (2060, LOWERED_RUNNING, AMPS_CODE),
    (3200, LOWERED_RUNNING & ~sig.BOTTOM_END & ~sig.LOWER_PATH, AMPS_CODE),
    (3204, BOTTOM & ~sig.LOWER_OFF, 2048),
    (3240, BOTTOM, 2048),
    (3600, BOTTOM, 2048),
)
VALUES = {
    "travel_raise_ms": 6000,
    "travel_lower_ms": 6000,
    "early_raise_ms": 0,
    "early_lower_ms": 0,
    "duty_pct": 100,
    "thermal_base_ma": 18_000,
    "sensor_range_ma": RANGE_MA,
    "inrush_trip_ma": RANGE_MA - 1000,
}


class Cycling(Whole):
    """A board whose deck goes up and down for ever; only its sleep lets time pass."""

    def __init__(self, files: Memory, start_us: int = 0) -> None:
        Whole.__init__(self, files, start_us)
        self.port.keep = False
        self.closed = BOTTOM
        self.turn = 0
        self.row = 0

    def spend(self, us: int) -> None:
        self.now_us += us

    def sleep(self, us: int) -> None:
        self.now_us += us
        if self.turn == CYCLE[self.row][0]:
            self.closed = CYCLE[self.row][1]
            self.code = CYCLE[self.row][2]
            self.row += 1
            if self.row == len(CYCLE):  # the last row is the first one again
                self.row = 0
                self.turn = 0
        self.turn += 1
        slots = self.slots
        count = slots[COUNT]
        ring = self.ring
        for _ in range(5):
            ring[count % RING] = self.code << 4
            count = (count + 1) & 0xFFFF
        slots[COUNT] = count


def cycling_loop(board: "Any", core: Controller) -> Loop:
    """Return a loop with the real parts of the edge."""
    store = SettingsStore(board.files)
    keeper = Keeper(board.files, store)
    keeper.open()
    trace = Trace(core, keeper, board.port, "desk")
    console = Console(core, keeper, store, board.port, board.files, trace)
    meter = Meter(board.ring, board.slots, 0, RANGE_MA)
    return Loop(board, meter, core, keeper, trace, console, FULL_MV)


def cool_core() -> Controller:
    """Return a core whose motor has rested."""
    core = Controller(settings_from(VALUES))
    core.thermal.level = 0
    return core
