"""The report of a sizing as PDF: the same texts and drawings as the page, set for paper."""

from dataclasses import asdict
from typing import Any

from leafwinch_host.report.made import paper, paper_parts
from leafwinch_host.report.size_report import SizeReport, build
from leafwinch_sim.sizing.size import Sizing

DRAWN = ("tables", "drawings")


def size_pdf(sizing: Sizing, report: SizeReport | None = None) -> bytes:
    """Return the report of one sizing as the bytes of a PDF file.

    The same sizing gives the same bytes: no date, and only fonts that the library carries.

    Args:
        sizing: what `leafwinch_sim.sizing.size.size_site` returned.
        report: what `leafwinch_host.report.size_report.build` returned for it, where that was
            needed before.
    """
    return bytes(paper(sources(report or build(sizing))))


def sources(report: SizeReport) -> dict[str, bytes]:
    """Return the document's files by name: text, data and drawings."""
    data: dict[str, Any] = {}
    for name in SizeReport.__slots__:
        if name not in DRAWN:
            value = getattr(report, name)
            data[name] = [_plain(row) for row in value] if _listed(value) else value
    data["tables"] = {key: asdict(table) for key, table in report.tables.items()}
    data["drawings"] = {
        name: {"file": f"{name}.svg", "words": drawing.words}
        for name, drawing in report.drawings.items()
    }
    drawn = {f"{name}.svg": drawing.document_svg() for name, drawing in report.drawings.items()}
    return paper_parts("size", data, drawn)


def _listed(value: object) -> bool:
    return isinstance(value, list | tuple)


def _plain(row: Any) -> Any:
    return row if isinstance(row, str | tuple) else asdict(row)
