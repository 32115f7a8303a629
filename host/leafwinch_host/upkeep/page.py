"""The upkeep report as one HTML file that needs nothing from elsewhere."""

from markupsafe import Markup

from leafwinch_host import version
from leafwinch_host.report.made import page
from leafwinch_host.report.prove_report import cautions_for
from leafwinch_host.report.svg import page_svg
from leafwinch_host.report.words import LEGAL
from leafwinch_host.upkeep.judged import Upkeep
from leafwinch_host.upkeep.trend_plot import COLOURS, trend_figure
from leafwinch_sim.site_schema import Site

LEVELS = {"now": "Before the next use", "soon": "Soon", "watch": "Keep an eye on it"}
FINDING_CSS = {"now": "blocks", "soon": "amend", "watch": "note"}
UPKEEP_LEGAL = LEGAL.replace("it is a simulation of a design", "it reckons from what a board kept")


def upkeep_html(upkeep: Upkeep, site: Site) -> str:
    """Return the page.

    Args:
        upkeep: what was found.
        site: for its cautions; over water drowning comes first.
    """
    plot = Markup("")
    if upkeep.outlooks:
        words = "Readings of each series with median, trend, sudden steps and limit"
        plot = page_svg(trend_figure(upkeep.outlooks), "trends", words, COLOURS)
    return page(
        "upkeep",
        u=upkeep,
        levels=LEVELS,
        css=FINDING_CSS,
        cautions=cautions_for(site),
        legal=UPKEEP_LEGAL,
        plot=plot,
        version=version(),
    )
