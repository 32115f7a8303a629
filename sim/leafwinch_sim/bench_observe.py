"""Takes the facts of one step off the bench, for the requirements and for traces."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from leafwinch_sim.bench import Bench


def observe(bench: Bench, current_ma: int) -> None:
    """Fill the bench's observation with the facts of the step that has just ended."""
    o = bench.observation
    plant = bench.plant
    o.t_ms = bench.t_ms
    o.asked = bench.lever.way()
    board = bench.board
    if board is not None:
        o.board_on = board.powered
        o.hung = board.hung
        o.outputs = board.outputs
        # Without power the last ones stay, until the board boots again.
        core = board.core
        if core is not None:
            o.state = core.state
            o.fault = core.fault
            o.held_reasons = core.held_reasons
            o.warning = core.warning
            o.warnings = core.warnings
        else:
            o.take_control(board.controller)
    o.contacts = bench.sol.inputs
    o.supply_mv = bench.sol.supply_mv
    o.current_ma = current_ma
    way = bench.way
    o.powered_way = way
    if way:
        o.powered_any = way
    if bench.line is not None and bench.raising is not None and bench.lowering is not None:
        o.line_pulled = bench.line.mains
        o.raise_pulled = bench.raising.mains
        o.lower_pulled = bench.lowering.mains
    o.brake_set = plant.brake_set
    o.brake_fed = bench.brake_on
    resting = not way and not plant.moving and plant.current_a == 0.0
    if not resting or not bench.rest_seen:
        _observe_machine(bench)
    bench.rest_seen = resting
    top, bottom = bench.top_end, bench.bottom_end
    o.top_actuated = top is not None and top.actuated
    o.bottom_actuated = bottom is not None and bottom.actuated


def _observe_machine(bench: Bench) -> None:
    """Take over what only changes while the machine moves."""
    o = bench.observation
    plant = bench.plant
    o.current_a = plant.current_a
    o.motor_rad_s = plant.motor_rad_s
    o.angle_deg = plant.angle_rad * 57.29577951308232
    o.rope_out_m = plant.rope_out_m
    o.drum_turns = plant.drum_turns
    o.slack_mm = plant.slack_m * 1000.0
    o.tension_n = plant.tension_n
    o.buffer_force_n = plant.buffer_force_n
    o.free_end_m = plant.free_end_m
