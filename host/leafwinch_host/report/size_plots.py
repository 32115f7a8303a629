"""Draws what a sizing found: pull and current over the angle, overruns, starting torque."""

import math
from collections.abc import Sequence

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from numpy.typing import NDArray

from leafwinch.requirement_limits import R1_OVERRUN_MM
from leafwinch_host.look import GRID, INK, QUIET, ROPE, STYLE, TRIP
from leafwinch_host.strips import freeze_layout
from leafwinch_sim.sizing.drive import Drive
from leafwinch_sim.sizing.findings_lift import START_RESERVE
from leafwinch_sim.sizing.parts import Parts
from leafwinch_sim.sizing.proposals import start_peak_a
from leafwinch_sim.sizing.stopping import UP, Overrun
from leafwinch_sim.sizing.worked import Worked

WIDTH_IN = 8.2
UP_COLOUR, DOWN_COLOUR = ROPE, "#0072b2"
LIMIT, WINDOW, MARK = TRIP, "#009e73", "#6a4c93"
BAR, PALE_BAR = "#4a7c93", "#a9c5d2"
COLOURS = {
    "ink": INK,
    "quiet": QUIET,
    "grid": GRID,
    "rope": UP_COLOUR,
    "angle": DOWN_COLOUR,
    "trip": LIMIT,
    "window": WINDOW,
    "mark": MARK,
    "bar": BAR,
    "palebar": PALE_BAR,
}
"""The colours of these plots by the names that the page's style sheet gives them."""

SHOWN_OVER_ALLOWED = 2.2  # a pull that rises further than so many times the allowed one is cut
BAND_ALPHA = 0.2
LEVEL_GAP = 0.062  # of the axis, between the words of two levels

Numbers = NDArray[np.float64]


def new_figure(height_in: float) -> Figure:
    """Return an empty figure of the reports' width, without a background."""
    # Fonts of other readers may be a little wider than the one that the layout is measured with.
    layout = ConstrainedLayoutEngine(w_pad=0.1)
    figure = Figure(figsize=(WIDTH_IN, height_in), layout=layout)
    FigureCanvasAgg(figure)
    figure.patch.set_visible(False)
    return figure


def bare(*all_axes: Axes) -> None:
    """Take away the background of axes, so that the page's own shows."""
    for axes in all_axes:
        axes.patch.set_visible(False)


def finite(values: Numbers) -> Numbers:
    """Return the values with gaps where they are infinite, which no curve can show."""
    return np.where(np.isfinite(values), values, np.nan)


def pull_figure(parts: Parts) -> Figure:
    """Draw the line pull over the angle, in N, with its band and what the winch may pull."""
    worked = parts.worked
    with mpl.rc_context(STYLE):
        figure = new_figure(3.9)
        axes = figure.subplots()
        bare(axes)
        up, down = worked.up_range(), worked.down_range()
        angle = worked.geometry.angle_deg
        allowed = _allowed(worked)
        raising = [drive.tension.raise_n for drive in worked.corners]
        lowering = [drive.tension.lower_n for drive in worked.corners]
        _band(axes, angle[up], [row[up] for row in raising], UP_COLOUR)
        _band(axes, angle[down], [row[down] for row in lowering], DOWN_COLOUR)
        axes.plot(
            angle[up], finite(worked.tension.raise_n[up]), color=UP_COLOUR, lw=1.8, label="raising"
        )
        # Where the rope has no lever nothing can be said of lowering either.
        levered = np.isfinite(worked.tension.raise_n[down])
        axes.plot(
            angle[down],
            np.where(levered, worked.tension.lower_n[down], np.nan),
            color=DOWN_COLOUR,
            lw=1.6,
            ls=(0, (6, 2)),
            label="lowering",
        )
        if allowed is not None:
            axes.step(
                angle[up],
                allowed[up],
                where="post",
                color=LIMIT,
                lw=1.5,
                ls=(0, (3, 1, 1, 1)),
                label="allowed by the winch's plate, by layer",
            )
        top = _pull_top(worked, allowed)
        axes.set_ylim(0.0, top)
        axes.set_xlim(0.0, float(angle[-1]))
        _mark_angles(axes, parts, top)
        if not np.all(np.isfinite(worked.tension.raise_n[up])):
            axes.text(9.0, 0.93 * top, "without end at the flat deck", color=UP_COLOUR, fontsize=8)
        axes.set_xlabel("fold angle of leaf A, °")
        axes.set_ylabel("line pull at the drum, N")
        handles, labels = axes.get_legend_handles_labels()
        handles.append(Patch(color=QUIET, alpha=0.4, lw=0))
        labels.append("between the easiest and the hardest conditions")
        figure.legend(
            handles, labels, loc="outside upper center", ncols=2, frameon=False, fontsize=8
        )
        freeze_layout(figure)
        return figure


def _allowed(worked: Worked) -> Numbers | None:
    """Return what the winch may pull at each angle: the plate's pull belongs to the first layer."""
    site = worked.site
    if site.nameplate is None:
        return None
    first = site.drum.core_radius + 0.5 * site.rope.diameter
    return np.asarray(site.nameplate.line_pull * first / worked.geometry.radius_m)


def _band(axes: Axes, angle: Numbers, rows: Sequence[Numbers], colour: str) -> None:
    low = np.min(rows, axis=0)
    high = np.max(rows, axis=0)
    shown = np.isfinite(low)
    # A band without an upper end is drawn up to far beyond the axis.
    high = np.nan_to_num(high, posinf=1e9)
    axes.fill_between(angle[shown], low[shown], high[shown], color=colour, alpha=BAND_ALPHA, lw=0)


def _pull_top(worked: Worked, allowed: Numbers | None) -> float:
    """Return the top of the axis: all curves in sight, unless the pull runs away."""
    rows = [drive.tension.raise_n[worked.up_range()] for drive in worked.corners]
    pulls = np.concatenate(rows)
    pulls = pulls[np.isfinite(pulls)]
    highest = float(np.max(pulls)) if len(pulls) else 1.0
    plate = float(np.max(allowed)) if allowed is not None else float(np.percentile(pulls, 90))
    return 1.18 * max(min(highest, SHOWN_OVER_ALLOWED * plate), plate)


def _mark_angles(axes: Axes, parts: Parts, top: float) -> None:
    """Mark where the rope leaves the kicker and from where the deck stays up by itself."""
    deck = parts.worked.site.deck
    leaves = math.degrees(math.asin(min(1.0, deck.kicker_depth / deck.leaf_a.length)))
    if leaves > 0.0:
        axes.axvline(leaves, color=MARK, lw=1.0, ls=(0, (2, 2)))
        axes.text(
            leaves + 0.8,
            0.93 * top,
            f"the rope leaves the kicker at {leaves:.1f}°",
            color=MARK,
            fontsize=8,
        )
    right = float(axes.get_xlim()[1])
    poor = min(parts.slack_poor_deg, right)
    if poor < right:
        axes.axvspan(poor, right, color=QUIET, alpha=0.3, lw=0)
    axes.axvline(poor, color=QUIET, lw=1.0)
    axes.text(
        poor - 0.8,
        0.5 * top,
        f"stays up by itself from {parts.slack_poor_deg:.1f}° when aged,\n"
        f"from {parts.slack_deg:.1f}° as the file says"
        if parts.slack_deg < parts.worked.site.buffer.wall
        else f"stays up by itself from {parts.slack_poor_deg:.1f}°\nwhen aged, else never",
        color=INK,
        fontsize=8,
        ha="right",
        va="center",
    )


def current_figure(parts: Parts) -> Figure:
    """Draw the motor's current in A over the angle both ways, the levels, and the start."""
    with mpl.rc_context(STYLE):
        figure = new_figure(3.7)
        rising, sinking, start = figure.subplots(1, 3, width_ratios=[3.0, 3.0, 1.5])
        bare(rising, sinking, start)
        worked = parts.worked
        settings = {row.name: row.value / 1000.0 for row in parts.settings}
        top = _current_top(parts)
        for axes, way in ((rising, "up"), (sinking, "down")):
            where = worked.up_range() if way == "up" else worked.down_range()
            _draw_current(axes, worked, way, where)
            _draw_levels(axes, parts, settings["run_max_ma"], top)
            axes.set_ylim(0.0 if _lowest_a(worked) >= 0.0 else 1.2 * _lowest_a(worked), top)
            axes.set_xlim(0.0, float(worked.geometry.angle_deg[-1]))
            axes.set_xlabel("fold angle of leaf A, °")
        rising.set_title("raising", fontsize=9, loc="left")
        sinking.set_title("lowering", fontsize=9, loc="left")
        rising.set_ylabel("motor current, A")
        sinking.tick_params(axis="y", labelleft=False)
        _draw_start(start, parts, settings)
        freeze_layout(figure)
        return figure


def _runs(drives: Sequence[Drive], way: str, where: slice) -> list[Numbers]:
    return [getattr(drive, way).current_a[where] for drive in drives]


def _lowest_a(worked: Worked) -> float:
    return min(
        float(np.min(row))
        for way, where in (("up", worked.up_range()), ("down", worked.down_range()))
        for row in _runs(worked.corners, way, where)
    )


def _current_top(parts: Parts) -> float:
    window = parts.window
    highest = window.high_a if math.isfinite(window.high_a) else 2.0 * window.low_a
    if not window.open:
        return 1.25 * max(window.low_a, highest)
    # A window that reaches far up would press the curves to the ground.
    return min(1.2 * highest, 1.7 * window.chosen_a)


def _draw_current(axes: Axes, worked: Worked, way: str, where: slice) -> None:
    angle = worked.geometry.angle_deg[where]
    colour = UP_COLOUR if way == "up" else DOWN_COLOUR
    nominal = getattr(worked.nominal, way).current_a[where]
    _band(axes, angle, _runs(worked.corners, way, where), colour)
    axes.plot(angle, finite(nominal), color=colour, lw=1.7)


def _draw_levels(axes: Axes, parts: Parts, run_max_a: float, top: float) -> None:
    window = parts.window
    gap = LEVEL_GAP * top
    labels = []
    axes.axhline(window.low_a, color=WINDOW, lw=0.9)
    if window.open:
        axes.axhspan(window.low_a, min(window.high_a, top), color=WINDOW, alpha=0.13, lw=0)
        axes.axhline(window.chosen_a, color=LIMIT, lw=1.4, ls=(0, (6, 2)))
        axes.axhline(run_max_a, color=MARK, lw=1.1, ls=(0, (3, 2)))
        # Levels too close for words between them are named above the highest.
        close = window.chosen_a - run_max_a < gap
        lowest = window.chosen_a if close else run_max_a
        labels.append((window.low_a - gap, f"highest healthy {window.low_a:.3g} A", INK))
        labels.append((lowest, f"blocked above {run_max_a:.3g} A", MARK))
        labels.append((window.chosen_a, f"trip {window.chosen_a:.3g} A", LIMIT))
        end = f"window for the trip, to {window.high_a:.3g} A"
        labels.append((min(window.high_a, 0.93 * top), end, INK))
    else:
        axes.axhline(window.high_a, color=LIMIT, lw=1.2)
        labels.append((window.low_a, f"highest healthy {window.low_a:.3g} A", INK))
        labels.append((window.high_a, f"trip must lie below {window.high_a:.3g} A", LIMIT))
        labels.append((0.93 * top, "no window for a trip", LIMIT))
    right = float(parts.worked.geometry.angle_deg[-1])
    for at, words, colour in spread_out(labels, gap):
        axes.annotate(
            words,
            (0.985 * right, at),
            xytext=(0, 2),
            textcoords="offset points",
            ha="right",
            fontsize=7.5,
            color=colour,
        )


def spread_out(labels: list[tuple[float, str, str]], gap: float) -> list[tuple[float, str, str]]:
    """Return labels of (place, words, colour) from below, each moved up clear of the one before."""
    found: list[tuple[float, str, str]] = []
    for at, words, colour in sorted(labels):
        lowest = found[-1][0] + gap if found else at
        found.append((max(at, lowest), words, colour))
    return found


def _draw_start(axes: Axes, parts: Parts, settings: dict[str, float]) -> None:
    peak = start_peak_a(parts.worked)
    axes.bar([0.5], [peak], width=0.45, color=BAR, lw=0)
    axes.annotate(
        f"{peak:.1f} A",
        (0.5, peak),
        xytext=(0, 2),
        textcoords="offset points",
        ha="center",
        fontsize=8,
    )
    trip, sensor = settings["inrush_trip_ma"], settings["sensor_range_ma"]
    for at, words, colour in (
        (trip, f"starting trip {trip:.3g} A", LIMIT),
        (sensor, f"sensor ends at {sensor:.3g} A", MARK),
    ):
        axes.axhline(at, color=colour, lw=1.3, ls=(0, (6, 2)))
        axes.annotate(
            words,
            (0.5, at),
            xytext=(0, 2),
            textcoords="offset points",
            ha="center",
            fontsize=7.5,
            color=colour,
        )
    axes.set_title("at a start", fontsize=9, loc="left")
    axes.set_ylim(0.0, 1.15 * max(peak, trip, sensor))
    axes.set_xlim(0.0, 1.0)
    axes.set_xticks([])
    axes.set_xlabel(f"up to {settings['inrush_ms']:.2g} s after it")
    axes.grid(visible=False, axis="x")


def overrun_figure(parts: Parts) -> Figure:
    """Draw how far rope and fastest point go after each kind of stop, in mm."""
    worked = parts.worked
    with mpl.rc_context(STYLE):
        figure = new_figure(0.9 + 0.46 * len(worked.kinds))
        rope, point = figure.subplots(1, 2, width_ratios=[1.0, 1.25], sharey=True)
        bare(rope, point)
        sound, worn = worked.overruns(worn=False), worked.overruns(worn=True)
        for axes, name in ((rope, "rope_mm"), (point, "point_mm")):
            _draw_overruns(axes, worked, sound, worn, name)
        words = [_folded(kind.words) for kind in worked.kinds]
        rope.set_yticks(range(len(words)), words, fontsize=8)
        rope.set_ylim(len(words) - 0.45, -0.55)
        rope.tick_params(axis="y", length=0)
        rope.set_xlabel("rope runs on, mm")
        point.set_xlabel("fastest point of the deck runs on, mm")
        point.axvline(R1_OVERRUN_MM, color=LIMIT, lw=1.4, ls=(0, (6, 2)))
        handles = [
            Patch(color=UP_COLOUR, lw=0),
            Patch(color=DOWN_COLOUR, lw=0),
            Patch(color=QUIET, alpha=0.45, lw=0),
            Line2D([], [], color=LIMIT, lw=1.4, ls=(0, (6, 2))),
        ]
        figure.legend(
            handles,
            [
                "upwards, sound brake",
                "downwards, sound brake",
                "pale: worn brake",
                f"{R1_OVERRUN_MM} mm allowed, control let go",
            ],
            loc="outside upper right",
            ncols=4,
            frameon=False,
            fontsize=8,
        )
        freeze_layout(figure)
        return figure


def _draw_overruns(
    axes: Axes, worked: Worked, sound: list[Overrun], worn: list[Overrun], name: str
) -> None:
    longest = 0.0
    for row, kind in enumerate(worked.kinds):
        for way, colour, shift in ((UP, UP_COLOUR, -0.18), (-UP, DOWN_COLOUR, 0.18)):
            good, poor = (
                next(getattr(o, name) for o in found if o.kind == kind and o.way == way)
                for found in (sound, worn)
            )
            axes.barh(row + shift, poor, height=0.32, color=colour, alpha=0.4, lw=0)
            axes.barh(row + shift, good, height=0.32, color=colour, lw=0)
            axes.annotate(
                f"{max(good, poor):.0f}",
                (max(good, poor), row + shift),
                xytext=(2, 0),
                textcoords="offset points",
                va="center",
                fontsize=7,
            )
            longest = max(longest, good, poor)
    axes.set_xlim(
        0.0, 1.12 * (max(longest, float(R1_OVERRUN_MM)) if name != "rope_mm" else longest)
    )
    axes.grid(visible=False, axis="y")


def _folded(words: str) -> str:
    """Break a long name in two lines."""
    if len(words) < 30:
        return words
    middle = min(
        (i for i, c in enumerate(words) if c == " "), key=lambda i: abs(i - len(words) / 2)
    )
    return f"{words[:middle]}\n{words[middle + 1 :]}"


def start_figure(parts: Parts) -> Figure:
    """Draw the starting torque at the shaft on the lowest supply against what is needed, in N m."""
    start = parts.start
    with mpl.rc_context(STYLE):
        figure = new_figure(1.9)
        axes = figure.subplots()
        bare(axes)
        rows = (
            ("the motor makes, on a low supply", start.torque_nm, BAR),
            ("needed, heavy, stiff and cold", start.hard_need_nm, UP_COLOUR),
            (
                f"needed as the file says, {START_RESERVE:g} times",
                START_RESERVE * start.need_nm,
                MARK,
            ),
            ("needed as the file says", start.need_nm, DOWN_COLOUR),
        )
        known = [value for _, value, _ in rows if math.isfinite(value)]
        right = 1.15 * max(known)
        for row, (_, value, colour) in enumerate(rows):
            ends = math.isfinite(value)
            axes.barh(
                row, min(value, right), height=0.62, color=colour, lw=0, alpha=1.0 if ends else 0.3
            )
            axes.annotate(
                f"{value:.2f}" if ends else "without end",
                (min(value, right), row),
                xytext=(3 if ends else -3, 0),
                textcoords="offset points",
                ha="left" if ends else "right",
                va="center",
                fontsize=8,
            )
        axes.axvline(start.torque_nm, color=BAR, lw=1.0, ls=(0, (4, 2)))
        axes.set_yticks(range(len(rows)), [words for words, _, _ in rows], fontsize=8)
        axes.set_ylim(len(rows) - 0.5, -0.5)
        axes.set_xlim(0.0, right)
        axes.tick_params(axis="y", length=0)
        axes.set_xlabel(f"torque at the motor's shaft, N m (worst at {start.angle_deg:.0f}°)")
        axes.grid(visible=False, axis="y")
        freeze_layout(figure)
        return figure
