"""What one pass of the control core costs under MicroPython: time and memory.

The passes of a real run on the bench are recorded and played inside a MicroPython process,
so that the figures are those of ordinary work and not of an empty loop.
"""

import json
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import leafwinch
from leafwinch_sim.lockstep import micropython_command
from leafwinch_sim.site import Site

HEAP = "16m"  # the settings and the recorded passes have to fit in
ROUNDS = 3

# Runs inside MicroPython: plays the recorded passes and prints the best of some rounds.
BOARD_PROGRAM = """
import gc, json, sys, time
sys.path.insert(0, sys.argv[1])
from array import array
from leafwinch.controller import Controller
from leafwinch.settings_schema import settings_from

with open(sys.argv[2]) as file:
    given = json.load(file)
passes = array("i", given["passes"])
settings = settings_from(given["settings"])
del given


def play(controller, passes, calls):
    i = 0
    while i < calls:
        controller.step(passes[i], passes[i + 1], passes[i + 2], passes[i + 3])
        i += 4


def empty(a, b, c, d):
    return 0


class Empty:
    def step(self, now_ms, contacts, current_ma, supply_mv):
        return 0



def round_of(controller):
    # Everything is a local here, since a new global would count as memory of the core.
    calls = len(passes)
    spent = after = before = 0
    gc.collect()
    gc.disable()
    before = gc.mem_alloc()
    begin = time.ticks_us()
    play(controller, passes, calls)
    spent = time.ticks_diff(time.ticks_us(), begin)
    after = gc.mem_alloc()
    gc.enable()
    return spent, after - before


core = [round_of(Controller(settings, None, 0)) for _ in range(int(sys.argv[3]))]
idle = [round_of(Empty()) for _ in range(int(sys.argv[3]))]
print(json.dumps({
    "us": min(row[0] for row in core) - min(row[0] for row in idle),
    "bytes": max(row[1] for row in core) - min(row[1] for row in idle),
    "calls": len(passes) // 4,
    "version": sys.version,
}))
"""


@dataclass(frozen=True, slots=True)
class TickCost:
    """Cost of one pass: mean time in microseconds without the playing loop, bytes, how many."""

    microseconds: float
    bytes: float
    passes: int
    version: str


def measure(site: Site, passes: Sequence[tuple[int, int, int, int]]) -> TickCost:
    """Play recorded passes in a MicroPython process.

    Args:
        site: whose settings the core gets.
        passes: (now_ms, contacts, current_ma, supply_mv) of each pass, in order.

    Raises:
        BadInput: there is no MicroPython for this platform.
        subprocess.CalledProcessError: the process failed; its words are on standard error.
    """
    firmware = Path(leafwinch.__file__).resolve().parents[1]
    with TemporaryDirectory() as folder:
        data, program = Path(folder, "passes.json"), Path(folder, "program.py")
        flat = [number for row in passes for number in row]
        data.write_text(json.dumps({"passes": flat, "settings": site.settings}), encoding="utf-8")
        program.write_text(BOARD_PROGRAM, encoding="utf-8")
        command = [*micropython_command(HEAP), str(program), str(firmware), str(data), str(ROUNDS)]
        done = subprocess.run(command, check=True, capture_output=True, text=True, timeout=300)
    found = json.loads(done.stdout)
    calls = int(found["calls"])
    return TickCost(
        microseconds=found["us"] / calls,
        bytes=found["bytes"] / calls,
        passes=calls,
        version=found["version"],
    )
