"""Parses a report the way a reader sees it: headings, tables and the drawn matrix."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "link", "br", "img", "input", "hr"}


@dataclass
class Page:
    """What the parser found.

    Attributes:
        open_tags: elements not closed at the end; empty in sound HTML.
        tables: rows of cell texts by the id of their table.
        texts: whole text by the id of any element that has one.
        cells: (verdict, title) of each drawn cell of the matrix.
        labels: id of each defect drawn as a row.
        links: every address that the page mentions.
        words: everything a reader can see.
    """

    open_tags: list[str] = field(default_factory=list)
    tables: dict[str, list[list[str]]] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    cells: list[tuple[str, str]] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)
    links: list[str] = field(default_factory=list)
    words: str = ""


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.page = Page()
        self.stack: list[tuple[str, dict[str, str]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        for name in ("src", "href", "action", "poster", "srcset"):
            if name in given:
                self.page.links.append(given[name])
        if tag == "table":
            self.page.tables[given.get("id", "")] = []
        elif tag == "tr":
            self._rows().append([])
        elif tag in ("td", "th"):
            self._rows()[-1].append("")
        elif tag == "use" and given["href"].startswith("#v-"):
            self.page.cells.append((given["href"].removeprefix("#v-"), ""))
        if tag not in VOID:
            self.stack.append((tag, given))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.stack, f"</{tag}> closes nothing"
        assert self.stack[-1][0] == tag, f"</{tag}> closes <{self.stack[-1][0]}>"
        self.stack.pop()

    def handle_data(self, data: str) -> None:
        tags = [tag for tag, _ in self.stack]
        if "style" in tags:
            return
        for tag, given in self.stack:
            if "id" in given and tag != "g":
                known = self.page.texts.get(given["id"], "")
                self.page.texts[given["id"]] = known + data
        if "title" in tags and "svg" in tags:
            if "use" in tags and self.page.cells:
                verdict, title = self.page.cells[-1]
                self.page.cells[-1] = (verdict, title + data)
            elif any(given.get("class") == "label" for _, given in self.stack):
                self.page.labels.append(data)
            return
        self.page.words += data
        if tags and any(tag in ("td", "th") for tag in tags):
            self._rows()[-1][-1] += data

    def _rows(self) -> list[list[str]]:
        return list(self.page.tables.values())[-1]


def read_page(html: str) -> Page:
    """Return what a reader of the page finds."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    reader.page.open_tags = [tag for tag, _ in reader.stack]
    return reader.page
