"""The firmware's whole state as one tuple, quickly. Generated: do not edit.

Renew it with `python -m leafwinch_sim.state_maker`.
"""

from leafwinch.budget import Budget
from leafwinch.cause import Cause
from leafwinch.chain import Chain
from leafwinch.contactors import Contactors
from leafwinch.control import Control
from leafwinch.controller import Controller
from leafwinch.current import Current
from leafwinch.ends import Ends
from leafwinch.indicator import Indicator
from leafwinch.inputs import Inputs
from leafwinch.recovery import Recovery
from leafwinch.reset_button import ResetButton
from leafwinch.slack import Slack
from leafwinch.thermal import Thermal

State = tuple[int, ...]
CoreState = tuple[State, ...]


def take_core(part: Controller) -> State:
    """Return the whole state of this part."""
    return (
        part.last_ms,
        part.stepped,
        part.state,
        part.fault,
        part.later_fault,
        part.held_reasons,
        part.refused,
        part.ended,
        part.demand_ms,
        part.kept_actuated_ms,
        part.record_due,
        part.warning,
        part.warnings,
        part.pulse,
    )


def put_core(part: Controller, state: State) -> None:
    """Take over a state of this part."""
    (
        part.last_ms,
        part.stepped,
        part.state,
        part.fault,
        part.later_fault,
        part.held_reasons,
        part.refused,
        part.ended,
        part.demand_ms,
        part.kept_actuated_ms,
        part.record_due,
        part.warning,
        part.warnings,
        part.pulse,
    ) = state


def take_inputs(part: Inputs) -> State:
    """Return the whole state of this part."""
    return (
        part.one,
        part.two,
        part.seen,
        part.low_ticks,
        part.settle_ms,
    )


def put_inputs(part: Inputs, state: State) -> None:
    """Take over a state of this part."""
    (
        part.one,
        part.two,
        part.seen,
        part.low_ticks,
        part.settle_ms,
    ) = state


def take_chain(part: Chain) -> State:
    """Return the whole state of this part."""
    return (
        part.key_ms,
        part.top_final_way,
        part.bottom_final_way,
        part.finals_open,
    )


def put_chain(part: Chain, state: State) -> None:
    """Take over a state of this part."""
    (
        part.key_ms,
        part.top_final_way,
        part.bottom_final_way,
        part.finals_open,
    ) = state


def take_ends(part: Ends) -> State:
    """Return the whole state of this part."""
    return (
        part.top_left_ms,
        part.bottom_left_ms,
        part.both_ms,
        part.rest_ms,
        part.rest_limits,
        part.drifts,
        part.drifted,
    )


def put_ends(part: Ends, state: State) -> None:
    """Take over a state of this part."""
    (
        part.top_left_ms,
        part.bottom_left_ms,
        part.both_ms,
        part.rest_ms,
        part.rest_limits,
        part.drifts,
        part.drifted,
    ) = state


def take_control(part: Control) -> State:
    """Return the whole state of this part."""
    return (
        part.asked,
        part.neutral_ms,
        part.raise_stuck_ms,
        part.lower_stuck_ms,
        part.both_ms,
        part.halfway_ms,
        part.halfway_said,
        part.disagree_ms,
        part.new_demand,
        part.top_doubted,
        part.bottom_doubted,
        part.eased_ms,
        part.eased_way,
    )


def put_control(part: Control, state: State) -> None:
    """Take over a state of this part."""
    (
        part.asked,
        part.neutral_ms,
        part.raise_stuck_ms,
        part.lower_stuck_ms,
        part.both_ms,
        part.halfway_ms,
        part.halfway_said,
        part.disagree_ms,
        part.new_demand,
        part.top_doubted,
        part.bottom_doubted,
        part.eased_ms,
        part.eased_way,
    ) = state


def take_contactors(part: Contactors) -> State:
    """Return the whole state of this part."""
    return (
        part.way,
        part.phase,
        part.phase_ms,
        part.off_ms,
        part.run_ms,
        part.released_seen,
        part.letting_go,
        part.park_high,
        part.quiet_ms,
    )


def put_contactors(part: Contactors, state: State) -> None:
    """Take over a state of this part."""
    (
        part.way,
        part.phase,
        part.phase_ms,
        part.off_ms,
        part.run_ms,
        part.released_seen,
        part.letting_go,
        part.park_high,
        part.quiet_ms,
    ) = state


def take_current(part: Current) -> State:
    """Return the whole state of this part."""
    return (
        part.value_ma,
        part.stalled_ms,
        part.rest_ms,
        part.rest_over_ms,
        part.over_ms,
        part.wrong_ms,
        part.missing_ms,
        part.band_ms,
        part.blocked_ms,
        part.jam_ms,
        part.under_ms,
    )


def put_current(part: Current, state: State) -> None:
    """Take over a state of this part."""
    (
        part.value_ma,
        part.stalled_ms,
        part.rest_ms,
        part.rest_over_ms,
        part.over_ms,
        part.wrong_ms,
        part.missing_ms,
        part.band_ms,
        part.blocked_ms,
        part.jam_ms,
        part.under_ms,
    ) = state


def take_slack(part: Slack) -> State:
    """Return the whole state of this part."""
    return (
        part.slack_ms,
        part.taut_ms,
    )


def put_slack(part: Slack, state: State) -> None:
    """Take over a state of this part."""
    (
        part.slack_ms,
        part.taut_ms,
    ) = state


def take_budget(part: Budget) -> State:
    """Return the whole state of this part."""
    return (
        part.up_ms,
        part.down_ms,
        part.up_free_ms,
        part.down_free_ms,
        part.start_free_ms,
        part.up_leave_ms,
        part.down_leave_ms,
        part.up_extra_used,
        part.down_extra_used,
        part.known,
        part.full,
        part.run_way,
    )


def put_budget(part: Budget, state: State) -> None:
    """Take over a state of this part."""
    (
        part.up_ms,
        part.down_ms,
        part.up_free_ms,
        part.down_free_ms,
        part.start_free_ms,
        part.up_leave_ms,
        part.down_leave_ms,
        part.up_extra_used,
        part.down_extra_used,
        part.known,
        part.full,
        part.run_way,
    ) = state


def take_thermal(part: Thermal) -> State:
    """Return the whole state of this part."""
    return (
        part.level,
        part.carry,
        part.load_sum,
        part.period_ms,
        part.duty_ms100,
    )


def put_thermal(part: Thermal, state: State) -> None:
    """Take over a state of this part."""
    (
        part.level,
        part.carry,
        part.load_sum,
        part.period_ms,
        part.duty_ms100,
    ) = state


def take_cause(part: Cause) -> State:
    """Return the whole state of this part."""
    return (
        part.window_ms,
        part.is_open,
        part.candidate,
    )


def put_cause(part: Cause, state: State) -> None:
    """Take over a state of this part."""
    (
        part.window_ms,
        part.is_open,
        part.candidate,
    ) = state


def take_recovery(part: Recovery) -> State:
    """Return the whole state of this part."""
    return (
        part.mode,
        part.away,
        part.exempt,
    )


def put_recovery(part: Recovery, state: State) -> None:
    """Take over a state of this part."""
    (
        part.mode,
        part.away,
        part.exempt,
    ) = state


def take_reset_button(part: ResetButton) -> State:
    """Return the whole state of this part."""
    return (
        part.pressed_ms,
        part.armed,
    )


def put_reset_button(part: ResetButton, state: State) -> None:
    """Take over a state of this part."""
    (
        part.pressed_ms,
        part.armed,
    ) = state


def take_indicator(part: Indicator) -> State:
    """Return the whole state of this part."""
    return (
        part.ticks,
        part.phase_ms,
        part.shown,
        part.tone_ms,
    )


def put_indicator(part: Indicator, state: State) -> None:
    """Take over a state of this part."""
    (
        part.ticks,
        part.phase_ms,
        part.shown,
        part.tone_ms,
    ) = state


def take(core: Controller) -> CoreState:
    """Return the whole state."""
    return (
        take_core(core),
        take_inputs(core.inputs),
        take_chain(core.chain),
        take_ends(core.ends),
        take_control(core.control),
        take_contactors(core.contactors),
        take_current(core.current),
        take_slack(core.slack),
        take_budget(core.budget),
        take_thermal(core.thermal),
        take_cause(core.cause),
        take_recovery(core.recovery),
        take_reset_button(core.reset_button),
        take_indicator(core.indicator),
    )


def put(core: Controller, state: CoreState) -> None:
    """Take over a state from take() of a controller with equal settings."""
    put_core(core, state[0])
    put_inputs(core.inputs, state[1])
    put_chain(core.chain, state[2])
    put_ends(core.ends, state[3])
    put_control(core.control, state[4])
    put_contactors(core.contactors, state[5])
    put_current(core.current, state[6])
    put_slack(core.slack, state[7])
    put_budget(core.budget, state[8])
    put_thermal(core.thermal, state[9])
    put_cause(core.cause, state[10])
    put_recovery(core.recovery, state[11])
    put_reset_button(core.reset_button, state[12])
    put_indicator(core.indicator, state[13])


def canonical(core: Controller) -> CoreState:
    """Return the state without absolute time, lamp phases and warning count.

    It holds what Controller.canonical() returns, part by part.
    """
    return (
        (
            core.stepped,
            core.state,
            core.fault,
            core.later_fault,
            core.held_reasons,
            core.refused,
            core.ended,
            core.demand_ms,
            core.kept_actuated_ms,
            core.record_due,
            core.pulse,
        ),
        take_inputs(core.inputs),
        take_chain(core.chain),
        take_ends(core.ends),
        take_control(core.control),
        take_contactors(core.contactors),
        take_current(core.current),
        take_slack(core.slack),
        take_budget(core.budget),
        take_thermal(core.thermal),
        take_cause(core.cause),
        take_recovery(core.recovery),
        take_reset_button(core.reset_button),
    )
