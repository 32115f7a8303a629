"""Reads a site from a file or by the name of a shipped one, with clear errors."""

import tomllib
from importlib import resources
from pathlib import Path

from pydantic import ValidationError

from leafwinch_sim.site_schema import Site
from leafwinch_wiring.errors import BadInput

__all__ = ["Site", "load_site", "parse_site", "shipped_sites"]

_LARGEST_BYTES = 1_000_000


def shipped_sites() -> tuple[str, ...]:
    """Return the names of the sites that come with the program, in order."""
    folder = resources.files("leafwinch_sim") / "sites"
    names = [item.name for item in folder.iterdir() if item.name.endswith(".toml")]
    return tuple(sorted(name.removesuffix(".toml") for name in names))


def load_site(path_or_name: str | Path) -> Site:
    """Return the site in a file, or the shipped site of that name.

    Raises:
        BadInput: one sentence that names file and key, what was found, what is allowed.
    """
    text = str(path_or_name)
    if text in shipped_sites():
        resource = resources.files("leafwinch_sim") / "sites" / f"{text}.toml"
        return parse_site(resource.read_bytes(), f"{text}.toml")
    path = Path(path_or_name)
    if not path.exists():
        known = ", ".join(shipped_sites())
        raise BadInput(f"{text}: no such file, and no shipped site has that name ({known}).")
    if not path.is_file():
        raise BadInput(f"{text}: this is not a file; a site is one TOML file.")
    if path.stat().st_size > _LARGEST_BYTES:
        raise BadInput(f"{text}: larger than 1 MB; a site is a TOML file of a few kilobytes.")
    try:
        data = path.read_bytes()
    except OSError as error:
        raise BadInput(f"{text}: cannot be read ({error.strerror}).") from None
    return parse_site(data, text)


def parse_site(data: bytes, source: str) -> Site:
    """Return the site in the bytes of a TOML file; `source` names it in errors."""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        raise BadInput(f"{source}: this is not text; a site is a TOML file in UTF-8.") from None
    if not text.strip():
        raise BadInput(f"{source}: the file is empty; a site needs at least a name and a deck.")
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadInput(f"{source}: this is not valid TOML: {error}.") from None
    try:
        return Site.model_validate(document)
    except ValidationError as error:
        raise BadInput(f"{source}: {_sentence(error)}") from None


def _sentence(error: ValidationError) -> str:
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
