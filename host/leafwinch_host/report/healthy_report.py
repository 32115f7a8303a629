"""The figures of healthy cycles as one HTML file with a drawn chart."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup, escape

from leafwinch_host.healthy_summary import by_nearness, percent, sentence
from leafwinch_host.report import words
from leafwinch_host.report.made import page

LABEL_WIDTH = 330
CHART_WIDTH = 420
ROW_HEIGHT = 20
HEAD_HEIGHT = 22
AXIS_END = 1.1  # of the limit; what is beyond it is drawn at the end


@dataclass(frozen=True, slots=True)
class MarginRow:
    """One supervision as a line of the table."""

    words: str
    fault: str
    least: str
    median: str
    q99: str
    worst: str
    seed: str


def healthy_html(result: Mapping[str, Any]) -> str:
    """Return the page of `leafwinch_sim.nuisance.healthy`'s result."""
    rows = by_nearness(result)
    return page(
        "healthy",
        r=result,
        sentence=sentence(result),
        chart=chart(rows),
        rows=[
            MarginRow(
                row["words"],
                row["fault"].replace("_", " "),
                percent(row["least"]),
                percent(row["median"]),
                percent(row["q99"]),
                percent(row["worst"]),
                str(row["worst_seed"]),
            )
            for row in rows
        ],
        legal=words.LEGAL,
    )


def chart(rows: list[Mapping[str, Any]]) -> Markup:
    """Draw for each supervision the range of all cycles, its median and its worst."""
    height = HEAD_HEIGHT + ROW_HEIGHT * len(rows) + 4
    width = LABEL_WIDTH + CHART_WIDTH + 60
    limit_x = _x(1.0)
    parts = [
        f'<svg class="margins" viewBox="0 0 {width} {height}" role="img" '
        f'aria-label="How near each of {len(rows)} supervisions came to its limit">'
    ]
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        x = _x(share)
        css = "limit" if share == 1.0 else "grid"
        label = "trips" if share == 1.0 else f"{100 * share:.0f} %"
        parts.append(
            f'<line class="{css}" x1="{x:.1f}" x2="{x:.1f}" y1="{HEAD_HEIGHT - 4}" '
            f'y2="{height - 4}"/><text class="head {css}" x="{x:.1f}" y="12">{label}</text>'
        )
    for index, row in enumerate(rows):
        middle = HEAD_HEIGHT + ROW_HEIGHT * (index + 0.5)
        least, median, q99, worst = (_x(row[key]) for key in ("least", "median", "q99", "worst"))
        css = "over" if worst >= limit_x else "range"
        parts.append(
            f'<text class="label" x="{LABEL_WIDTH - 8}" y="{middle + 4:.1f}">'
            f"{escape(row['words'])}</text>"
            f'<rect class="{css}" x="{least:.1f}" y="{middle - 5:.1f}" height="10" '
            f'width="{max(worst - least, 1.5):.1f}"><title>{escape(_note(row))}</title></rect>'
            f'<line class="median" x1="{median:.1f}" x2="{median:.1f}" y1="{middle - 7:.1f}" '
            f'y2="{middle + 7:.1f}"/>'
            f'<line class="q99" x1="{q99:.1f}" x2="{q99:.1f}" y1="{middle - 5:.1f}" '
            f'y2="{middle + 5:.1f}"/>'
            f'<text class="worst" x="{max(worst, median) + 6:.1f}" y="{middle + 4:.1f}">'
            f"{100 * row['worst']:.0f} %</text>"
        )
    parts.append("</svg>")
    return Markup("".join(parts))


def _x(share: float) -> float:
    return LABEL_WIDTH + CHART_WIDTH * min(share, AXIS_END) / AXIS_END


def _note(row: Mapping[str, Any]) -> str:
    return (
        f"{row['words']}: least {percent(row['least'])}, median {percent(row['median'])}, "
        f"99 % at most {percent(row['q99'])}, worst {percent(row['worst'])} "
        f"with seed {row['worst_seed']}"
    )
