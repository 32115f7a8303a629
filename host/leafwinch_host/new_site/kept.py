"""Keeps the answers of a dialogue that was stopped, beside the file to be written."""

import json
from pathlib import Path

from leafwinch_host.files import write_json
from leafwinch_host.new_site.answers import Answers, Words
from leafwinch_host.new_site.questions import BY_KEY
from leafwinch_wiring.errors import BadInput

_LARGEST_BYTES = 100_000


def kept_beside(path: Path) -> Path:
    """Return the file of the answers for a site file."""
    return path.with_name(path.name + ".answers")


def keep(path: Path, answers: Answers) -> None:
    """Write the answers so far.

    Raises:
        BadInput: the file system refuses.
    """
    write_json(path, {key: list(words) for key, words in answers.words.items()})


def take_up(path: Path) -> Words:
    """Return the answers that were kept, empty where there are none.

    Raises:
        BadInput: the file can't be read or is not such a file.
    """
    if not path.exists():
        return {}
    wrong = BadInput(f"{path}: these are no answers kept by 'leafwinch new'; remove the file.")
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise wrong
        kept = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BadInput(f"{path}: can't be read ({error.strerror}).") from None
    except (ValueError, RecursionError):
        raise wrong from None
    if not isinstance(kept, dict) or not all(
        key in BY_KEY
        and isinstance(words, list)
        and words
        and (len(words) == 1 or BY_KEY[key].many)
        and all(isinstance(one, str) for one in words)
        for key, words in kept.items()
    ):
        raise wrong
    return {key: tuple(words) for key, words in kept.items()}
