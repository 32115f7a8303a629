"""Reads the files that upkeep is given: journal and counters as `leafwinch board` prints them."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from leafwinch_host.upkeep.log_lines import kept_samples
from leafwinch_host.upkeep.travels import LogTravel, log_travels
from leafwinch_wiring.errors import BadInput

_NUMBERS = ("sequence", "boot", "uptime_s", "a", "b")
COUNT_MAX = 1 << 30


def read_journal(path: Path) -> list[dict[str, Any]]:
    """Return the events of a file that `leafwinch board journal --json` printed.

    Raises:
        BadInput: it can't be read, or is no journal.
    """
    read = _json(path)
    try:
        if not isinstance(read, list):
            raise TypeError("it is no list of events")
        for event in read:
            if not all(isinstance(event[name], int) for name in _NUMBERS):
                raise TypeError(f"event {event['sequence']} has a word where a number belongs")
            if event["kind"] == "travel":
                int(event["c"])
        return read
    except (KeyError, TypeError, ValueError) as error:
        raise BadInput(
            f"{path}: is no journal as 'leafwinch board journal --json' prints it ({error})."
        ) from None


def read_counters(path: Path) -> dict[str, int]:
    """Return the counters of a file that `leafwinch board counters --json` printed.

    Raises:
        BadInput: it can't be read, or holds no counters.
    """
    read = _json(path)
    if not isinstance(read, dict) or not all(
        type(value) is int and 0 <= value <= COUNT_MAX for value in read.values()
    ):
        raise BadInput(
            f"{path}: holds no counters as 'leafwinch board counters --json' prints them; found "
            "something else than whole numbers by name."
        )
    return read


def read_logs(paths: Sequence[Path], settings: dict[str, int]) -> list[LogTravel]:
    """Return the full travels of several logs in order of time; a file named twice counts once.

    Args:
        paths: of logs.
        settings: all of them, by name.

    Raises:
        BadInput: a file can't be read or is no log.
    """
    found = [t for path in dict.fromkeys(paths) for t in log_travels(kept_samples(path), settings)]
    return sorted(found, key=lambda travel: travel.at)


def _json(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BadInput(f"{path}: can't be read ({error.strerror}).") from None
    except ValueError as error:
        raise BadInput(f"{path}: is no JSON ({error}).") from None
