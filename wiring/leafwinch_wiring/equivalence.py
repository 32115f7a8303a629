"""Tells whether two circuits act alike, so that a run need not be repeated.

A deterministic run only sees the circuit through its answers. When a defective circuit
gives the same outcome as the sound one in every state that a run visits, that run is the
same, and need not be made again.
"""

from collections.abc import Iterable

from leafwinch_wiring.network import Circuit

WINDING_STEP = 0.01
"""Winding voltages within half of this ratio count as equal."""

Outcome = tuple[int, tuple[int, ...], tuple[int, ...], int, int, bool]


def outcome(circuit: Circuit, mask: int) -> Outcome:
    """What the rest of the machine can see of a state.

    Board inputs, each coil's class (0 below drop-out, 1 between, 2 at or above pull-in),
    winding voltages in steps of one per cent, the control supply in whole volts, the
    protective elements that open, and whether something is shorted.
    """
    solution = circuit.solve(mask)
    coils = tuple(
        2 if ratio >= coil.pull_in else 1 if ratio >= coil.drop_out else 0
        for ratio, coil in zip(solution.coil_ratio, circuit.net.coils, strict=True)
    )
    windings = tuple(round(ratio / WINDING_STEP) for ratio in solution.windings)
    volts = round(solution.supply_mv / 1000)
    return solution.inputs, coils, windings, volts, solution.trip_mask, solution.short


def same_outcome(one: Circuit, other: Circuit, masks: Iterable[int]) -> bool:
    """True when both circuits have the same outcome in every given state."""
    return all(outcome(one, mask) == outcome(other, mask) for mask in masks)
