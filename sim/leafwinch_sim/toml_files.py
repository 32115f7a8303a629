"""Reads the TOML files of this package, by path or by the name of a shipped one."""

import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from leafwinch_wiring.errors import BadInput

_LARGEST_BYTES = 1_000_000


def shipped(folder: str) -> tuple[str, ...]:
    """Return the names of the files that come with the program in a folder, in order."""
    items = (resources.files("leafwinch_sim") / folder).iterdir()
    names = [item.name for item in items if item.name.endswith(".toml")]
    return tuple(sorted(name.removesuffix(".toml") for name in names))


def read(path_or_name: str | Path, folder: str, what: str) -> tuple[bytes, str]:
    """Return the bytes of a file, or of the shipped one of that name, and a name for errors.

    Args:
        path_or_name: what the user gave.
        folder: where the shipped ones are.
        what: the word for such a file, such as "site".

    Raises:
        BadInput: one sentence that names the file and what is wrong with it.
    """
    text = str(path_or_name)
    if text in shipped(folder):
        resource = resources.files("leafwinch_sim") / folder / f"{text}.toml"
        return resource.read_bytes(), f"{text}.toml"
    known = ", ".join(shipped(folder))
    return read_file(path_or_name, what, f", and no shipped {what} has that name ({known})")


def read_file(path: str | Path, what: str, absent: str = "") -> tuple[bytes, str]:
    """Return the bytes of a file and its name for errors.

    Args:
        path: what the user gave.
        what: the word for such a file.
        absent: what more to say where there is none.

    Raises:
        BadInput: one sentence that names the file and what is wrong with it.
    """
    text = str(path)
    path = Path(path)
    if not path.exists():
        raise BadInput(f"{text}: no such file{absent}.")
    if not path.is_file():
        raise BadInput(f"{text}: this is not a file; a {what} is one TOML file.")
    if path.stat().st_size > _LARGEST_BYTES:
        raise BadInput(f"{text}: larger than 1 MB; a {what} is a TOML file of a few kilobytes.")
    try:
        return path.read_bytes(), text
    except OSError as error:
        raise BadInput(f"{text}: cannot be read ({error.strerror}).") from None


def parse(data: bytes, source: str, what: str, needs: str) -> dict[str, Any]:
    """Return the document in the bytes of a TOML file.

    Args:
        data: the file.
        source: its name for errors.
        what: the word for such a file.
        needs: what one holds at least, for the error about an empty one.

    Raises:
        BadInput: it is no text, empty, or not TOML.
    """
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        raise BadInput(f"{source}: this is not text; a {what} is a TOML file in UTF-8.") from None
    if not text.strip():
        raise BadInput(f"{source}: the file is empty; a {what} needs {needs}.")
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadInput(f"{source}: this is not valid TOML: {error}.") from None
