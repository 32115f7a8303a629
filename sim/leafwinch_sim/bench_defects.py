"""One catalogue of everything that can break, and how the bench carries each defect out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leafwinch_sim.bench_layout import HAND_PARTS, LIMIT_PARTS
from leafwinch_sim.control_defects import ControlDefect, control_defects
from leafwinch_sim.plant_defects import PlantDefect, plant_defects
from leafwinch_sim.site_schema import Site
from leafwinch_sim.switches import Lever
from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.defects import catalogue
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

if TYPE_CHECKING:
    from leafwinch_sim.bench import Bench

Defect = WiringDefect | PlantDefect | ControlDefect


def all_defects(site: Site, net: Netlist, strict: bool = False) -> tuple[Defect, ...]:
    """Return every single defect of an installation, in a fixed order.

    Without a controller the board's own defects do not exist.
    """
    wiring = tuple(d for d in catalogue(net, strict) if not _of_no_use(site, d))
    parts = {element.part for element in net.elements}
    machine = tuple(d for d in plant_defects(site) if d.category != "limit" or d.part in parts)
    control = tuple(d for d in control_defects() if net.has_controller or d.kind == "tied")
    return (*wiring, *machine, *control)


def _of_no_use(site: Site, defect: WiringDefect) -> bool:
    """Tell whether a defect only falsifies an input that this site does not use."""
    return site.limits.slack_rope is None and (defect.inputs_0 + defect.inputs_1) == ("rope_taut",)


def find_defect(site: Site, net: Netlist, name: str) -> Defect:
    """Return the defect of that id; raise BadInput with near names where there is none."""
    found = {defect.id: defect for defect in all_defects(site, net, strict=True)}
    if name in found:
        return found[name]
    import difflib

    near = difflib.get_close_matches(name, found, 4)
    hint = f"; close ones are {', '.join(near)}" if near else ""
    raise BadInput(f"There is no defect '{name}' on site {site.name} with {net.name}{hint}.")


def add_defect(bench: Bench, defect: Defect) -> None:
    """Put a defect in; one that waits for its part to act takes hold only then."""
    bench.defects = (*bench.defects, defect)
    if isinstance(defect, WiringDefect) and defect.arms_on:
        bench.waiting = (*bench.waiting, defect)
        arm_waiting(bench)
    else:
        carry_out(bench, defect)
        bench.refit_circuit()


def arm_waiting(bench: Bench) -> None:
    """Let every waiting defect whose part acts now take hold."""
    armed = [d for d in bench.waiting if action_present(bench, d.arms_on)]
    if armed:
        bench.waiting = tuple(d for d in bench.waiting if d not in armed)
        for defect in armed:
            carry_out(bench, defect)
        bench.refit_circuit()


def remove_defect(bench: Bench, defect: Defect) -> None:
    """Take a defect out and put right what it did to protective devices."""
    bench.defects = tuple(d for d in bench.defects if d != defect)
    if defect in bench.waiting:
        bench.waiting = tuple(d for d in bench.waiting if d != defect)
    else:
        take_away(bench, defect)
    for other in bench.defects:
        if other not in bench.waiting:
            carry_out(bench, other)
    bench.tripped = 0
    bench.refit_circuit()
    bench.hands_moved()


def carry_out(bench: Bench, defect: Defect) -> None:
    """Do what a defect does beside its electrical effect on the network."""
    if isinstance(defect, WiringDefect):
        _mechanics(bench, defect, True)
    elif isinstance(defect, ControlDefect):
        _control(bench, defect, True)
    elif defect.category == "limit":
        _limit(bench, defect, True)
    else:
        bench.plant.apply(defect)


def take_away(bench: Bench, defect: Defect) -> None:
    """Undo what carry_out did."""
    if isinstance(defect, WiringDefect):
        _mechanics(bench, defect, False)
    elif isinstance(defect, ControlDefect):
        _control(bench, defect, False)
    elif defect.category == "limit":
        _limit(bench, defect, False)
    else:
        bench.plant.remove(defect)


def _mechanics(bench: Bench, defect: WiringDefect, present: bool) -> None:
    kind = defect.mechanics
    if kind == "pump_static_high":
        bench.pump_static_high = present
        bench.drive_again()
    elif kind == "pump_static_low":
        bench.pump_static_low = present
        bench.drive_again()
    elif kind == "current_signal_lost":
        bench.sensor.lost = present
    elif kind in ("actuator_lost", "actuator_stuck"):
        for device in defect.devices:
            _actuator(bench, device, defect, present)
    for armature in bench.armatures:
        if armature.coil.name not in defect.devices:
            continue
        if not present:
            armature.mend()
        elif kind == "welded":
            armature.welded = True
        elif kind == "stuck_pulled":
            armature.stuck = True
        elif kind == "not_pulling":
            armature.dead = True
        elif kind == "slow_release":
            armature.slow_down(defect.factor)
        elif kind == "interlock_lost":
            armature.interlock_lost = True


def _actuator(bench: Bench, device: str, defect: WiringDefect, present: bool) -> None:
    """Let the contacts of a switch never or always be actuated."""
    stuck = defect.mechanics == "actuator_stuck"
    if device == "SF1":
        for switch, _, _ in bench.control:
            switch.lost = present and not stuck
        if stuck:
            # A jammed lever is where it is for the eye as well.
            way = 1 if defect.arms_on.endswith("raise") else -1
            bench.lever.tied = way * Lever.FULL if present else 0
        return
    name = LIMIT_PARTS.get(device) or HAND_PARTS.get(device, "")
    found = bench.limits.get(name) or bench.hand_switches.get(name)
    if found is not None:
        found.lost = present and not stuck
        found.jammed = present and stuck


def action_present(bench: Bench, action: str) -> bool:
    """Tell whether what a defect waits for, such as `QA0:coil`, is happening now."""
    device, acts = action.split(":")
    for armature in bench.armatures:
        if armature.coil.name == device:
            return armature.mains
    if device == "SF1":
        way = 1 if acts == "raise" else -1
        return bench.lever.position * way > Lever.NO_CLOSES
    name = LIMIT_PARTS.get(device) or HAND_PARTS.get(device, "isolated")
    found = bench.limits.get(name) or bench.hand_switches.get(name)
    return found is not None and found.actuated


def _limit(bench: Bench, defect: PlantDefect, present: bool) -> None:
    name = LIMIT_PARTS[defect.part]
    switch = bench.limits[name]
    if defect.kind == "limit_cam_lost":
        switch.lost = present
    elif defect.kind == "limit_lever_stuck":
        switch.jammed = present and switch.actuated
        switch.lost = present and not switch.actuated
    elif defect.kind == "limit_cam_shifted":
        bench.limit_shift[name] = defect.amount if present else 0.0


def _control(bench: Bench, defect: ControlDefect, present: bool) -> None:
    board = bench.board
    sensor = bench.sensor
    kind = defect.kind
    if kind == "tied":
        bench.lever.tied = int(defect.amount) * Lever.FULL if present else 0
    elif kind == "stale":
        sensor.stale = present
    elif kind == "gain":
        sensor.gain = defect.amount if present else 1.0
    elif kind == "offset":
        sensor.offset_ma = defect.amount if present else 0.0
    elif board is None:
        return
    elif kind == "hung":
        board.hung = present
        board.watchdog = not present or defect.amount == 0.0
    elif kind == "clock":
        board.set_clock(int(defect.amount) if present else 100, bench.t_ms)
    elif kind == "loop":
        board.every = int(defect.amount) if present else 1
    elif kind == "record":
        board.flash_dead = present
