"""The wiring papers as one PDF: drawings on their side, lists and sheets upright."""

from collections.abc import Sequence

from leafwinch_host.report.made import paper, paper_parts
from leafwinch_host.report.wire_report import Papers, build
from leafwinch_sim.site import Site
from leafwinch_wiring.drawing import Sheet
from leafwinch_wiring.input_walk import share
from leafwinch_wiring.netlist import Netlist
from leafwinch_wiring.point_candidates import Progress
from leafwinch_wiring.point_sheet import PointSheet
from leafwinch_wiring.reliability.functions import estimate
from leafwinch_wiring.rules import check_rules
from leafwinch_wiring.rules_bridges import keep_apart


def papers_of(
    net: Netlist,
    sheets: Sequence[Sheet] | None = None,
    points: PointSheet | None = None,
    progress: Progress | None = None,
) -> Papers:
    """Work out what the papers are made from; what is given is not worked out again.

    Args:
        net: the wiring.
        sheets: its drawings, as `circuit_sheets` returns them.
        points: its continuity sheet, as `point_sheet` returns it; it takes seconds.
        progress: called with how much of the walk over the inputs is tried, and of how much.

    Raises:
        BadInput: the wiring can't be drawn.
    """
    if sheets is None:
        from leafwinch_wiring.drawing import circuit_sheets

        sheets = circuit_sheets(net)
    if points is None:
        from leafwinch_wiring.point_sheet import point_sheet

        points = point_sheet(net)
    return Papers(
        sheets=sheets,
        points=points,
        rules=check_rules(net),
        estimates=estimate(net),
        apart=keep_apart(net),
        shares=share(net, points, progress=progress),
    )


def wire_pdf(
    site: Site, net: Netlist, sheets: Sequence[Sheet], papers: Papers | None = None
) -> bytes:
    """Return the wiring papers of an installation as the bytes of a PDF file, A4.

    The same netlist gives the same bytes: no date, and only fonts that the library carries.

    Args:
        site: the installation.
        net: its wiring.
        sheets: the drawings, in the order in which they are bound.
        papers: what `papers_of` returned for them, where that was needed before.
    """
    return bytes(paper(sources(site, net, papers or papers_of(net, sheets))))


def sources(site: Site, net: Netlist, papers: Papers) -> dict[str, bytes]:
    """Return the document's files by name: text, data and drawings."""
    drawings = {f"{sheet.name}.svg": sheet.svg.encode("utf-8") for sheet in papers.sheets}
    return paper_parts("wire", build(site, net, papers), drawings)
