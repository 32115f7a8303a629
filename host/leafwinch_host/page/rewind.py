"""The whole state of a bench and its player at one moment, to go back to."""

from dataclasses import dataclass
from typing import Any

from leafwinch_sim.bench import Bench
from leafwinch_sim.bench_observe import observe
from leafwinch_sim.bench_state import BenchState
from leafwinch_sim.operator import Operator
from leafwinch_sim.run import Player
from leafwinch_sim.run_events import Event


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment.

    Attributes:
        t_ms: bench time.
        rows: steps until then.
        bench, monitors, teller, figures: states of each.
        operator: who moved the hands.
        current_ma: what the board's sensor showed.
        events: all that had been told.
        own: whatever else the caller keeps.
    """

    t_ms: int
    rows: int
    bench: BenchState
    operator: Operator
    current_ma: int
    monitors: tuple[Any, ...]
    teller: tuple[Any, ...]
    events: tuple[Event, ...]
    figures: tuple[Any, ...]
    own: tuple[Any, ...]


def moment_of(bench: Bench, player: Player, rows: int, own: tuple[Any, ...]) -> Moment:
    """Return the state of a bench and its player; `rows` and `own` as in Moment."""
    teller = player.teller
    result = player.result
    return Moment(
        t_ms=bench.t_ms,
        rows=rows,
        bench=bench.snapshot(),
        operator=bench.operator,
        current_ma=bench.observation.current_ma,
        monitors=player.monitors.snapshot(),
        teller=(
            teller.state,
            teller.fault,
            teller.refused,
            teller.warnings,
            teller.board_on,
            teller.hung,
            teller.way,
            teller.since_ms,
            teller.stopped,
            frozenset(teller.told),
            teller.given_up,
        ),
        events=tuple(teller.events),
        figures=(
            player.fed_ms,
            player.travel_ms,
            player.digest.copy(),
            result.peak_running_a,
            result.peak_current_a,
            result.peak_rope_n,
            result.fault,
            tuple(result.faults),
        ),
        own=own,
    )


def rewind_to(bench: Bench, player: Player, moment: Moment) -> tuple[Any, ...]:
    """Put bench and player back into a moment and return what the caller had kept there."""
    bench.operator = moment.operator
    bench.restore(moment.bench)
    observe(bench, moment.current_ma)
    bench.observation.powered_any = bench.way
    player.monitors.restore(moment.monitors)
    teller = player.teller
    (
        teller.state,
        teller.fault,
        teller.refused,
        teller.warnings,
        teller.board_on,
        teller.hung,
        teller.way,
        teller.since_ms,
        teller.stopped,
        told,
        teller.given_up,
    ) = moment.teller
    teller.told = set(told)
    teller.events[:] = moment.events
    result = player.result
    (
        player.fed_ms,
        player.travel_ms,
        digest,
        result.peak_running_a,
        result.peak_current_a,
        result.peak_rope_n,
        result.fault,
        faults,
    ) = moment.figures
    player.digest = digest.copy()
    result.faults = list(faults)
    return moment.own
