"""A recording in the terminal: events, summary, verdicts, comparison."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from leafwinch.settings_schema import settings_from
from leafwinch.states import LOWERING, RAISING, STATE_NAMES
from leafwinch_host.recording.cycles import ending_words, fault_words, faults_of, travels_of
from leafwinch_host.recording.happenings import Happening, gap_words
from leafwinch_host.recording.judging import Judgement
from leafwinch_host.recording.predict import OVERRUN_NOTE, Comparison
from leafwinch_host.recording.recorded import Recorded, utc_words
from leafwinch_sim.site_schema import Site

CAUTION = (
    "A recording shows what was recorded and nothing else; it certifies nothing. Keep people off "
    "and out from under a moving deck; local codes and a licensed electrician come first."
)


def trip_a(site: Site) -> float:
    """Return the running trip level of a site in A."""
    return settings_from(site.settings).trip_ma / 1000


def show_events(out: Console, recorded: Recorded, events: Sequence[Happening]) -> None:
    """Print one line for each event: time since the first sample, UTC, words."""
    out.print(Text(_head(recorded), style="bold"))
    for event in events:
        row = Table.grid(padding=(0, 2))
        row.add_column(justify="right", min_width=11, no_wrap=True)
        row.add_column(no_wrap=True)
        row.add_column(overflow="fold")
        utc = utc_words(int(recorded.utc_ms[event.row]))[11:19]
        row.add_row(f"{event.at_ms / 1000:.2f} s", utc, Text(event.words))
        out.print(row)
    out.print(CAUTION)


def _head(recorded: Recorded) -> str:
    return (
        f"{recorded.path.name}: {recorded.seconds:.1f} s from {utc_words(int(recorded.utc_ms[0]))}"
    )


def summary_data(recorded: Recorded) -> dict[str, Any]:
    """Return the summary, ready for JSON; times in s, currents in A."""
    travels = travels_of(recorded)
    counts = recorded.counts
    return {
        "file": str(recorded.path),
        "begun": utc_words(int(recorded.utc_ms[0])),
        "seconds": recorded.seconds,
        "samples": counts.samples,
        "other_lines": counts.others,
        "bad_lines": counts.bad,
        "cut_lines": counts.cut,
        "missing_lines": sum(max(0, gap.missing) for gap in recorded.gaps),
        "restarts": int(recorded.stretch[-1]),
        "gaps": [
            {"at_s": int(recorded.at_ms[gap.row]) / 1000, "words": gap_words(gap)}
            for gap in recorded.gaps
        ],
        "travels": [
            {
                "way": STATE_NAMES[travel.way],
                "at_s": travel.start_ms / 1000,
                "seconds": travel.seconds,
                "full": travel.full,
                "ended": fault_words(travel.fault) if travel.fault else ending_words(travel.ended),
                "peak_a": travel.peak_a,
                "running_peak_a": travel.running_peak_a,
                "median_a": travel.median_a,
            }
            for travel in travels
        ],
        "faults": [
            {"number": f.number, "fault": fault_words(f.number), "at_s": f.at_ms / 1000}
            for f in faults_of(recorded)
        ],
    }


def show_summary(out: Console, data: dict[str, Any]) -> None:
    """Print the summary."""
    out.print(f"{data['file']}: {data['seconds']:.1f} s from {data['begun']}", markup=False)
    out.print(
        f"{data['samples']} samples, {data['missing_lines']} missing, {data['other_lines']} other "
        f"lines, {data['bad_lines']} bad, {data['cut_lines']} cut off; restarts of the board: "
        f"{data['restarts']}, gaps: {len(data['gaps'])}."
    )
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("Travel")
    for heading in ("number", "full", "seconds (median)", "peak A", "running peak A", "median A"):
        table.add_column(heading, justify="right")
    for way in (RAISING, LOWERING):
        rows = [row for row in data["travels"] if row["way"] == STATE_NAMES[way]]
        if rows:
            full = sorted(row["seconds"] for row in rows if row["full"])
            table.add_row(
                STATE_NAMES[way],
                str(len(rows)),
                str(len(full)),
                f"{full[len(full) // 2]:.2f}" if full else "-",
                f"{max(row['peak_a'] for row in rows):.2f}",
                f"{max(row['running_peak_a'] for row in rows):.2f}",
                f"{sorted(row['median_a'] for row in rows)[len(rows) // 2]:.2f}",
            )
    if data["travels"]:
        out.print(table)
    else:
        out.print("No travel was recorded.")
    for words, number in Counter(row["fault"] for row in data["faults"]).items():
        out.print(Text(f"{number} x {words}"))


def show_judgement(out: Console, recorded: Recorded, judgement: Judgement) -> None:
    """Print which requirements hold, which broke and when, and which can't be judged."""
    out.print(Text(_head(recorded), style="bold"))
    out.print(
        f"{judgement.judged_s:.1f} s of {recorded.seconds:.1f} s were judged, in {judgement.parts} "
        "parts; a part begins at rest with the control in the middle."
    )
    table = Table(box=None, padding=(0, 1), header_style="")
    for heading in ("", "Result", "Requirement", "Judged on"):
        table.add_column(heading, overflow="fold")
    for verdict in judgement.verdicts:
        if verdict.broken:
            result = Text(f"BROKEN at {verdict.at_ms / 1000:.3f} s", style="bold red")
        elif not verdict.judged:
            result = Text("not judged", style="dim")
        elif judgement.judged_s:
            result = Text("holds", style="green")
        else:
            result = Text("nothing to judge", style="dim")
        table.add_row(verdict.name, result, verdict.text, verdict.words)
    out.print(table)
    for verdict in judgement.broken:
        row = verdict.row
        utc = utc_words(int(recorded.utc_ms[row]))
        out.print(
            Text(
                f"{verdict.name} broke at {verdict.at_ms / 1000:.3f} s, {utc}, board time "
                f"{int(recorded.clock_ms[row]) / 1000:.3f} s: {verdict.words}. Do not use the "
                "drive before the cause is found.",
                style="bold",
            )
        )
    out.print(CAUTION)


def show_comparison(out: Console, site: str, comparison: Comparison) -> None:
    """Print recording against bench, and what the difference suggests."""
    out.print(f"Full travels against the bench's of {site}", style="bold", markup=False)
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("Travel")
    for heading in ("recorded", "figure", "bench", "sound ones differ", "here"):
        table.add_column(heading, justify="right")
    for row in comparison.compared:
        for what, unit, name in (("seconds", "s", "time"), ("median_a", "A", "median current")):
            table.add_row(
                f"{STATE_NAMES[row.way]}, {name}",
                f"{row.travels} x",
                f"{getattr(row.measured, what):.2f} {unit}",
                f"{getattr(row.expected, what):.2f} {unit}",
                f"{getattr(row.lowest, what):.2f} to {getattr(row.highest, what):.2f} {unit}",
                f"{100 * (row.seconds_share if what == 'seconds' else row.current_share):+.1f} %",
            )
    out.print(table)
    for sentence in comparison.sentences:
        out.print(Text(sentence))
    for corner in comparison.failed_corners:
        out.print(Text(f"On the bench this site does not travel at '{corner}'; see size."))
    out.print(OVERRUN_NOTE)
    out.print(CAUTION)
