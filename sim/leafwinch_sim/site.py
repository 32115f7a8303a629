"""Reads a site from a file or by the name of a shipped one, with clear errors."""

import shlex
from pathlib import Path

from pydantic import ValidationError

from leafwinch_sim import toml_files
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.errors import BadInput

__all__ = ["Site", "load_site", "parse_site", "shipped_sites"]


def shipped_sites() -> tuple[str, ...]:
    """Return the names of the sites that come with the program, in order."""
    return toml_files.shipped("sites")


def load_site(path_or_name: str | Path) -> Site:
    """Return the site in a file, or the shipped site of that name.

    Raises:
        BadInput: one sentence that names file and key, what was found, what is allowed.
    """
    site = parse_site(*toml_files.read(path_or_name, "sites", "site"))
    if str(path_or_name) not in shipped_sites():
        return site.called(f"--site {shlex.quote(str(path_or_name))}")
    return site


def parse_site(data: bytes, source: str) -> Site:
    """Return the site in the bytes of a TOML file; `source` names it in errors."""
    document = toml_files.parse(data, source, "site", "at least a name and a deck")
    try:
        return Site.model_validate(document)
    except ValidationError as error:
        raise BadInput(f"{source}: {sentence_of(error)}") from None


def sentence_of(error: ValidationError) -> str:
    """Return one sentence for the first of a list of schema errors."""
    first = error.errors()[0]
    kinds = ("capacitor-run", "permanent-magnet")
    place = ".".join(str(part) for part in first["loc"] if part not in kinds)
    kind = first["type"]
    found = first.get("input")
    if kind == "missing":
        return f"key '{place}' is missing."
    if kind == "extra_forbidden":
        return f"key '{place}' is not known here."
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        return f"key '{place}.kind' must be one of {kinds[0]!r} and {kinds[1]!r}."
    message = str(first["msg"]).removeprefix("Value error, ").rstrip(".")
    if kind == "value_error":
        return f"key '{place}': {message}." if place else f"{message}."
    if isinstance(found, dict):
        found = "a table"
    words = message[:1].lower() + message[1:]
    return f"key '{place}' is {found!r}, but allowed is: {words}."
