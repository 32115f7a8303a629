"""The bench's whole state as one tuple, for branching at any step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from leafwinch_sim.bench_defects import Defect, carry_out, take_away
from leafwinch_wiring.defect_types import WiringDefect

if TYPE_CHECKING:
    from leafwinch_sim.bench import Bench

BenchState = tuple[Any, ...]

DEFECTS_END = 2  # the first two entries are the defects; the rest is the same without them
PLANT = 16


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
        bench.contact_mask,
        tuple([s.packed() for s in bench.switches]),
        tuple([a.packed() for a in bench.armatures]),
        bench.plant.snapshot(),
        bench.board.snapshot() if bench.board is not None else (),
        bench.sensor.ring,
        bench.operator.snapshot(),
    )


def restore_to(bench: Bench, state: BenchState) -> None:
    """Put a state back, all but the network's answer, which the bench looks up anew."""
    if bench.defects != state[0] or bench.waiting != state[1]:
        _exchange(bench, state[0], state[1])
    (
        _,
        _,
        bench.t_ms,
        bench.mask,
        bench.tripped,
        bench.trip_ms,
        bench.unfed_ms,
        bench.brake_on,
        bench.lever.position,
        bench.lever.target,
        bench.lever.tied,
        hands,
        shifts,
        bench.contact_mask,
        switches,
        armatures,
        plant,
        board,
        bench.sensor.ring,
        operator,
    ) = state
    bench.hands = dict(hands)
    bench.take_hands()
    bench.limit_shift = dict(shifts)
    for index, switch in enumerate(bench.switches):
        switch.unpack(switches[index])
    for index, armature in enumerate(bench.armatures):
        armature.unpack(armatures[index])
    bench.plant.restore(plant)
    bench.observation.free_end_m = bench.plant.free_end_m
    if bench.board is not None:
        bench.board.restore(board)
    bench.operator.restore(operator)


def _exchange(bench: Bench, defects: tuple[Defect, ...], waiting: tuple[Defect, ...]) -> None:
    """Take the present defects out and put those of the state in."""
    held = [d for d in bench.defects if d not in bench.waiting]
    wanted = [d for d in defects if d not in waiting]
    for defect in held:
        if defect not in wanted:
            take_away(bench, defect)
    bench.defects = defects
    bench.waiting = tuple([d for d in waiting if isinstance(d, WiringDefect)])
    for defect in wanted:
        if defect not in held:
            carry_out(bench, defect)
    bench.refit_circuit()
