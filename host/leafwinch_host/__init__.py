"""Command line, plots and reports of leafwinch."""

from importlib import metadata

__all__ = ["version"]


def version() -> str:
    """Return the version of the installed program, such as "0.1.0"."""
    try:
        return metadata.version("leafwinch")
    except metadata.PackageNotFoundError:
        return "not installed"
