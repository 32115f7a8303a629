"""The report of a proof as PDF: the same texts and drawings as the page, set for paper."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from leafwinch_host.report import matrix, words
from leafwinch_host.report.made import paper, paper_parts
from leafwinch_host.report.prove_report import ProveReport, build
from leafwinch_host.report.worst_runs import DrawnCase
from leafwinch_sim.site import Site
from leafwinch_wiring.netlist import Netlist

PASSED_ON = (
    "title",
    "verdict",
    "sentence",
    "plain",
    "broken",
    "broken_runs",
    "broken_defects",
    "undetected",
    "unpreventable",
    "residual",
    "latent_total",
    "moments",
    "every_tick",
    "origin",
)
AS_ROWS = ("tiles", "cautions", "requirements", "latent", "common", "beside")


def prove_pdf(
    result: Mapping[str, Any], site: Site, net: Netlist, report: ProveReport | None = None
) -> bytes:
    """Return the report of one proof as the bytes of a PDF file.

    The same result gives the same bytes: no date, and only fonts that the library carries.

    Args:
        result: as for `leafwinch_host.report.prove_report.prove_html`.
        site: the installation it was run on.
        net: the wiring it was run on.
        report: what `build` returned for it, where that was needed before.
    """
    return bytes(paper(sources(report or build(result, site, net))))


def sources(report: ProveReport) -> dict[str, bytes]:
    """Return the document's files by name: text, data and drawings."""
    parts: dict[str, bytes] = {}
    data: dict[str, Any] = {name: getattr(report, name) for name in PASSED_ON}
    for name in AS_ROWS:
        data[name] = [asdict(row) for row in getattr(report, name)]
    data["legal"] = words.LEGAL
    data["assumptions"] = words.ASSUMPTIONS
    data["not_tested"] = words.NOT_TESTED
    data["legend"] = []
    for verdict, count in report.legend:
        name = f"v-{verdict.name}.svg"
        parts[name] = matrix.legend_svg(verdict).encode("utf-8")
        data["legend"].append(
            {"file": name, "label": verdict.label, "count": count, "meaning": verdict.meaning}
        )
    data["blocks"] = []
    for index, block in enumerate(report.blocks):
        name = f"m{index}.svg"
        parts[name] = matrix.document_svg(str(block.svg)).encode("utf-8")
        data["blocks"].append({"file": name, "heading": block.heading})
    for key, cases in (("three", report.three), ("others", report.others)):
        data[key] = [_case(case, parts) for case in cases]
    return paper_parts("prove", data, parts)


def _case(drawn: DrawnCase, parts: dict[str, bytes]) -> dict[str, Any]:
    name = f"{drawn.name}.svg"
    parts[name] = drawn.document_svg()
    return {**asdict(drawn.case), "file": name}
