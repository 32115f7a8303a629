"""The tables of the sizing report: what was worked out, what is asked, and who says so."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from leafwinch.requirement_limits import R1_OVERRUN_MM
from leafwinch.setting_texts import SETTING_MEANINGS
from leafwinch.settings_schema import SCHEMA
from leafwinch_host.report.place_words import (
    NAMES,
    SENSES,
    allowed_words,
    measured,
    overrun_words,
)
from leafwinch_sim.sizing.findings_drive import DUTY_MIN_CYCLES
from leafwinch_sim.sizing.findings_lift import START_RESERVE
from leafwinch_sim.sizing.force_rules import DYNAMIC_LIMIT_N, GAPS_MM, STATIC_LIMIT_N
from leafwinch_sim.sizing.parts import RESERVE, Parts
from leafwinch_sim.sizing.stopping import UP
from leafwinch_sim.sizing.trip_window import bearers

PRACTICE = "common practice, no source"
WORKED_OUT = "worked out from the site file"
BENCH = "simulated with the bench's machine"
STATED = "stated in the site file"
HOLDS, SHORT, UNKNOWN = "✓ holds", "✕ falls short", "not judged"
JUDGED_HEAD = ("", "Value", "Asked", "Result", "Source")
NOT_ASKED = "–"
NO_BREAK = "\u00a0"
NEWTON_METRES = f"N{NO_BREAK}m"


@dataclass(frozen=True, slots=True)
class Row:
    """Cells of one row; `css` is "good", "bad" or empty, for the cell of its result."""

    cells: tuple[str, ...]
    css: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table ready to be set: id, heads of its columns, rows, column of the results or -1."""

    key: str
    head: tuple[str, ...]
    rows: list[Row]
    result_column: int = -1


def num(value: float | None, form: str, unit: str = "") -> str:
    """Return a number with its unit, or words where there is none or where it is infinite."""
    if value is None:
        return UNKNOWN
    if not math.isfinite(value):
        return "without end"
    # A line must not break between a number and its unit.
    return f"{value:{form}}{NO_BREAK if unit else ''}{unit}"


def judged(key: str, rows: Iterable[Row]) -> Table:
    """Return a table of values against what is asked of them."""
    return Table(key, JUDGED_HEAD, list(rows), JUDGED_HEAD.index("Result"))


def judge(what: str, value: str, asked: str, holds: bool | None, source: str) -> Row:
    """Return one judged row; `holds` is None where nothing was compared."""
    if holds is None:
        return Row((what, value, asked, UNKNOWN, source))
    return Row((what, value, asked, HOLDS if holds else SHORT, source), "good" if holds else "bad")


def told(what: str, value: str, source: str) -> Row:
    """Return a row of which nothing is asked."""
    return Row((what, value, NOT_ASKED, NOT_ASKED, source))


def pull_table(parts: Parts) -> Table:
    """Return the line pull against the winch's plate."""
    pull, rope = parts.pull, parts.rope
    known = pull.allowed_n is not None
    return judged(
        "pull",
        (
            told(
                "greatest line pull as the file says",
                num(rope.peak_n, ".0f", "N"),
                f"{WORKED_OUT}; worst against the plate at {pull.at_deg:.0f}°",
            ),
            told("the same, heavy and stiff", num(rope.worst_n, ".0f", "N"), WORKED_OUT),
            told(
                "the same, with the jerk of a start",
                num(parts.worked.starting.peak_line_n, ".0f", "N"),
                BENCH,
            ),
            told(
                "the winch allows on the layer in use",
                num(pull.allowed_n, ".0f", "N"),
                "winch's plate, less the share of the rope's layer",
            ),
            judge(
                "reserve as the file says",
                num(pull.reserve if known else None, ".2f", "times"),
                f"at least {RESERVE:g} times",
                pull.reserve >= RESERVE if known else None,
                PRACTICE,
            ),
            judge(
                "reserve, heavy and stiff",
                num(pull.hard_reserve if known else None, ".2f", "times"),
                "at least 1",
                pull.hard_reserve >= 1.0 if known else None,
                "winch's plate",
            ),
        ),
    )


def kicker_table(parts: Parts) -> Table:
    """Return the least kicker depth without and with friction and reserve, and the given one."""
    pull = parts.pull
    depth = parts.worked.site.deck.kicker_depth

    def words(least_m: float | None) -> str:
        if pull.allowed_n is None:
            return UNKNOWN
        return "no depth is enough" if least_m is None else f"{math.ceil(least_m * 1000)} mm"

    enough = None
    if pull.allowed_n is not None:
        enough = pull.least_kicker_m is not None and depth >= pull.least_kicker_m
    verdict = UNKNOWN if enough is None else HOLDS if enough else SHORT
    css = "" if enough is None else "good" if enough else "bad"
    return Table(
        "kicker",
        ("Depth of the roller below the mid hinge", "Depth", "Result", "How it was found"),
        [
            Row(
                (
                    "least, without friction and reserve",
                    words(pull.bare_kicker_m),
                    NOT_ASKED,
                    "virtual work: the plate's pull against the weight alone",
                )
            ),
            Row(
                (
                    f"least, with friction and a reserve of {RESERVE:g}, and heavy and stiff",
                    words(pull.least_kicker_m),
                    NOT_ASKED,
                    f"virtual work with dry friction; the reserve is {PRACTICE}",
                )
            ),
            Row(("yours", f"{depth * 1000:.0f} mm", verdict, "site file"), css),
        ],
        2,
    )


def start_table(parts: Parts) -> Table:
    """Return the starting torque against its need."""
    start, run = parts.start, parts.worked.starting
    made = num(start.torque_nm, ".2f")

    def over(reserve: float, need_nm: float) -> str:
        times = num(reserve, ".2f", "times")
        return f"{times} ({made} over {num(need_nm, '.2f', NEWTON_METRES)})"

    return judged(
        "start",
        (
            judge(
                "starting torque over need, as the file says",
                over(start.reserve, start.need_nm),
                f"at least {START_RESERVE:g} times",
                start.reserve >= START_RESERVE,
                f"{PRACTICE}; supply 10{NO_BREAK}% low",
            ),
            judge(
                "the same, heavy, stiff and cold",
                over(start.hard_reserve, start.hard_need_nm),
                "at least 1",
                start.hard_reserve >= 1.0,
                WORKED_OUT,
            ),
            judge(
                "a start takes, at its hardest",
                num(run.seconds, ".2f", "s"),
                "an end",
                math.isfinite(run.seconds),
                BENCH,
            ),
        ),
    )


def window_table(parts: Parts) -> Table:
    """Return what bounds the trip: healthy current, stall, and every part that bears the pull."""
    window = parts.window
    rows = [
        Row(("lowest: highest healthy current", num(window.low_a, ".2f", "A"), "", WORKED_OUT)),
        Row(("highest: a stall on a low supply", num(window.stall_a, ".2f", "A"), "", WORKED_OUT)),
        Row(
            (
                f"highest: {window.weakest.words} has all that it bears",
                num(window.strength_a, ".2f", "A"),
                num(window.weakest.line_n, ".0f", "N"),
                WORKED_OUT,
            )
        ),
    ]
    for bearer in bearers(parts.worked.site)[1:]:
        rows.append(
            Row((f"bears more: {bearer.words}", NOT_ASKED, num(bearer.line_n, ".0f", "N"), STATED))
        )
    chosen = num(window.chosen_a, ".2f", "A") if window.open else "no place for it"
    pull = num(window.line_at_trip_n, ".0f", "N") if window.open else NOT_ASKED
    rows.append(Row(("the trip", chosen, pull, "geometric mean of its bounds")))
    return Table("window", ("", "Current", "Line pull", "Source"), rows)


def places_table(parts: Parts) -> Table:
    """Return where each limit goes."""
    rows = []
    for place in parts.places:
        rows.append(
            Row(
                (
                    f"{place.part} {NAMES[place.key]}",
                    SENSES[place.senses],
                    f"{measured(place, place.given)}{NO_BREAK}{'✓' if place.good else '✕'}",
                    allowed_words(place),
                    measured(place, place.proposed) if place.exists else NOT_ASKED,
                    overrun_words(place),
                    f"{place.words}; behind it: {place.behind}",
                ),
                "good" if place.good else "bad",
            )
        )
    head = ("Limit", "Senses", "Yours", "Allowed", "Proposed", "Then runs on", "Why there")
    return Table("places", head, rows, 2)


def stops_table(parts: Parts) -> Table:
    """Return the overrun after each kind of stop: upwards and downwards, sound and worn brake."""
    worked = parts.worked
    sound, worn = worked.overruns(worn=False), worked.overruns(worn=True)
    rows = []
    for kind in worked.kinds:
        cells = [kind.words, f"{kind.fed_ms:.0f}"]
        worst = 0.0
        for way in (UP, -UP):
            good, poor = (
                next(o for o in found if o.kind == kind and o.way == way) for found in (sound, worn)
            )
            cells.append(f"{good.rope_mm:.0f} / {poor.rope_mm:.0f}")
            cells.append(f"{good.point_mm:.0f} / {poor.point_mm:.0f}")
            worst = max(worst, poor.point_mm)
        limited = kind.key == "release"
        asked = f"{R1_OVERRUN_MM} mm: EN 12453, hold to run" if limited else NOT_ASKED
        css = "" if not limited else "good" if worst <= R1_OVERRUN_MM else "bad"
        mark = {"good": f"{NO_BREAK}✓", "bad": f"{NO_BREAK}✕"}.get(css, "")
        rows.append(Row((*cells, f"{asked}{mark}", kind.why), css))
    head = (
        "Stop",
        "Fed for, ms",
        "Up: rope, mm",
        "point, mm",
        "Down: rope, mm",
        "point, mm",
        "Allowed for the point",
        "Why so long",
    )
    return Table("stops", head, rows, 6)


def obstacle_table(parts: Parts) -> Table:
    """Return the forces on a person or thing in the way against EN 12453."""
    forces = parts.forces
    asked = f"at most {DYNAMIC_LIMIT_N:.0f} N at first, {STATIC_LIMIT_N:.0f} N after that"
    rows = [
        judge(
            f"pressed by the free end, worst at {forces.closing_angle_deg:.0f}°, current at "
            "the trip",
            num(forces.closing_n, ".0f", "N"),
            asked,
            forces.closing.dynamic_ok and forces.closing.static_ok,
            "EN 12453",
        ),
        judge(
            "beneath the mid hinge, weight alone",
            num(forces.weight_n, ".0f", "N"),
            asked,
            forces.weight.dynamic_ok and forces.weight.static_ok,
            "EN 12453",
        ),
    ]
    rows.append(
        judge(
            "left from wall hinge to wheel axle, at the buffer",
            f"{num(forces.gap_mm, '.0f', 'mm')}: "
            + (f"crushes {' and '.join(forces.crushed)}" if forces.crushed else "room for a body"),
            f"at least {max(GAPS_MM.values()):.0f} mm",
            not forces.crushed,
            "ISO 13854, from memory",
        )
    )
    return judged("obstacle", rows)


def duty_table(parts: Parts) -> Table:
    """Return how often the deck may be moved."""
    duty = parts.duty
    rated, starts = duty.rated, duty.starts
    allowed = "" if starts is None else f", {starts.value:g} starts an hour ({starts.words})"
    return judged(
        "duty",
        (
            judge(
                "RMS current of the hardest travel and its start",
                num(duty.rms_a, ".2f", "A"),
                "not stated" if rated is None else f"at most {rated.value:g} A",
                None if rated is None else duty.rms_a <= rated.value,
                f"{'winch' if rated is None else rated.words}; textbooks of electric drives",
            ),
            judge(
                "energised up and down, at its slowest",
                num(duty.on_s, ".0f", "s"),
                f"at most {duty.in_one_go_s:.0f} s in ten minutes",
                duty.on_s <= duty.in_one_go_s,
                f"S3 {duty.duty_percent:g} %, IEC 60034-1, from memory",
            ),
            judge(
                "full cycles in an hour",
                num(duty.cycles_per_hour, ".1f"),
                f"at least {DUTY_MIN_CYCLES:g}",
                duty.cycles_per_hour >= DUTY_MIN_CYCLES,
                f"S3 {duty.duty_percent:g} % ({duty.duty_words}){allowed}; the least number is "
                f"{PRACTICE}",
            ),
            judge(
                "thermal replica, so many cycles without end",
                num(100.0 * duty.warmth, ".0f", "%"),
                f"below {100 * duty.warm:.0f} %, from where on it refuses a start",
                duty.warmth < duty.warm,
                "cyclic heating, textbooks of electric drives",
            ),
        ),
    )


def settings_table(parts: Parts) -> Table:
    """Return every setting with its value, unit, meaning and reason."""
    units = {row[0]: str(row[1]) for row in SCHEMA}
    given = parts.worked.site.settings
    rows = [
        Row(
            (
                row.name,
                f"{row.value}",
                "" if units[row.name] == "0/1" else units[row.name],
                f"{given[row.name]}" if row.name in given else NOT_ASKED,
                SETTING_MEANINGS[row.name],
                row.why,
            )
        )
        for row in parts.settings
    ]
    head = ("Setting", "Value", "Unit", "In the file", "Meaning", "Why")
    return Table("settings", head, rows)
