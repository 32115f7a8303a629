"""Colours and style of every plot."""

from typing import Any

from leafwinch.signals import OUTPUT_NAMES
from leafwinch.states import FAULT, HELD, IDLE, LOWERING, RAISING

# Colours that stay apart for every kind of colour vision (after Okabe and Ito, 2008).
INK = "#22303c"
QUIET = "#8a97a3"
GRID = "#d9dfe4"
ANGLE = "#0072b2"
ROPE = "#b35900"
CURRENT = "#5b3f8c"
TRIP = "#c1272d"
STATE_COLOURS = {
    HELD: "#c9d1d8",
    IDLE: "#eef1f4",
    RAISING: "#56b4e9",
    LOWERING: "#7fc4a8",
    FAULT: "#d9624a",
}
# The pulse pin changes at every pass, so as a strip it would say nothing.
OUTPUTS_SHOWN = tuple(name for name in OUTPUT_NAMES if name != "line_pulse")

STYLE: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.size": 9.0,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": INK,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": GRID,
    "grid.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": INK,
    "ytick.color": INK,
    "text.color": INK,
    "svg.fonttype": "none",
    "svg.hashsalt": "leafwinch",
}
