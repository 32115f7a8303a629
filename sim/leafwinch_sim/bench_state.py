"""The bench's whole state as one tuple, for branching at any step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from leafwinch_sim.bench_defects import carry_out, take_away

if TYPE_CHECKING:
    from leafwinch_sim.bench import Bench

BenchState = tuple[Any, ...]

DEFECTS_END = 2  # the first two entries are the defects; the rest is the same without them
MASK = 3


def snapshot_of(bench: Bench) -> BenchState:
    """Return the whole state of a bench."""
    return (
        bench.defects,
        bench.waiting,
        bench.t_ms,
        bench.mask,
        bench.tripped,
        bench.trip_ms,
        bench.unfed_ms,
        bench.brake_on,
        bench.lever.position,
        bench.lever.target,
        bench.lever.tied,
        tuple(bench.hands.items()),
        tuple(bench.limit_shift.items()),
        tuple([(s.actuated, s.t_ms, s.lost, s.jammed) for s in bench.switches]),
        tuple([(a.on, a.t_ms, a.mains, a.mirror) for a in bench.armatures]),
        bench.plant.snapshot(),
        bench.board.snapshot() if bench.board is not None else (),
        bench.sensor.ring,
        bench.operator.snapshot(),
    )


def restore_to(bench: Bench, state: BenchState) -> None:
    """Put a state back, all but the network's answer, which the bench works out anew."""
    held = [d for d in bench.defects if d not in bench.waiting]
    wanted = [d for d in state[0] if d not in state[1]]
    for defect in held:
        if defect not in wanted:
            take_away(bench, defect)
    bench.defects = state[0]
    bench.waiting = state[1]
    for defect in wanted:
        if defect not in held:
            carry_out(bench, defect)
    (
        _,
        _,
        bench.t_ms,
        _,
        bench.tripped,
        bench.trip_ms,
        bench.unfed_ms,
        bench.brake_on,
        bench.lever.position,
        bench.lever.target,
        bench.lever.tied,
        hands,
        shifts,
        switches,
        armatures,
        plant,
        board,
        bench.sensor.ring,
        operator,
    ) = state
    bench.hands = dict(hands)
    bench.limit_shift = dict(shifts)
    for switch, values in zip(bench.switches, switches, strict=True):
        switch.actuated, switch.t_ms, switch.lost, switch.jammed = values
    for armature, values in zip(bench.armatures, armatures, strict=True):
        armature.on, armature.t_ms, armature.mains, armature.mirror = values
    bench.plant.restore(plant)
    bench.observation.free_end_m = bench.plant.free_end_m
    if bench.board is not None:
        bench.board.restore(board)
    bench.operator.restore(operator)
