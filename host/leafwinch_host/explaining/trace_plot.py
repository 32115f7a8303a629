"""Draws the four seconds before a fault: state, current with its trip, supply and contacts."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import NDArray

from leafwinch.signals import CONTACT_NAMES, OUTPUT_NAMES
from leafwinch.states import STATE_NAMES
from leafwinch_host.explaining.before import Before, Change
from leafwinch_host.files import write_bytes
from leafwinch_host.plots import (
    CURRENT,
    INK,
    OUTPUTS_SHOWN,
    QUIET,
    ROPE,
    STATE_COLOURS,
    STYLE,
    TRIP,
    freeze_layout,
    runs_of,
)

CLOSED_COLOUR = "#4a7c93"
OUTPUT_COLOUR = "#b0722d"
NAME_SHARE = 0.06  # of the time shown: a shorter state has no room for its name

Strip = tuple[str, NDArray[np.int64], str]


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
    with mpl.rc_context(STYLE):
        figure = draw(before, lines)
        target = io.BytesIO()
        metadata: dict[str, Any] = {"Date": None} if ending == "svg" else {"Software": None}
        figure.savefig(target, format=ending, dpi=130, metadata=metadata)
    write_bytes(path, target.getvalue())


def draw(before: Before, lines: Lines) -> Figure:
    """Return the figure; time is in seconds before the fault, which is at 0."""
    figure = Figure(figsize=(10.0, 8.2), layout="constrained")
    FigureCanvasAgg(figure)
    state, current, supply, strips = figure.subplots(
        4, 1, sharex=True, height_ratios=[0.35, 2.0, 1.0, 4.0]
    )
    figure.suptitle(f"{lines.title}\n{lines.subtitle}", fontsize=11, x=0.012, ha="left")
    _draw_states(state, before)
    _draw_level(current, before.time_s, before.current_a, "current, A", CURRENT)
    _mark_level(current, lines.trip_a, f"trip {lines.trip_a:g} A")
    if float(before.current_a.min()) < -0.02 * lines.trip_a:
        _mark_level(current, -lines.trip_a, f"trip {-lines.trip_a:g} A")
    _draw_level(supply, before.time_s, before.supply_v, "24 V, V", ROPE)
    _mark_level(supply, lines.supply_low_v, f"lost below {lines.supply_low_v:g} V")
    supply.set_ylim(bottom=0)
    _draw_strips(strips, before)
    first = float(before.time_s[0])
    strips.set_xlim(first, max(0.05, -0.01 * first))
    for axes in (state, current, supply, strips):
        axes.axvline(0.0, color=TRIP, linewidth=1.0)
    strips.set_xlabel("time before the fault, s")
    freeze_layout(figure)
    return figure


def _draw_states(axes: Axes, before: Before) -> None:
    time_s = before.time_s
    span = float(-time_s[0]) or 1.0
    for first, end, value in runs_of(before.state):
        start_s, end_s = float(time_s[first]), float(time_s[min(end, time_s.size - 1)])
        axes.axvspan(start_s, end_s, color=STATE_COLOURS.get(value, QUIET), linewidth=0)
        if (end_s - start_s) / span > NAME_SHARE and value < len(STATE_NAMES):
            middle_s = (start_s + end_s) / 2
            axes.text(middle_s, 0.5, STATE_NAMES[value], ha="center", va="center", fontsize=8)
    axes.set_ylim(0, 1)
    axes.set_yticks([0.5], ["state"])
    axes.grid(visible=False)
    axes.tick_params(axis="both", length=0)


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


def _draw_strips(axes: Axes, before: Before) -> None:
    """Draw a bar while a contact is closed or an output on; names of those that changed stand out.

    The pulse pin changes in every pass, so as a strip it would say nothing.
    """
    time_s = before.time_s
    rows: list[Strip] = [
        (name, before.contacts >> bit & 1, CLOSED_COLOUR) for bit, name in enumerate(CONTACT_NAMES)
    ]
    for name in OUTPUTS_SHOWN:
        bit = OUTPUT_NAMES.index(name)
        rows.append((f"{name} (out)", before.outputs >> bit & 1, OUTPUT_COLOUR))
    for row, (_, closed, colour) in enumerate(rows):
        bars = [
            (float(time_s[first]), float(time_s[min(end, time_s.size - 1)] - time_s[first]))
            for first, end, value in runs_of(closed)
            if value
        ]
        axes.broken_barh(bars, (row - 0.32, 0.64), color=colour, linewidth=0)
    axes.set_yticks(range(len(rows)), [name.replace("_", " ") for name, _, _ in rows], fontsize=7)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.grid(visible=False, axis="y")
    axes.tick_params(axis="y", length=0)
    _stand_out(axes, rows, before.changes)


def _stand_out(axes: Axes, rows: Sequence[Strip], changes: Sequence[Change]) -> None:
    changed = {change.signal for change in changes}
    for label, (name, _, _) in zip(axes.get_yticklabels(), rows, strict=True):
        if name.removesuffix(" (out)") in changed:
            label.set_fontweight("bold")
            label.set_color(INK)
        else:
            label.set_color(QUIET)
