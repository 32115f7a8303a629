"""Turns a figure into SVG: for a page, where its colours follow the theme, or for a document."""

import io
import re
from collections.abc import Mapping
from typing import Any

import matplotlib as mpl
from markupsafe import Markup, escape
from matplotlib.figure import Figure

from leafwinch_host.look import STYLE


def page_svg(figure: Figure, name: str, words: str, colours: Mapping[str, str]) -> Markup:
    """Return a figure as inline SVG whose colours are variables of the page's style sheet.

    Args:
        figure: what to show.
        name: letters and digits that make its ids differ from those of other figures.
        words: says to a reader who can't see it what it shows.
        colours: each colour by the name of its variable, `--plot-NAME`; the colour itself
            stays as what a reader without the style sheet gets.
    """
    text = _svg(figure, "none")
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    # The drawing library's style element would apply to the whole page.
    text = re.sub(r"<style[^>]*>.*?</style>", "", text, flags=re.DOTALL)
    text = text.replace("xlink:href", "href")
    text = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', text)
    text = re.sub(r'href="#([^"]+)"', rf'href="#{name}-\1"', text)
    text = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", text)
    for variable, colour in colours.items():
        text = text.replace(f" {colour}", f" var(--plot-{variable}, {colour})")
    box = re.search(r'viewBox="[^"]+"', text)
    if box is None:
        raise ValueError("the drawing has no view box")
    head = f'<svg class="case" {box.group(0)} role="img" aria-label="{escape(words)}">'
    body = text[text.index(">", text.index("<svg")) + 1 :]
    return Markup(head + body)


def document_svg(figure: Figure) -> bytes:
    """Return a figure as SVG whose letters are drawn, so that no font is needed."""
    return _svg(figure, "path").encode("utf-8")


def _svg(figure: Figure, letters: str) -> str:
    style: dict[Any, Any] = {**STYLE, "svg.fonttype": letters}
    with mpl.rc_context(style):
        target = io.StringIO()
        figure.savefig(target, format="svg", metadata={"Date": None}, transparent=True)
    return target.getvalue()
