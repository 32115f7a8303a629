"""Draws one run: what the deck, the rope, the motor and every contact did over time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from leafwinch.fault_texts import FAULTS
from leafwinch.states import FAULT, STATE_NAMES
from leafwinch_host.files import write_bytes
from leafwinch_host.look import ANGLE, CURRENT, INK, QUIET, ROPE
from leafwinch_host.stretches import Column, thinned
from leafwinch_host.strips import (
    LABEL_WIDTH_MIN,
    Bits,
    draw_strips,
    figure_bytes,
    freeze_layout,
    mark_trip,
    signal_strips,
    state_band,
)

EVENTS_SHOWN_MAX = 24
EVENT_LETTERS_MAX = 84  # more would run into the second column
# What the state band shows anyway.
ROUTINE = ("idle", "held", "raising begins", "lowering begins", "stopped: the control was released")


@dataclass(frozen=True, slots=True)
class PlotNotes:
    """What a plot says besides the trace.

    Attributes:
        title, subtitle: the lines above the plot.
        trip_a: running trip level in A, or None where nothing measures the current.
        limit_angles_deg: name and place of each limit that senses the angle.
        events: time in s and words, in order of time.
    """

    title: str
    subtitle: str
    trip_a: float | None
    limit_angles_deg: tuple[tuple[str, float], ...]
    events: tuple[tuple[float, str], ...]


def save_plot(path: Path, trace: Mapping[str, Sequence[Any]], notes: PlotNotes) -> None:
    """Write the plot of one run as SVG or PNG, by the ending of the name."""
    ending = path.suffix.lower().removeprefix(".")
    write_bytes(path, plot_bytes(trace, notes, ending))


def plot_bytes(trace: Mapping[str, Sequence[Any]], notes: PlotNotes, ending: str) -> bytes:
    """Return the plot as the bytes of a file; `ending` is "svg" or "png".

    The same run gives the same bytes, since the file carries neither date nor chance.
    """
    return figure_bytes(lambda: draw(trace, notes), ending)


def draw(trace: Mapping[str, Sequence[Any]], notes: PlotNotes) -> Figure:
    """Return the figure of one run."""
    time_s = np.asarray(trace["t_ms"], dtype=np.float64) / 1000.0
    shown = _pick_events(notes.events)
    legend_lines = (len(shown) + 1) // 2
    height = 10.4 + 0.17 * legend_lines
    figure = Figure(figsize=(11.0, height), layout="constrained")
    FigureCanvasAgg(figure)
    ratios = [0.35, 2.1, 2.1, 1.8, 3.9, max(0.12, 0.16 * legend_lines)]
    state, angle, rope, current, strips, words = figure.subplots(
        6, 1, height_ratios=ratios, gridspec_kw={"hspace": 0.03}
    )
    figure.suptitle(f"{notes.title}\n{notes.subtitle}", fontsize=11, x=0.012, ha="left")
    _draw_states(state, time_s, trace)
    _draw_angle(angle, time_s, trace, notes)
    _draw_rope(rope, time_s, trace)
    _draw_current(current, time_s, trace, notes)
    rows = signal_strips(_bits(trace, "contacts"), _bits(trace, "outputs"))
    draw_strips(strips, time_s, rows)
    for axes in (state, angle, rope, current, strips):
        axes.set_xlim(float(time_s[0]), float(max(time_s[-1], time_s[0] + 0.005)))
        for at_s, _ in shown:
            axes.axvline(at_s, color=QUIET, linewidth=0.7, linestyle=(0, (2, 2)), zorder=1.5)
    for axes in (state, angle, rope, current):
        axes.tick_params(axis="x", labelbottom=False)
    strips.set_xlabel("time, s")
    _number_events(state, shown)
    _write_events(words, shown, len(notes.events))
    freeze_layout(figure)
    return figure


def _column(trace: Mapping[str, Sequence[Any]], name: str) -> Column:
    return np.asarray(trace[name], dtype=np.float64)


def _bits(trace: Mapping[str, Sequence[Any]], name: str) -> Bits:
    return np.asarray(trace[name], dtype=np.int64)


def _draw_states(axes: Axes, time_s: Column, trace: Mapping[str, Sequence[Any]]) -> None:
    faults = _bits(trace, "fault")

    def words(state: int, first: int, share: float) -> str:
        number = int(faults[first])
        if state == FAULT and number and share > 4 * LABEL_WIDTH_MIN:
            return f"{STATE_NAMES[state]} {number} {FAULTS[number - 1][0].replace('_', ' ')}"
        return STATE_NAMES[state]

    state_band(axes, time_s, _bits(trace, "state"), words)
    axes.spines["left"].set_visible(False)


def _draw_angle(
    axes: Axes, time_s: Column, trace: Mapping[str, Sequence[Any]], notes: PlotNotes
) -> None:
    axes.plot(*thinned(time_s, _column(trace, "angle_deg")), color=ANGLE, linewidth=1.4)
    for name, place_deg in notes.limit_angles_deg:
        # A working limit and its final lie close together: one name below, one above.
        below = name == "top end"
        axes.axhline(place_deg, color=ANGLE, linewidth=0.7, linestyle=(0, (5, 3)))
        axes.annotate(
            name,
            (0.998, place_deg),
            xycoords=("axes fraction", "data"),
            xytext=(0, -2 if below else 2),
            textcoords="offset points",
            ha="right",
            va="top" if below else "bottom",
            fontsize=7,
            color=ANGLE,
        )
    axes.set_ylabel("angle, °")
    axes.set_ylim(-4, 94)
    axes.set_yticks([0, 30, 60, 90])


def _draw_rope(axes: Axes, time_s: Column, trace: Mapping[str, Sequence[Any]]) -> None:
    axes.plot(*thinned(time_s, _column(trace, "tension_n")), color=ROPE, linewidth=1.2)
    axes.set_ylabel("rope tension, N", color=ROPE)
    axes.set_ylim(bottom=0)
    slack_mm = _column(trace, "slack_mm")
    other = axes.twinx()
    other.fill_between(*thinned(time_s, slack_mm), color=QUIET, alpha=0.45, linewidth=0)
    other.set_ylabel("slack, mm", color=QUIET)
    # A scale of its own keeps a millimetre of slack from looking like an accident.
    other.set_ylim(0, max(20.0, float(slack_mm.max(initial=0.0)) * 1.6))
    other.grid(visible=False)
    other.spines["right"].set_visible(True)


def _draw_current(
    axes: Axes, time_s: Column, trace: Mapping[str, Sequence[Any]], notes: PlotNotes
) -> None:
    current_a = _column(trace, "current_ma") / 1000.0
    axes.plot(*thinned(time_s, current_a), color=CURRENT, linewidth=1.1)
    axes.set_ylabel("current, A", color=CURRENT)
    if notes.trip_a is not None:
        mark_trip(axes, current_a, notes.trip_a)
    axes.margins(y=0.12)


def _pick_events(events: Sequence[tuple[float, str]]) -> list[tuple[float, str]]:
    """Where there are too many to read, drop the routine ones, then those in the middle."""
    if len(events) <= EVENTS_SHOWN_MAX:
        return list(events)
    telling = [event for event in events if not event[1].startswith(ROUTINE)]
    if len(telling) <= EVENTS_SHOWN_MAX:
        return telling
    half = EVENTS_SHOWN_MAX // 2
    return [*telling[:half], *telling[-half:]]


def _number_events(axes: Axes, shown: Sequence[tuple[float, str]]) -> None:
    """Put the number of each event above its line, on two levels so that close ones stay apart."""
    first_s, last_s = axes.get_xlim()
    for number, (at_s, _) in enumerate(shown, start=1):
        if not first_s <= at_s <= last_s:
            continue
        axes.annotate(
            str(number),
            (at_s, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, 2 + 8 * (number % 2)),
            textcoords="offset points",
            ha="center",
            fontsize=6.5,
            color=INK,
            annotation_clip=False,
        )


def shortened(text: str) -> str:
    """Return the text, its end left out where it is too long for its column."""
    return text if len(text) <= EVENT_LETTERS_MAX else f"{text[: EVENT_LETTERS_MAX - 1]}…"


def _write_events(axes: Axes, shown: Sequence[tuple[float, str]], total: int) -> None:
    axes.set_axis_off()
    half = (len(shown) + 1) // 2
    for index, (at_s, text) in enumerate(shown):
        column, row = divmod(index, half)
        axes.text(
            0.505 * column,
            1.0 - (row + 0.5) / max(half, 1),
            f"{index + 1}  {at_s:.2f} s  {shortened(text)}",
            transform=axes.transAxes,
            fontsize=7,
            va="center",
        )
    if total > len(shown):
        axes.text(
            1.0,
            0.0,
            f"{total - len(shown)} other events are left out",
            transform=axes.transAxes,
            fontsize=7,
            ha="right",
            va="top",
            color=QUIET,
        )
