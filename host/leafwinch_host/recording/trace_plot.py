"""Draws a recording: state, contacts, current and supply over time, gaps shaded."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from leafwinch.states import FAULT, STATE_NAMES
from leafwinch_host.files import write_bytes
from leafwinch_host.look import CURRENT, QUIET, ROPE
from leafwinch_host.recording.cycles import fault_words
from leafwinch_host.recording.recorded import Recorded, utc_words
from leafwinch_host.stretches import Column, thinned
from leafwinch_host.strips import (
    LABEL_WIDTH_MIN,
    draw_strips,
    figure_bytes,
    freeze_layout,
    mark_trip,
    signal_strips,
    state_band,
)

GAP_S = 0.2  # shorter ones could not be seen


@dataclass(frozen=True, slots=True)
class Titles:
    """The title of the plot, and the trip level in A where a site was named."""

    title: str
    trip_a: float | None = None


def save_trace_plot(path: Path, recorded: Recorded, titles: Titles) -> None:
    """Write the plot as SVG or PNG, by the ending of the name; equal input gives equal bytes."""
    ending = path.suffix.lower().removeprefix(".")
    write_bytes(path, figure_bytes(lambda: draw(recorded, titles), ending))


def draw(recorded: Recorded, titles: Titles) -> Figure:
    """Return the figure of a recording."""
    time_s = recorded.at_ms.astype(np.float64) / 1000
    figure = Figure(figsize=(11.0, 8.6), layout="constrained")
    FigureCanvasAgg(figure)
    state, strips, current, supply = figure.subplots(
        4, 1, height_ratios=[0.35, 4.2, 2.0, 1.1], gridspec_kw={"hspace": 0.03}
    )
    counts = recorded.counts
    figure.suptitle(
        f"{titles.title}\nfrom {utc_words(int(recorded.utc_ms[0]))}; {counts.samples} samples, "
        f"gaps (hatched): {len(recorded.gaps)}, bad lines: {counts.bad}; a bar: closed or on",
        fontsize=11,
        x=0.012,
        ha="left",
    )
    _draw_states(state, time_s, recorded)
    draw_strips(strips, time_s, signal_strips(recorded["contacts"], recorded["outputs"]))
    _draw_current(current, time_s, recorded, titles.trip_a)
    supply_v = recorded["supply_mv"].astype(np.float64) / 1000
    supply.plot(*thinned(time_s, supply_v), color=ROPE, linewidth=1.0)
    supply.set_ylabel("supply, V", color=ROPE)
    supply.set_ylim(0, 1.15 * float(supply_v.max()) + 0.5)
    supply.set_xlabel("time, s")
    last_s = float(max(time_s[-1], time_s[0] + 0.005))
    for axes in (state, strips, current, supply):
        axes.set_xlim(float(time_s[0]), last_s)
        for gap in recorded.gaps:
            end_s = float(time_s[gap.row])
            if gap.seconds >= GAP_S:
                axes.axvspan(
                    end_s - gap.seconds, end_s, facecolor="white", edgecolor=QUIET, hatch="///"
                )
    for axes in (state, strips, current):
        axes.tick_params(axis="x", labelbottom=False)
    freeze_layout(figure)
    return figure


def _draw_states(axes: Axes, time_s: Column, recorded: Recorded) -> None:
    def words(state: int, first: int, share: float) -> str:
        if state == FAULT and share > 4 * LABEL_WIDTH_MIN:
            return fault_words(int(recorded["fault"][first]))
        return STATE_NAMES[state]

    state_band(axes, time_s, recorded["state"], words)
    axes.spines["left"].set_visible(False)


def _draw_current(axes: Axes, time_s: Column, recorded: Recorded, trip_a: float | None) -> None:
    current_a = recorded["current_ma"].astype(np.float64) / 1000
    axes.plot(*thinned(time_s, current_a), color=CURRENT, linewidth=1.0)
    axes.set_ylabel("current, A", color=CURRENT)
    if trip_a is not None:
        mark_trip(axes, current_a, trip_a)
    axes.margins(y=0.12)
