"""Runs the scenario tables inside MicroPython: the same suite, and its allocations.

Called as: micropython inside.py <project folder> [<firmware folder>]
Prints one line a scenario: its name, its hash, 'ok' or what went wrong, 'ok' or 'allocates'.
"""

import sys
from array import array

sys.path.insert(0, sys.argv[1])
sys.path.insert(0, sys.argv[2] if len(sys.argv) > 2 else sys.argv[1] + "/firmware")

import micropython

from leafwinch.controller import Controller
from leafwinch.settings_schema import settings_from
from tests.firmware.drive import Drive, make_controller
from tests.firmware.scenarios_edges import EDGE_SCENARIOS
from tests.firmware.scenarios_faults import FAULT_SCENARIOS, READY
from tests.firmware.scenarios_states import STATE_SCENARIOS
from tests.firmware.scenarios_traps import TRAP_SCENARIOS

ALL = FAULT_SCENARIOS + STATE_SCENARIOS + TRAP_SCENARIOS + EDGE_SCENARIOS
STEP = 0
STORED = 1


class Recorder(Drive):
    """Notes everything that the core is given, from one power-up to the next."""

    def power_up(self, boot: int) -> None:
        super().power_up(boot)
        self.rows = array("i", [])
        if not hasattr(self, "parts"):
            self.parts: list[tuple[tuple[int, ...] | None, int, array[int]]] = []
        self.parts.append((self.kept, boot, self.rows))
        core = self.core
        step = core.step
        stored = core.stored
        rows = self.rows

        def noted_step(now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
            for value in (STEP, now_ms, contacts, current_ma, supply_mv):
                rows.append(value)
            return step(now_ms, contacts, current_ma, supply_mv)

        def noted_stored(now_ms: int) -> None:
            for value in (STORED, now_ms, 0, 0, 0):
                rows.append(value)
            stored(now_ms)

        core.step = noted_step  # type: ignore[method-assign]
        core.stored = noted_stored  # type: ignore[method-assign]


def replay(core: "Controller", rows: "array[int]", used: bytearray) -> None:
    """Give the core all rows with the heap locked; any allocation raises MemoryError.

    used: marks, which states (from 0) and endings (from 8) occurred.
    """
    micropython.heap_lock()
    try:
        for index in range(0, len(rows), 5):
            if rows[index] == STORED:
                core.stored(rows[index + 1])
            else:
                core.step(rows[index + 1], rows[index + 2], rows[index + 3], rows[index + 4])
            used[core.state] = 1
            used[8 + core.ended] = 1
    finally:
        micropython.heap_unlock()


class Allocating(Controller):
    """A core that makes one list in a pass: the proof that the heap lock finds it."""

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        return len([now_ms, contacts])


def refused(core: "Controller", rows: "array[int]") -> str:
    """Return 'caught' where the heap lock stops the core."""
    try:
        replay(core, rows, bytearray(32))
    except MemoryError:
        return "caught"
    return "not caught"


def play_all() -> None:
    """Play every scenario, then replay what its core was given with the heap locked."""
    used = bytearray(32)
    for name, values, script in ALL:
        drive = Recorder(values)
        played = "ok"
        try:
            drive.play(script)
        except ValueError as error:
            played = str(error)
        result = "ok"
        for kept, boot, rows in drive.parts:
            core = make_controller(values, kept, boot)
            try:
                replay(core, rows, used)
            except MemoryError:
                result = "allocates"
        print(name, drive.hash, played, result, sep="\t")
    drive = Recorder({})
    drive.play(READY)
    caught = refused(Allocating(settings_from({})), drive.rows)
    print("an allocating pass", 0, "ok", caught, sep="\t")
    for index in range(len(used)):
        if used[index]:
            print("used", index, "ok", "ok", sep="\t")


play_all()
