"""What every plot of a run shares: its file, the band of states, a bar for each contact."""

import io
from collections.abc import Callable, Sequence
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from leafwinch.signals import CONTACT_NAMES, OUTPUT_NAMES
from leafwinch.states import STATE_NAMES
from leafwinch_host.look import OUTPUTS_SHOWN, QUIET, STATE_COLOURS, STYLE, TRIP
from leafwinch_host.stretches import Column, runs_of

CONTACT_BAR = "#4a7c93"
OUTPUT_BAR = "#b0722d"
LABEL_WIDTH_MIN = 0.045  # share of the time axis below which a state's name does not fit

Bits = NDArray[Any]
Strip = tuple[str, Bits, str]
"""Name of a signal, whether it is closed or on, and the colour of its bar."""


def figure_bytes(draw: Callable[[], Figure], ending: str) -> bytes:
    """Return a figure as the bytes of a file; `ending` is "svg" or "png".

    The same figure gives the same bytes, since the file carries neither date nor chance.

    Args:
        draw: makes the figure, in the style of all plots.
        ending: of the file's name, without the dot.
    """
    with mpl.rc_context(STYLE):
        figure = draw()
        target = io.BytesIO()
        metadata: dict[str, Any] = {"Date": None} if ending == "svg" else {"Software": None}
        figure.savefig(target, format=ending, dpi=130, metadata=metadata)
    return target.getvalue()


def freeze_layout(figure: Figure) -> None:
    """Round the places of all axes, because the layout solver varies in the last digits."""
    figure.draw_without_rendering()
    # "none" would leave a stand-in, for which every saving draws the figure twice.
    figure.set_layout_engine(None)
    for axes in figure.axes:
        box = axes.get_position()
        axes.set_position(tuple(round(edge, 4) for edge in box.bounds))


def edge_s(time_s: Column, index: int) -> float:
    """Return the time at which a stretch ends, at most the end of the trace."""
    return float(time_s[min(index, time_s.size - 1)])


def state_band(
    axes: Axes,
    time_s: Column,
    state: Bits,
    words: Callable[[int, int, float], str] | None = None,
    least_share: float = LABEL_WIDTH_MIN,
) -> None:
    """Draw one coloured field for each stretch of a state, with its name where that fits.

    Args:
        axes: of the band.
        time_s: time of each sample.
        state: number of the state in each.
        words: returns the name from the state, the first row and the share of the time axis.
        least_share: of the time axis below which there is no name.
    """
    span = float(time_s[-1] - time_s[0]) or 1.0
    for first, end, value in runs_of(state):
        start_s, end_s = float(time_s[first]), edge_s(time_s, end)
        axes.axvspan(start_s, end_s, color=STATE_COLOURS.get(value, QUIET), linewidth=0)
        share = (end_s - start_s) / span
        if share < least_share or value >= len(STATE_NAMES):
            continue  # no room for its name, or a state that this version does not know
        text = STATE_NAMES[value] if words is None else words(value, first, share)
        axes.text((start_s + end_s) / 2, 0.5, text, ha="center", va="center", fontsize=8)
    axes.set_ylim(0, 1)
    axes.set_yticks([0.5], ["state"])
    axes.grid(visible=False)
    axes.tick_params(axis="both", length=0)


def signal_strips(contacts: Bits, outputs: Bits) -> list[Strip]:
    """Return a strip for each contact and output but the pulse, from columns of masks."""
    strips: list[Strip] = [
        (name, contacts >> bit & 1, CONTACT_BAR) for bit, name in enumerate(CONTACT_NAMES)
    ]
    for name in OUTPUTS_SHOWN:
        strips.append((f"{name} (out)", outputs >> OUTPUT_NAMES.index(name) & 1, OUTPUT_BAR))
    return strips


def draw_strips(axes: Axes, time_s: Column, strips: Sequence[Strip], half: float = 0.32) -> None:
    """Draw each strip as a bar of twice `half` while it is closed, live or on."""
    for row, (_, closed, colour) in enumerate(strips):
        bars = [
            (float(time_s[first]), edge_s(time_s, end) - float(time_s[first]))
            for first, end, value in runs_of(closed)
            if value
        ]
        axes.broken_barh(bars, (row - half, 2.0 * half), color=colour, linewidth=0)
    names = [name.replace("_", " ") for name, _, _ in strips]
    axes.set_yticks(range(len(strips)), names, fontsize=7)
    axes.set_ylim(len(strips) - 0.4, -0.6)
    axes.grid(visible=True, axis="x")
    axes.grid(visible=False, axis="y")
    axes.tick_params(axis="y", length=0)


def mark_trip(axes: Axes, current_a: Column, trip_a: float) -> None:
    """Draw the trip level across a plot of the current, on both sides where it has both signs."""
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
