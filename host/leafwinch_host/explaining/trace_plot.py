"""Draws the four seconds before a fault: state, current with its trip, supply and contacts."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import NDArray

from leafwinch_host.explaining.before import Before, Change
from leafwinch_host.files import write_bytes
from leafwinch_host.look import CURRENT, INK, QUIET, ROPE, TRIP
from leafwinch_host.strips import (
    Strip,
    draw_strips,
    figure_bytes,
    freeze_layout,
    signal_strips,
    state_band,
)

NAME_SHARE = 0.06  # of the time shown: a shorter state has no room for its name


@dataclass(frozen=True, slots=True)
class Lines:
    """What is written over the plot and drawn across it; levels in A and V."""

    title: str
    subtitle: str
    trip_a: float
    supply_low_v: float


def save_trace_plot(path: Path, before: Before, lines: Lines) -> None:
    """Write the plot as SVG or PNG, by the ending of the name.

    Raises:
        BadInput: the file can't be written.
    """
    ending = path.suffix.lower().removeprefix(".")
    write_bytes(path, figure_bytes(lambda: draw(before, lines), ending))


def draw(before: Before, lines: Lines) -> Figure:
    """Return the figure; time is in seconds before the fault, which is at 0."""
    figure = Figure(figsize=(10.0, 8.2), layout="constrained")
    FigureCanvasAgg(figure)
    state, current, supply, strips = figure.subplots(
        4, 1, sharex=True, height_ratios=[0.35, 2.0, 1.0, 4.0]
    )
    figure.suptitle(f"{lines.title}\n{lines.subtitle}", fontsize=11, x=0.012, ha="left")
    state_band(state, before.time_s, before.state, least_share=NAME_SHARE)
    _draw_level(current, before.time_s, before.current_a, "current, A", CURRENT)
    _mark_level(current, lines.trip_a, f"trip {lines.trip_a:g} A")
    if float(before.current_a.min()) < -0.02 * lines.trip_a:
        _mark_level(current, -lines.trip_a, f"trip {-lines.trip_a:g} A")
    _draw_level(supply, before.time_s, before.supply_v, "24 V, V", ROPE)
    _mark_level(supply, lines.supply_low_v, f"lost below {lines.supply_low_v:g} V")
    supply.set_ylim(bottom=0)
    rows = signal_strips(before.contacts, before.outputs)
    draw_strips(strips, before.time_s, rows)
    _stand_out(strips, rows, before.changes)
    first = float(before.time_s[0])
    strips.set_xlim(first, max(0.05, -0.01 * first))
    for axes in (state, current, supply, strips):
        axes.axvline(0.0, color=TRIP, linewidth=1.0)
    strips.set_xlabel("time before the fault, s")
    freeze_layout(figure)
    return figure


def _draw_level(
    axes: Axes,
    time_s: NDArray[np.float64],
    values: NDArray[np.float64],
    label: str,
    colour: str,
) -> None:
    axes.plot(time_s, values, color=colour, linewidth=1.2)
    axes.set_ylabel(label, color=colour)
    axes.margins(y=0.12)


def _mark_level(axes: Axes, level: float, words: str) -> None:
    axes.axhline(level, color=TRIP, linewidth=0.9, linestyle=(0, (6, 2)))
    axes.annotate(
        words,
        (0.004, level),
        xycoords=("axes fraction", "data"),
        xytext=(0, 2),
        textcoords="offset points",
        fontsize=7,
        color=TRIP,
    )


def _stand_out(axes: Axes, rows: Sequence[Strip], changes: Sequence[Change]) -> None:
    changed = {change.signal for change in changes}
    for label, (name, _, _) in zip(axes.get_yticklabels(), rows, strict=True):
        if name.removesuffix(" (out)") in changed:
            label.set_fontweight("bold")
            label.set_color(INK)
        else:
            label.set_color(QUIET)
