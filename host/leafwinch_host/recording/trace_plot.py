"""Draws a recording: state, contacts, current and supply over time, gaps shaded."""

import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from leafwinch.signals import CONTACT_NAMES, OUTPUT_NAMES
from leafwinch.states import FAULT, STATE_NAMES
from leafwinch_host.files import write_bytes
from leafwinch_host.plots import (
    CURRENT,
    GRID,
    LABEL_WIDTH_MIN,
    OUTPUTS_SHOWN,
    QUIET,
    ROPE,
    STATE_COLOURS,
    STYLE,
    TRIP,
    Column,
    freeze_layout,
    thinned,
)
from leafwinch_host.recording.cycles import fault_words, runs_of
from leafwinch_host.recording.recorded import Recorded, utc_words

CONTACT_COLOUR = "#4a7c93"
OUTPUT_COLOUR = "#b0722d"
GAP_S = 0.2  # shorter ones could not be seen


@dataclass(frozen=True, slots=True)
class Titles:
    """The title of the plot, and the trip level in A where a site was named."""

    title: str
    trip_a: float | None = None


def save_trace_plot(path: Path, recorded: Recorded, titles: Titles) -> None:
    """Write the plot as SVG or PNG, by the ending of the name; equal input gives equal bytes."""
    ending = path.suffix.lower().removeprefix(".")
    with mpl.rc_context(STYLE):
        figure = draw(recorded, titles)
        target = io.BytesIO()
        metadata: dict[str, Any] = {"Date": None} if ending == "svg" else {"Software": None}
        figure.savefig(target, format=ending, dpi=130, metadata=metadata)
    write_bytes(path, target.getvalue())


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
        f"{len(recorded.gaps)} gaps (hatched), {counts.bad} bad lines",
        fontsize=11,
        x=0.012,
        ha="left",
    )
    _draw_states(state, time_s, recorded)
    _draw_strips(strips, time_s, recorded)
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
    span = float(time_s[-1] - time_s[0]) or 1.0
    state = recorded["state"]
    for first, end in runs_of(state):
        value = int(state[first])
        start_s, end_s = float(time_s[first]), float(time_s[min(end, len(time_s) - 1)])
        axes.axvspan(start_s, end_s, color=STATE_COLOURS[value], linewidth=0)
        share = (end_s - start_s) / span
        if share < LABEL_WIDTH_MIN:
            continue
        text = STATE_NAMES[value]
        if value == FAULT and share > 4 * LABEL_WIDTH_MIN:
            text = fault_words(int(recorded["fault"][first]))
        axes.text((start_s + end_s) / 2, 0.5, text, ha="center", va="center", fontsize=8)
    axes.set_ylim(0, 1)
    axes.set_yticks([0.5], ["state"])
    axes.grid(visible=False)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="both", length=0)


def _draw_strips(axes: Axes, time_s: Column, recorded: Recorded) -> None:
    """Draw one strip for each contact and output: a bar while closed, live or on."""
    rows = [
        (name.replace("_", " "), recorded["contacts"] >> bit & 1, CONTACT_COLOUR)
        for bit, name in enumerate(CONTACT_NAMES)
    ]
    for name in OUTPUTS_SHOWN:
        values = recorded["outputs"] >> OUTPUT_NAMES.index(name) & 1
        rows.append((f"{name.replace('_', ' ')} (out)", values, OUTPUT_COLOUR))
    last = len(time_s) - 1
    for row, (_, values, colour) in enumerate(rows):
        bars = [
            (float(time_s[first]), float(time_s[min(end, last)] - time_s[first]))
            for first, end in runs_of(values)
            if values[first]
        ]
        axes.broken_barh(bars, (row - 0.32, 0.64), color=colour, linewidth=0)
    axes.set_yticks(range(len(rows)), [name for name, _, _ in rows], fontsize=7)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.grid(visible=True, axis="x", color=GRID)
    axes.grid(visible=False, axis="y")
    axes.tick_params(axis="y", length=0)


def _draw_current(axes: Axes, time_s: Column, recorded: Recorded, trip_a: float | None) -> None:
    current_a = recorded["current_ma"].astype(np.float64) / 1000
    axes.plot(*thinned(time_s, current_a), color=CURRENT, linewidth=1.0)
    axes.set_ylabel("current, A", color=CURRENT)
    if trip_a is not None:
        signed = bool((current_a < -0.02 * trip_a).any())
        for level in (trip_a, -trip_a) if signed else (trip_a,):
            axes.axhline(level, color=TRIP, linewidth=1.0, linestyle=(0, (6, 2)))
        axes.annotate(
            f"trip {trip_a:g} A",
            (0.998, trip_a),
            xycoords=("axes fraction", "data"),
            xytext=(0, 2),
            textcoords="offset points",
            ha="right",
            fontsize=7,
            color=TRIP,
        )
    axes.margins(y=0.12)
