"""Draws one worst run close up: the measured stretch, the curve it shows in, and what switched.

A plot of a whole run can't show what takes 50 ms. This one is cut to the stretch that was
measured, with the stretch itself shaded and its length written on it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import NDArray

from leafwinch.fault_texts import FAULTS
from leafwinch.signals import CONTACT_NAMES, OUTPUT_NAMES
from leafwinch.states import FAULT, STATE_NAMES
from leafwinch_host.look import (
    ANGLE,
    CURRENT,
    GRID,
    INK,
    OUTPUTS_SHOWN,
    QUIET,
    ROPE,
    STATE_COLOURS,
    STYLE,
    TRIP,
)
from leafwinch_host.stretches import runs_of, thinned
from leafwinch_host.strips import CONTACT_BAR, OUTPUT_BAR, draw_strips, freeze_layout

FACT_BAR = "#6a6f2b"
SPAN = "#e9c46a"
SPAN_INK = "#7a5200"
DEFECT = "#b3261e"
PAPER = "#fefefe"
WIDTH_IN = 6.3
LEAD_MS_MIN = 700  # shown before and after the measured stretch
LEAD_SHARE = 0.35
LIMIT_SHOWN_SHARE = 4.0  # a limit farther off than so many times the value is only written
STRIPS_MAX = 14
NEAR_TRIP_SHARE = 0.5  # lowering current beyond this share of the trip shows the level there too
TIMED = ("run_on", "pause", "overcurrent", "hung")  # measured in one piece, so the limit has a time
LABEL_SHARE_MIN = 0.09  # of the time axis, below which the name of a state does not fit

Numbers = NDArray[np.float64]
Trace = Mapping[str, Sequence[Any]]


@dataclass(frozen=True, slots=True)
class CaseNotes:
    """What a plot of a worst run says besides the trace.

    Attributes:
        measure: key of the measure.
        value, unit: as measured.
        limit: in the same unit, or None.
        from_s, to_s: bench times between which it was measured.
        defect_s: when the defect came, or None with nothing wrong.
        trip_a: running trip level in A, or None where the wiring has no controller.
        flat_mm: rope paid out with the deck flat.
    """

    measure: str
    value: float
    unit: str
    limit: float | None
    from_s: float
    to_s: float
    defect_s: float | None
    trip_a: float | None
    flat_mm: float


def value_words(value: float, unit: str) -> str:
    """Return a measured value with its unit, with no more digits than mean something."""
    if unit == "ms" or value == 0:
        return f"{value:.0f} {unit}"
    if unit == "mm":
        return f"{value:.1f} mm" if value < 1000 else f"{value:.0f} mm"
    return f"{value:.1f} {unit}"


def draw_case(trace: Trace, notes: CaseNotes) -> Figure:
    """Return the figure of one worst run; `trace` also holds the column `free_end_mm`."""
    with mpl.rc_context(STYLE):
        cut = _cut(trace, notes)
        strips = _strips(cut)
        height = 0.62 + 1.75 + 0.95 + 0.155 * len(strips)
        figure = Figure(figsize=(WIDTH_IN, height), layout="constrained")
        FigureCanvasAgg(figure)
        figure.patch.set_visible(False)
        ratios = [0.26, 1.75, 0.95, max(0.2, 0.155 * len(strips))]
        state, main, angle, bars = figure.subplots(
            4, 1, height_ratios=ratios, gridspec_kw={"hspace": 0.02}
        )
        time_s = _numbers(cut, "t_ms") / 1000.0
        if notes.trip_a is None:
            _draw_no_states(state)
        else:
            _draw_states(state, time_s, cut)
        state.set_ylim(0, 1)
        state.grid(visible=False)
        state.spines["left"].set_visible(False)
        state.tick_params(axis="both", length=0)
        state.patch.set_visible(False)
        _draw_main(main, time_s, cut, notes)
        _draw_angle(angle, time_s, cut)
        bars.patch.set_visible(False)
        draw_strips(bars, time_s, strips, half=0.3)
        _mark(state, (main, angle, bars), time_s, notes)
        for axes in (state, main, angle):
            axes.tick_params(axis="x", labelbottom=False)
        bars.set_xlabel("time, s")
        figure.align_ylabels([main, angle])
        freeze_layout(figure)
        return figure


def _cut(trace: Trace, notes: CaseNotes) -> dict[str, Any]:
    """Return the part of the trace round the measured stretch."""
    t_ms = np.asarray(trace["t_ms"], dtype=np.int64)
    span_ms = 1000.0 * (notes.to_s - notes.from_s)
    lead_ms = max(LEAD_MS_MIN, LEAD_SHARE * span_ms)
    first = int(np.searchsorted(t_ms, 1000.0 * notes.from_s - lead_ms))
    end_ms = 1000.0 * notes.to_s + lead_ms
    if notes.limit is not None and notes.measure in TIMED:
        end_ms = max(end_ms, 1000.0 * notes.from_s + notes.limit + lead_ms / 2)
    last = max(int(np.searchsorted(t_ms, end_ms)), first + 2)
    return {name: np.asarray(column)[first:last] for name, column in trace.items()}


def _numbers(cut: Mapping[str, Any], name: str) -> Numbers:
    return np.asarray(cut[name], dtype=np.float64)


def _strips(cut: Mapping[str, Any]) -> list[tuple[str, NDArray[np.int64], str]]:
    """Return the facts, outputs and contacts that change here: name, 0 or 1, colour."""
    asked = np.asarray(cut["asked"], dtype=np.int64)
    fed = np.asarray(cut["powered_way"], dtype=np.int64)
    rows = [
        ("control asks: raise", (asked == 1).astype(np.int64), FACT_BAR),
        ("control asks: lower", (asked == -1).astype(np.int64), FACT_BAR),
        ("motor fed", (fed != 0).astype(np.int64), FACT_BAR),
        ("brake set", np.asarray(cut["brake_set"], dtype=np.int64), FACT_BAR),
    ]
    outputs = np.asarray(cut["outputs"], dtype=np.int64)
    for name in OUTPUTS_SHOWN:
        if name == "lamp_white":
            continue  # it flashes in most states, which says nothing about the machine
        bit = OUTPUT_NAMES.index(name)
        rows.append((f"{name.replace('_', ' ')} (out)", outputs >> bit & 1, OUTPUT_BAR))
    contacts = np.asarray(cut["contacts"], dtype=np.int64)
    for bit, name in enumerate(CONTACT_NAMES):
        rows.append((name.replace("_", " "), contacts >> bit & 1, CONTACT_BAR))
    changing = [row for row in rows if row[1].size and row[1].min() != row[1].max()]
    return changing[:STRIPS_MAX]


def _draw_states(axes: Axes, time_s: Numbers, cut: Mapping[str, Any]) -> None:
    span_s = float(time_s[-1] - time_s[0]) or 1.0
    faults = np.asarray(cut["fault"], dtype=np.int64)
    for first, end, value in runs_of(np.asarray(cut["state"], dtype=np.int64)):
        begin_s = float(time_s[first])
        end_s = float(time_s[min(end, time_s.size - 1)])
        axes.axvspan(begin_s, end_s, color=STATE_COLOURS[value], linewidth=0)
        share = (end_s - begin_s) / span_s
        if share < LABEL_SHARE_MIN:
            continue
        text = STATE_NAMES[value]
        number = int(faults[first])
        if value == FAULT and number:
            name = FAULTS[number - 1][0].replace("_", " ")
            text = f"fault {number}" if share < 4 * LABEL_SHARE_MIN else f"fault {number}: {name}"
        axes.text((begin_s + end_s) / 2, 0.5, text, ha="center", va="center", fontsize=8)
    axes.set_yticks([0.5], ["state"])


def _draw_no_states(axes: Axes) -> None:
    axes.text(0.5, 0.5, "no controller", transform=axes.transAxes, ha="center", va="center")
    axes.set_yticks([])


def _draw_main(axes: Axes, time_s: Numbers, cut: Mapping[str, Any], notes: CaseNotes) -> None:
    """Draw the curve in which the measure shows, with its limit where that is near enough."""
    axes.patch.set_visible(False)
    measure = notes.measure
    if measure in ("overrun", "fall"):
        _curve(axes, time_s, _moved_mm(time_s, cut, notes), ROPE, "free end\nmoved, mm")
    elif measure == "buffer":
        _curve(axes, time_s, _numbers(cut, "buffer_force_n") / 1000.0, ROPE, "buffer force, kN")
        axes.set_ylim(0, max(1.0, 1.15 * float(axes.get_ylim()[1])))
    elif measure == "paid_out":
        beyond_mm = _numbers(cut, "rope_out_mm") - notes.flat_mm
        _curve(axes, time_s, beyond_mm, ROPE, "rope beyond\nflat, mm")
    else:
        current_a = _numbers(cut, "current_a")
        _curve(axes, time_s, current_a, CURRENT, "motor current, A")
        if notes.trip_a is not None:
            if float(current_a.min()) < -NEAR_TRIP_SHARE * notes.trip_a:
                axes.axhline(-notes.trip_a, color=TRIP, linewidth=1.0, linestyle=(0, (6, 2)))
            _level(axes, notes.trip_a, f"trip {notes.trip_a:g} A")
        return
    if notes.limit is not None and notes.value * LIMIT_SHOWN_SHARE >= notes.limit:
        _level(axes, notes.limit, f"limit {notes.limit:g} {notes.unit}")


def _moved_mm(time_s: Numbers, cut: Mapping[str, Any], notes: CaseNotes) -> Numbers:
    """Return the way of the free end from where measuring began, counted in that direction."""
    free_mm = _numbers(cut, "free_end_mm")
    begin, end = (
        min(int(np.searchsorted(time_s, at_s)), free_mm.size - 1)
        for at_s in (notes.from_s, notes.to_s)
    )
    sign = -1.0 if free_mm[end] < free_mm[begin] else 1.0
    moved_mm: Numbers = sign * (free_mm - free_mm[begin])
    return moved_mm


def _curve(axes: Axes, time_s: Numbers, values: Numbers, colour: str, label: str) -> None:
    axes.plot(*thinned(time_s, values), color=colour, linewidth=1.3)
    axes.set_ylabel(label, fontsize=8)
    axes.margins(y=0.14)


def _level(axes: Axes, level: float, words: str) -> None:
    axes.axhline(level, color=TRIP, linewidth=1.0, linestyle=(0, (6, 2)))
    low, high = axes.get_ylim()
    room = 0.16 * max(high - low, level - low)
    axes.set_ylim(min(low, level), max(high, level + room))
    axes.annotate(
        words,
        (0.004, level),
        xycoords=("axes fraction", "data"),
        xytext=(0, 2),
        textcoords="offset points",
        fontsize=7.5,
        color=TRIP,
    )


def _draw_angle(axes: Axes, time_s: Numbers, cut: Mapping[str, Any]) -> None:
    axes.patch.set_visible(False)
    angle_deg = _numbers(cut, "angle_deg")
    axes.plot(*thinned(time_s, angle_deg), color=ANGLE, linewidth=1.3)
    axes.set_ylabel("angle, °", fontsize=8)
    middle = float(angle_deg.min() + angle_deg.max()) / 2
    half = max(1.0, float(np.ptp(angle_deg)) * 0.62)
    axes.set_ylim(middle - half, middle + half)


def _mark(top: Axes, others: Sequence[Axes], time_s: Numbers, notes: CaseNotes) -> None:
    """Shade the measured stretch, write its length on it, and show when the defect came."""
    begin_s, end_s = float(time_s[0]), float(time_s[-1])
    for axes in (top, *others):
        axes.set_xlim(begin_s, end_s)
    for axes in others:
        if notes.to_s > notes.from_s:
            axes.axvspan(notes.from_s, notes.to_s, color=SPAN, alpha=0.4, linewidth=0, zorder=0.5)
        else:
            axes.axvline(notes.to_s, color=SPAN_INK, linewidth=1.2)
    if notes.limit is not None and notes.measure in TIMED:
        _mark_time_limit(others, notes)
    span_s = (end_s - begin_s) or 1.0
    left = (notes.to_s - begin_s) / span_s > 0.86
    others[0].annotate(
        value_words(notes.value, notes.unit),
        (notes.to_s, 0.96),
        xycoords=("data", "axes fraction"),
        xytext=(-5 if left else 5, 0),
        textcoords="offset points",
        ha="right" if left else "left",
        va="top",
        fontsize=9,
        fontweight="bold",
        color=SPAN_INK,
        bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.8, "pad": 1.0},
        zorder=5,
    )
    defect_s = notes.defect_s
    if defect_s is None or not begin_s <= defect_s <= end_s:
        return
    for axes in (top, *others):
        axes.axvline(defect_s, color=DEFECT, linewidth=1.1, linestyle=(0, (3, 1.5)))
    right = (defect_s - begin_s) / ((end_s - begin_s) or 1.0) > 0.8
    others[0].annotate(
        "defect comes",
        (defect_s, 0.04),
        xycoords=("data", "axes fraction"),
        xytext=(-3 if right else 3, 0),
        textcoords="offset points",
        ha="right" if right else "left",
        fontsize=7.5,
        color=DEFECT,
    )


def _mark_time_limit(axes_of: Sequence[Axes], notes: CaseNotes) -> None:
    """Draw the time at which the measured stretch would have reached its limit."""
    if notes.limit is None:
        return
    limit_s = notes.from_s + notes.limit / 1000.0
    for axes in axes_of:
        axes.axvline(limit_s, color=TRIP, linewidth=1.0, linestyle=(0, (1, 1.5)))
    axes_of[0].annotate(
        f"limit {notes.limit:g} {notes.unit}",
        (limit_s, 0.24),
        xycoords=("data", "axes fraction"),
        xytext=(4, 0),
        textcoords="offset points",
        fontsize=7.5,
        color=TRIP,
        bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.8, "pad": 1.0},
        zorder=5,
    )


PLOT_COLOURS = {
    "paper": PAPER,
    "ink": INK,
    "quiet": QUIET,
    "grid": GRID,
    "angle": ANGLE,
    "rope": ROPE,
    "current": CURRENT,
    "trip": TRIP,
    "contact": CONTACT_BAR,
    "output": OUTPUT_BAR,
    "fact": FACT_BAR,
    "span": SPAN,
    "spanink": SPAN_INK,
    "defect": DEFECT,
    **{f"state{state}": colour for state, colour in STATE_COLOURS.items()},
}
"""Every colour a plot is drawn with, by the name of the style that replaces it on a page."""
