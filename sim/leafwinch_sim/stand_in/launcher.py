"""Starts the played board inside MicroPython: `launcher.py IMAGE FROM TO JSON`.

IMAGE is the file of its flash, FROM and TO are the numbers of open pipes from and to the bench.
JSON tells: frequency, range_ma, full_mv, seed, dropped_at (which counter), gpio, cause, raw.
"""

# There is no pathlib in MicroPython.
# ruff: noqa: PTH123

import builtins
import gc
import json
import os
import sys

sys.path.insert(0, sys.argv[0].rsplit("/", 3)[0])

import vfs  # type: ignore[import-not-found, unused-ignore]

from leafwinch_sim.stand_in import machine_module, time_module
from leafwinch_sim.stand_in.flash import PAGE, Flash
from leafwinch_sim.stand_in.prompt import Prompt
from leafwinch_sim.stand_in.world import Gone, World

TYPE_CHECKING = False  # type checkers read this name as true; nothing runs with it
if TYPE_CHECKING:
    from typing import Any


def watch_program(world: World) -> None:
    """Let the world see the program's core as soon as its loop is made.

    Nothing of the program is changed but that the bench may look at its states, as the
    measuring leads of an engineer would.
    """
    start: Any = sys.modules.get("leafwinch.edge.start")
    if start is None or world.core is not None:
        return
    make = start.Loop

    def watched(*arguments: "Any") -> "Any":
        loop = make(*arguments)
        world.counters = loop.trace.counters
        world.loop = loop
        world.core = loop.controller
        return loop

    start.Loop = watched


def mount(flash: Flash) -> None:
    """Put the flash in the place of the host's files, which the program must not see."""
    system = vfs.VfsLfs2(flash, progsize=PAGE, mtime=False)
    vfs.umount("/")
    vfs.mount(system, "/")
    os.chdir("/")
    sys.path[:] = ["", ".frozen", "/lib"]  # as of a board


def run_program(names: "dict[str, Any]") -> None:
    """Run boot.py and main.py where they are, as a board does; errors are printed."""
    for name in ("boot.py", "main.py"):
        try:
            with open(name) as file:
                text = file.read()
        except OSError:
            continue
        try:
            exec(compile(text, name, "exec"), names)
        except Exception as error:
            sys.print_exception(error)  # type: ignore[attr-defined]
        except SystemExit:
            pass


def main() -> None:
    """Be a board until the bench ends it."""
    image, source, sink, told = sys.argv[1:5]
    plan = json.loads(told)
    world = World(plan["frequency"], plan["range_ma"], plan["full_mv"], plan["seed"], plan["gpio"])
    world.dropped_at = plan["dropped_at"]
    machine_module.begin(world, plan["cause"])
    machine_module.on_timer(watch_program)
    modules: Any = sys.modules
    modules["machine"] = machine_module
    modules["time"] = time_module
    world.open(
        open("/dev/fd/" + source, "rb"),  # noqa: SIM115 (open as long as the board lives)
        open("/dev/fd/" + sink, "wb"),  # noqa: SIM115 (open as long as the board lives)
    )
    mount(Flash(image, world))
    gc.collect()
    names: dict[str, Any] = {"__name__": "__main__", "__builtins__": builtins}
    if not plan["raw"]:
        run_program(names)
    Prompt(world, names).run(plan["raw"])


if __name__ == "__main__":
    try:  # noqa: SIM105 (no contextlib here)
        main()
    except Gone:
        pass
