"""Writes the trace of a run as text: comment lines that say where it came from, then columns."""

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from leafwinch.signals import CONTACT_NAMES, OUTPUT_NAMES
from leafwinch_host.files import write_text

BIT_COLUMNS = {"contacts": CONTACT_NAMES, "outputs": OUTPUT_NAMES}
DECIMALS = 4


def trace_text(trace: Mapping[str, Sequence[Any]], origin: Mapping[str, str]) -> str:
    """Return a trace as comma-separated text.

    Args:
        trace: columns of one length; `contacts` and `outputs` are bit masks, written as one
            column of 0 and 1 for each signal, so that any program can draw them.
        origin: written above the columns, one "# name: value" line each.
    """
    target = io.StringIO()
    for name, value in origin.items():
        target.write(f"# {name}: {value}\n")
    header: list[str] = []
    columns: list[list[Any]] = []
    for name, values in trace.items():
        if name not in BIT_COLUMNS:
            header.append(name)
            columns.append([_short(value) for value in values])
            continue
        for bit, signal in enumerate(BIT_COLUMNS[name]):
            header.append(f"{name}.{signal}")
            columns.append([value >> bit & 1 for value in values])
    writer = csv.writer(target, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(zip(*columns, strict=True))
    return target.getvalue()


def save_trace(path: Path, trace: Mapping[str, Sequence[Any]], origin: Mapping[str, str]) -> None:
    """Write a trace file; see `trace_text`."""
    write_text(path, trace_text(trace, origin))


def _short(value: Any) -> Any:
    return round(value, DECIMALS) if isinstance(value, float) else value
