"""Draws every series of upkeep: readings, median, trend, steps and the limit."""

from collections.abc import Sequence
from itertools import pairwise

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from leafwinch_host.look import ANGLE, CURRENT, GRID, INK, QUIET, STYLE, TRIP
from leafwinch_host.strips import freeze_layout
from leafwinch_host.upkeep.series import Outlook

COLOURS = {
    "ink": INK,
    "quiet": QUIET,
    "grid": GRID,
    "angle": ANGLE,
    "current": CURRENT,
    "trip": TRIP,
}
NEAR_LIMIT = 0.6  # of the limit: below, the limit would press the readings flat
ROW_INCHES = 1.7


def trend_figure(outlooks: Sequence[Outlook]) -> Figure:
    """Return one panel for each series, two in a row (outlooks: at least one)."""
    with mpl.rc_context(STYLE):
        rows = (len(outlooks) + 1) // 2
        figure = Figure(figsize=(10.0, 0.4 + ROW_INCHES * rows), layout="constrained")
        FigureCanvasAgg(figure)
        panels = figure.subplots(rows, 2, squeeze=False).flatten()
        for axes, found in zip(panels, outlooks, strict=False):
            _panel(axes, found)
        for axes in panels[len(outlooks) :]:
            axes.set_axis_off()
        freeze_layout(figure)
        return figure


def _panel(axes: Axes, found: Outlook) -> None:
    series = found.series
    x, y = series.x, series.y
    axes.plot(x, y, ".", color=ANGLE, markersize=3)
    bounds = [0, *(step.index for step in found.steps), y.size]
    for first, end in pairwise(bounds):
        level = float(np.median(y[first:end]))
        axes.plot([x[first], x[end - 1]], [level, level], color=QUIET, linewidth=1.0)
    for step in found.steps:
        axes.axvline(x[step.index], color=TRIP, linewidth=0.9, linestyle=(0, (2, 2)))
    if found.trend is not None and found.trend.clear:
        ends = np.array([x[found.since], x[-1]])
        line = found.trend.at_zero + found.trend.slope * ends
        axes.plot(ends, line, color=CURRENT, linewidth=1.6)
    words = series.words
    if series.limit and float(y.max()) > NEAR_LIMIT * series.limit:
        axes.axhline(series.limit, color=TRIP, linewidth=1.0, linestyle=(0, (6, 2)))
    elif series.limit:
        words += f" (limit {series.limit:g} {series.unit})"
    axes.set_title(words, fontsize=8.5, loc="left", color=INK)
    axes.set_ylabel(series.unit)
    axes.set_xlabel(series.axis, fontsize=8)
