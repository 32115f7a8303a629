"""Makes the two forms of every report from its template: a page, or a document on paper."""

import json
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

MAIN = "main.typ"


def page(template: str, **shown: Any) -> str:
    """Return one HTML page that needs nothing from elsewhere.

    Args:
        template: name of its template without the endings, such as "prove".
        shown: what the template shows, by name; everything is escaped but style sheets.
    """
    environment = Environment(
        loader=PackageLoader("leafwinch_host", "report/templates"),
        # The style sheet belongs to this package, and escaping would spoil its quotes.
        autoescape=lambda name: name is None or not name.endswith(".css"),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(f"{template}.html.j2").render(**shown)


def paper_parts(
    template: str, data: Mapping[str, Any], drawings: Mapping[str, bytes] | None = None
) -> dict[str, bytes]:
    """Return a document's files by name: text, data and drawings.

    Args:
        template: name of its template without the ending.
        data: what the template reads as data.json.
        drawings: other files that it names.
    """
    source = files("leafwinch_host") / "report" / "templates" / f"{template}.typ"
    return {
        **(drawings or {}),
        "data.json": json.dumps(data, ensure_ascii=False).encode("utf-8"),
        MAIN: source.read_bytes(),
    }


def paper(parts: Mapping[str, bytes], **options: Any) -> Any:
    """Return the document of these files as the library makes it: the bytes of a PDF file.

    The same files give the same bytes: no date, and only fonts that the library carries.

    Args:
        parts: as `paper_parts` returns them.
        options: of the library, where another form is wanted.
    """
    # It takes a while to load, so only when needed.
    import typst

    with TemporaryDirectory() as folder:
        for name, data in parts.items():
            (Path(folder) / name).write_bytes(data)
        return typst.compile(
            str(Path(folder) / MAIN),
            root=folder,
            ignore_system_fonts=True,
            **({"format": "pdf"} | options),
        )
