"""How many functions written in Python a pass calls: on a small board calls are what costs.

The aim is at most 16 in most passes (a call costs about 26 us on an emulated RP2040 at
125 MHz); counted here are the core and the edge with the real keeper, trace, console and meter.
"""

import sys
from types import FrameType
from typing import Any

import pytest

from leafwinch.edge.console import Console
from leafwinch.edge.keeper import Keeper
from leafwinch.edge.loop import Loop
from leafwinch.edge.meter import Meter
from leafwinch.edge.settings_store import SettingsStore
from leafwinch.edge.trace import Trace
from tests.edge.desk import FULL_MV, RANGE_MA, TimedCore
from tests.edge.rig import Rig
from tests.edge.whole import Memory, Whole

EDGE_TYPICAL = 6
EDGE_MOST = 9
FAST_MOST = 5
CORE_TYPICAL = 11
CORE_MOST = 13
TYPICAL = 16  # core and edge
MOST = 20
FIRMWARE = "firmware/leafwinch/"
# Functions that are machine code on a board: their calls cost about a quarter.
FAST = {"root", "find_crossings", "effective", "averaged", "fill", "crc16", "seal"}


class WholeRig(Rig):
    """A rig with the real parts of the edge."""

    def __init__(self) -> None:
        super().__init__()
        board: Any = Whole(Memory())
        board.closed = self.desk.closed
        board.port.keep = False
        self.desk = board
        core: TimedCore = self.core
        core.desk = board
        core.step_us = 0
        store = SettingsStore(board.files)
        keeper = Keeper(board.files, store)
        trace = Trace(core, keeper, board.port, "desk")
        console = Console(core, keeper, store, board.port, board.files, trace)
        meter = Meter(board.ring, board.slots, 0, RANGE_MA)
        self.loop = Loop(board, meter, core, keeper, trace, console, FULL_MV)


def calls_of_passes(rig: Rig, passes: int) -> list[tuple[int, int, int]]:
    """Return for each pass its calls of plain functions of core and edge, and of fast ones."""
    counted = [[0, 0, 0]]

    def profile(frame: FrameType, event: str, _given: object) -> None:
        if event != "call":
            return
        code = frame.f_code
        if code.co_name == "sleep":
            counted.append([0, 0, 0])
        elif FIRMWARE in code.co_filename:
            kind = 2 if code.co_name in FAST else 1 if "/edge/" in code.co_filename else 0
            counted[-1][kind] += 1

    before = sys.getprofile()
    sys.setprofile(profile)
    try:
        rig.loop.run(passes)
    finally:
        sys.setprofile(before)
    return [(core, edge, fast) for core, edge, fast in counted[1:]]


@pytest.mark.parametrize("moving", [False, True], ids=["at rest", "moving"])
def test_calls_of_a_pass(moving: bool) -> None:
    rig = WholeRig()
    if moving:
        rig.to_running()
    else:
        rig.to_idle()
    counted = calls_of_passes(rig, 200)
    assert len(counted) == 200
    edge = sorted(row[1] for row in counted)
    assert 3 <= edge[100] <= EDGE_TYPICAL
    assert edge[-1] <= EDGE_MOST
    assert max(row[2] for row in counted) <= FAST_MOST
    core = sorted(row[0] for row in counted)
    assert 5 <= core[100] <= CORE_TYPICAL
    assert core[-1] <= CORE_MOST
    together = sorted(row[0] + row[1] for row in counted)
    assert together[100] <= TYPICAL
    assert together[-1] <= MOST
