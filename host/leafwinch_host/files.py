"""Writes result files: checked before a long run starts, and never left half written."""

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from leafwinch_wiring.errors import BadInput


def check_target(option: str, path: Path | None, endings: tuple[str, ...] = ()) -> None:
    """Make sure that a result file can be written later, so that no run is wasted.

    Args:
        option: the command line option that named the file, for the sentence.
        path: where to write, or None when the file was not asked for.
        endings: file name endings allowed, such as ".svg"; empty allows every name.

    Raises:
        BadInput: the ending is not allowed, or the folder is absent or can't be written to.
    """
    if path is None:
        return
    if endings and path.suffix.lower() not in endings:
        allowed = " or ".join(endings)
        raise BadInput(
            f"{option} {path}: found a name ending '{path.suffix}', allowed is {allowed}."
        )
    if path.is_dir():
        raise BadInput(f"{option} {path}: this is a folder, allowed is the name of a file.")
    folder = path.parent
    if not folder.is_dir():
        raise BadInput(f"{option} {path}: the folder '{folder}' does not exist, make it first.")
    if not os.access(folder, os.W_OK):
        raise BadInput(f"{option} {path}: the folder '{folder}' can't be written to.")


def write_text(path: Path, text: str) -> None:
    """Write a whole file at once: a reader sees the old contents or the new, never a part."""
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes) -> None:
    """Write a whole file of bytes at once.

    Raises:
        BadInput: the file system refuses.
    """
    unfinished = path.with_name(path.name + ".part")
    try:
        unfinished.write_bytes(data)
        unfinished.replace(path)
    except OSError as error:
        unfinished.unlink(missing_ok=True)
        raise BadInput(f"{path}: can't be written ({error.strerror}).") from None


def write_json(path: Path, content: Mapping[str, Any]) -> None:
    """Write one JSON object, indented, keys in the order given."""
    write_text(path, json.dumps(content, indent=2, ensure_ascii=False) + "\n")
