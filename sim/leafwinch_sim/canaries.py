"""Canaries: for each of R1 to R10 a sabotage that must break it, or the monitors are blind.

Where wiring or machine can break a requirement by themselves, the sabotage is a defect.
Where the sound firmware would step in, it is a controller that lacks one rule. The same
run without the sabotage must hold, which shows that nothing else broke it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from leafwinch.contactors import LINE
from leafwinch.controller import Controller
from leafwinch.faults import NO_FAULT
from leafwinch.settings_schema import settings_from
from leafwinch.states import FAULT, HELD, IDLE, REFUSED_UNPROVEN
from leafwinch_sim.board import ControllerLike, MakeController
from leafwinch_sim.run import RunResult, run_script
from leafwinch_sim.scripts import Script, load_script, parse_script
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.netlist import load_netlist

ONE_S = 1000  # when defects come, in ms


class _AlwaysReady(Controller):
    """Lacks every reason to stay held: no pause, no neutral."""

    def _act(self, dt_ms: int, c: int) -> None:
        if self.state == HELD:
            self.state = IDLE
        super()._act(dt_ms, c)


class _ForgetsFault(Controller):
    """Clears a latched fault by itself after half a second."""

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        """Run one pass."""
        if self.state == FAULT and self.contactors.off_ms > 500:
            self.fault = NO_FAULT
            self.state = HELD
        return int(super().step(now_ms, contacts, current_ma, supply_mv))


class _NoBudget(Controller):
    """Never counts travel time."""

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        """Run one pass."""
        budget = self.budget
        budget.up_ms = budget.down_ms = budget.up_leave_ms = budget.down_leave_ms = 0
        return int(super().step(now_ms, contacts, current_ma, supply_mv))


class _SeesNoCurrent(Controller):
    """Takes every current for the healthy running one."""

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        """Run one pass."""
        healthy_ma = self.settings.missing_raise_ma + 200 if self.contactors.phase >= LINE else 0
        return int(super().step(now_ms, contacts, healthy_ma, supply_mv))


class _NeverStarts(Controller):
    """Refuses every demand."""

    def _why_refused(self, way: int, c: int) -> int:
        return int(REFUSED_UNPROVEN)


@dataclass(frozen=True, slots=True)
class Canary:
    """One sabotage. `run()` must break `requirement`; `run(sabotaged=False)` must not.

    Attributes:
        requirement: which one it must break.
        summary: what is sabotaged, in words.
        script: what the operator does.
        wiring: netlist; empty for the site's own.
        defects: ids of the defects that are the sabotage.
        present: ids of defects that are there in both runs.
        at_ms: when all of them come.
        controller: the sabotaged controller, or None for the sound one.
    """

    requirement: str
    summary: str
    script: Script
    wiring: str = ""
    defects: tuple[str, ...] = ()
    present: tuple[str, ...] = ()
    at_ms: int = ONE_S
    controller: Callable[..., Any] | None = None

    def run(self, site: Site, sabotaged: bool = True) -> RunResult:
        """Play it on a site that has an alternating-current hoist."""
        names = (*self.present, *(self.defects if sabotaged else ()))
        make = maker_of_canary(site, self.controller) if sabotaged and self.controller else None
        return run_script(
            site,
            self.script,
            load_netlist(self.wiring or site.wiring),
            [(name, self.at_ms) for name in names],
            trace=False,
            make=make,
        )


def maker_of_canary(site: Site, controller: Callable[..., Any]) -> MakeController:
    """Return a maker of a sabotaged controller with a site's settings."""
    settings = settings_from(site.settings)

    def make(kept: tuple[int, ...] | None, boot: int) -> ControllerLike:
        made: ControllerLike = controller(settings, kept, boot)
        return made

    return make


def _script(name: str, *steps: str) -> Script:
    """Return a script of steps such as "raise for 2 s" or "release until idle"."""
    rows = []
    for step in steps:
        for key in (" for ", " until "):
            if key in step:
                do, value = step.split(key)
                rows.append(f'[[step]]\ndo = "{do}"\n{key.strip()} = "{value}"')
    return parse_script("\n".join(rows).encode(), f"canary {name}")


READY = "wait until idle"


def canaries() -> tuple[Canary, ...]:
    """Return one canary for each of R1 to R10, in order."""
    inch = _script("inch", READY, "raise for 3 s", "release for 3 s")
    on = _script("on", READY, "raise for 45 s", "release for 1 s")
    swing = _script("swing", READY, "raise for 3 s", "lower for 2 s", "release for 1 s")
    power = _script(
        "power",
        READY,
        "isolate for 1 s",
        "raise for 1 s",
        "restore for 3 s",
        "release for 1 s",
    )
    stop = _script(
        "stop", READY, "raise for 2 s", "press stop for 1 s", "let stop for 2 s", "release for 1 s"
    )
    welded = ("SF1.raise_1:welded",)
    pump = ("KF1.drive_line:pump-high", "KF1.drive_line:pump-low")
    return (
        Canary("R1", "a control contact in the motor's lead is welded", inch, "bare", welded),
        Canary(
            "R2", "the end contact in the motor's lead is welded", on, "bare", ("BG1.path:welded",)
        ),
        Canary("R3", "no pause before the other way", swing, controller=_AlwaysReady),
        Canary("R4", "ready after power-up without neutral", power, controller=_AlwaysReady),
        Canary("R5", "a fault forgotten by itself", stop, controller=_ForgetsFault),
        Canary("R6", "a control contact in the motor's lead is welded", inch, "bare", welded),
        Canary(
            "R7",
            "no travel budget while the gear is stripped",
            on,
            present=("gear_stripped",),
            controller=_NoBudget,
        ),
        Canary(
            "R8",
            "a blind current signal while the deck is blocked",
            on,
            present=("obstacle_above",),
            controller=_SeesNoCurrent,
            at_ms=3000,
        ),
        Canary(
            "R9",
            "a pump that passes any level, under a program that stands still",
            inch,
            defects=pump,
            present=("board_hung_unwatched",),
            at_ms=2500,
        ),
        Canary(
            "R10", "every demand is refused", load_script("full-cycle"), controller=_NeverStarts
        ),
    )
