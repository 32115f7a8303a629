"""The state of each group of requirements as one tuple, quickly. Generated: do not edit.

Renew it with `python -m leafwinch_sim.state_maker`.
"""

from typing import Any

from leafwinch_sim.requirements_motion import Motion
from leafwinch_sim.requirements_starts import Latch, Starts
from leafwinch_sim.requirements_times import Times

State = tuple[Any, ...]


def take_motion(part: Motion) -> State:
    """Return the whole state of this part."""
    return (
        part.way,
        part.unfed_ms,
        part.wrong_ms,
        part.calm_ms,
        part.stopping,
        part.stop_ms,
        part.stop_from_m,
        part.from_m,
        part.from_rope_m,
        part.measuring,
        part.rest_m,
        part.contacts,
        part.driven_past,
        part.worst_overrun_mm,
        part.worst_rope_overrun_mm,
        part.worst_reaction_ms,
        part.worst_release_ms,
        part.worst_stop_mm,
        part.worst_drop_mm,
    )


def put_motion(part: Motion, state: State) -> None:
    """Take over a state of this part."""
    (
        part.way,
        part.unfed_ms,
        part.wrong_ms,
        part.calm_ms,
        part.stopping,
        part.stop_ms,
        part.stop_from_m,
        part.from_m,
        part.from_rope_m,
        part.measuring,
        part.rest_m,
        part.contacts,
        part.driven_past,
        part.worst_overrun_mm,
        part.worst_rope_overrun_mm,
        part.worst_reaction_ms,
        part.worst_release_ms,
        part.worst_stop_mm,
        part.worst_drop_mm,
    ) = state


def take_starts(part: Starts) -> State:
    """Return the whole state of this part."""
    return (
        part.raised_ms,
        part.lowered_ms,
        part.idle_ms,
        part.armed,
        part.unarmed_ms,
        part.why,
        part.before,
    )


def put_starts(part: Starts, state: State) -> None:
    """Take over a state of this part."""
    (
        part.raised_ms,
        part.lowered_ms,
        part.idle_ms,
        part.armed,
        part.unarmed_ms,
        part.why,
        part.before,
    ) = state


def take_latch(part: Latch) -> State:
    """Return the whole state of this part."""
    return (
        part.fault,
        part.fault_ms,
        part.press_ms,
        part.press_gap_ms,
        part.since_press_ms,
        part.board_was_on,
        part.was_hung,
    )


def put_latch(part: Latch, state: State) -> None:
    """Take over a state of this part."""
    (
        part.fault,
        part.fault_ms,
        part.press_ms,
        part.press_gap_ms,
        part.since_press_ms,
        part.board_was_on,
        part.was_hung,
    ) = state


def take_times(part: Times) -> State:
    """Return the whole state of this part."""
    return (
        part.up_ms,
        part.down_ms,
        part.up_link,
        part.down_link,
        part.fed_ms,
        part.gap_ms,
        part.over_ms,
        part.hung_ms,
        part.level_a,
        part.steady_way,
    )


def put_times(part: Times, state: State) -> None:
    """Take over a state of this part."""
    (
        part.up_ms,
        part.down_ms,
        part.up_link,
        part.down_link,
        part.fed_ms,
        part.gap_ms,
        part.over_ms,
        part.hung_ms,
        part.level_a,
        part.steady_way,
    ) = state
