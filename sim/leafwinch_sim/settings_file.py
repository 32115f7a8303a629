"""Reads settings from a file of their own, such as sizing writes."""

import shlex
from pathlib import Path

from leafwinch_sim import toml_files
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.errors import BadInput

KEYS = ("site", "settings")


def site_with_settings(site: Site, path: str | Path) -> Site:
    """Return a site with the settings of a file instead of its own.

    The file is TOML: `site`, the name of the site that they are for, and a table `settings`.

    Raises:
        BadInput: one sentence that names file and key, what was found, what is allowed.
    """
    document = toml_files.parse(
        *toml_files.read_file(path, "settings file"), "settings file", "a table 'settings'"
    )
    for key in document:
        if key not in KEYS:
            raise BadInput(f"{path}: key '{key}' is not known here; allowed are {_words()}.")
    if "settings" not in document or not isinstance(document["settings"], dict):
        raise BadInput(f"{path}: the table 'settings' is missing.")
    named = document.get("site")
    if named != site.name:
        raise BadInput(
            f"{path}: key 'site' is {named!r}, but these settings are wanted for {site.name!r}."
        )
    try:
        return site.with_settings(document["settings"], f"--settings {shlex.quote(str(path))}")
    except ValueError as error:
        raise BadInput(f"{path}: {error}.") from None


def _words() -> str:
    return " and ".join(f"'{key}'" for key in KEYS)
