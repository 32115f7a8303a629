"""Draws what is uncertain: the band of each result and which input it comes from."""

import math
from collections.abc import Sequence

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from leafwinch_host.look import INK, STYLE
from leafwinch_host.report.size_plots import BAR, bare, new_figure
from leafwinch_host.strips import freeze_layout
from leafwinch_sim.sizing.conditions import NAMES
from leafwinch_sim.sizing.uncertainty import Band

# After Okabe and Ito (2008); the order is that of the inputs.
INPUT_COLOURS = dict(
    zip(NAMES, ("#d55e00", "#56b4e9", "#f0c419", "#007a5a", "#9a5b83"), strict=True)
)
# Black or white letters, whichever is read more easily on the colour.
DARK_LETTERS = ("mass", "supply")
INPUT_WORDS = {
    "friction": "friction",
    "mass": "mass of the leaves",
    "supply": "supply voltage",
    "efficiency": "gear efficiency",
    "drag": "cold grease",
}
LEAST_SPAN = 0.02  # of an axis, in its unit; less would be noise
NAMED_FROM = 0.08  # share of the axis below which its number does not fit into a piece


def band_figure(bands: Sequence[Band]) -> Figure:
    """Draw one row for each band: its range on the left, the shares of its inputs on the right."""
    with mpl.rc_context(STYLE):
        figure = new_figure(0.75 + 0.78 * len(bands))
        grid = figure.subplots(len(bands), 2, width_ratios=[1.15, 1.0], squeeze=False)
        for row, band in enumerate(bands):
            left, right = grid[row]
            bare(left, right)
            _draw_range(left, band)
            _draw_shares(right, band, last=row == len(bands) - 1)
        grid[0][1].set_title("which input it comes from", fontsize=9, loc="left")
        handles = [Patch(color=INPUT_COLOURS[name], lw=0) for name in NAMES]
        figure.legend(
            handles,
            [INPUT_WORDS[name] for name in NAMES],
            loc="outside upper right",
            ncols=len(NAMES),
            frameon=False,
            fontsize=8,
        )
        freeze_layout(figure)
        return figure


def _draw_range(axes: Axes, band: Band) -> None:
    axes.set_ylim(-1.0, 1.0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.grid(visible=False, axis="y")
    unit = {"": "times", "deg": "°"}.get(band.unit, band.unit)
    axes.set_xlabel(f"{band.words}, {unit}", fontsize=8, labelpad=1)
    axes.tick_params(axis="x", labelsize=8)
    ends = (band.least, band.low, band.middle, band.high, band.greatest)
    known = [value for value in ends if math.isfinite(value)]
    if not known:
        axes.set_xticks([])
        axes.text(0.5, 0.5, "without end", transform=axes.transAxes, ha="center", fontsize=8)
        return
    span = max(max(known) - min(known), LEAST_SPAN)
    far = max(known) + 0.3 * span
    least, low, middle, high, greatest = (min(value, far) for value in ends)
    left = least - 0.08 * span
    axes.set_xlim(
        max(left, 0.0) if least >= 0.0 else left, max(least + span, greatest) + 0.08 * span
    )
    axes.plot([least, greatest], [0, 0], color=BAR, lw=1.2, solid_capstyle="butt")
    axes.plot([low, high], [0, 0], color=BAR, lw=7, solid_capstyle="butt")
    axes.plot([middle], [0], marker="|", ms=15, mew=2.2, color=INK, ls="none")
    if len(known) < len(ends):
        axes.text(
            0.99, 0.86, "without end", transform=axes.transAxes, ha="right", va="top", fontsize=7.5
        )


def _draw_shares(axes: Axes, band: Band, last: bool) -> None:
    total = sum(band.shares.values())
    at = 0.0
    for name in NAMES:
        share = band.shares[name] / total if total > 0.0 else 0.0
        axes.barh(0, share, left=at, height=1.1, color=INPUT_COLOURS[name], lw=0)
        if share >= NAMED_FROM:
            axes.text(
                at + 0.5 * share,
                0,
                f"{100 * share:.0f} %",
                ha="center",
                va="center",
                fontsize=7.5,
                color="#111111" if name in DARK_LETTERS else "white",
            )
        at += share
    if total <= 0.0:
        axes.text(0.0, 0.0, "does not vary", va="center", fontsize=8)
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(-1.0, 1.0)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.grid(visible=False)
    axes.set_xticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0", "25", "50", "75", "100"], fontsize=8)
    if last:
        axes.set_xlabel("part of the total Sobol indices, %", fontsize=8, labelpad=1)
