"""The page as it is sent: a shell of headings and empty places that the page's scripts fill."""

from pathlib import Path

SHELL = Path(__file__).with_name("page.html")


def page_html() -> str:
    """Return the page. It holds no data of a site; all of that comes over the WebSocket."""
    return SHELL.read_text(encoding="utf-8")
