"""Writes a recording for other programs: comma-separated text, Parquet, or VCD."""

import importlib
import io
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from vcd import VCDWriter

from leafwinch.signals import CONTACT_NAMES, OUTPUT_NAMES
from leafwinch_host.files import write_bytes
from leafwinch_host.recording.recorded import Recorded
from leafwinch_wiring.errors import BadInput

PLAIN = (
    "sequence",
    "state",
    "fault",
    "held",
    "refused",
    "ended",
    "warning",
    "current_ma",
    "supply_mv",
    "late",
    "dropped",
)
DRIVE = ("state", "fault", "held", "refused", "ended", "warning")  # of the scope "drive"
DRIVE_BITS = {"state": 3, "fault": 7, "held": 16, "refused": 4, "ended": 4, "warning": 4}
UNKNOWN_MS = 1000  # after a longer silence values count as unknown
UNKNOWN_AFTER_MS = 50  # from so long after the last sample, which is the pace at rest
ROWS = 100_000  # made into text at once


def table_of(recorded: Recorded) -> dict[str, NDArray[Any]]:
    """Return one column a signal, contacts as `contacts.NAME` and outputs as `outputs.NAME`."""
    table: dict[str, NDArray[Any]] = {
        "at_ms": recorded.at_ms,
        "utc_ms": recorded.utc_ms,
        "stretch": recorded.stretch,
        "board_ms": recorded.clock_ms,
    }
    table |= {name: recorded[name] for name in PLAIN}
    for column, names in (("contacts", CONTACT_NAMES), ("outputs", OUTPUT_NAMES)):
        for bit, name in enumerate(names):
            table[f"{column}.{name}"] = (recorded[column] >> bit & 1).astype(np.uint8)
    return table


def write_csv(recorded: Recorded, path: Path) -> None:
    """Write comma-separated text with one head line (RFC 4180)."""
    table = table_of(recorded)
    parts = [",".join(table).encode("ascii")]
    for first in range(0, len(recorded), ROWS):
        columns = (column[first : first + ROWS].tolist() for column in table.values())
        rows = zip(*columns, strict=True)
        parts.append("\r\n".join(",".join(map(str, row)) for row in rows).encode("ascii"))
    write_bytes(path, b"\r\n".join(parts) + b"\r\n")


def write_parquet(recorded: Recorded, path: Path) -> None:
    """Write a Parquet file; `utc_ms` as a time in UTC.

    Raises:
        BadInput: the library for it is not installed.
    """
    try:
        pa = importlib.import_module("pyarrow")
        parquet = importlib.import_module("pyarrow.parquet")
    except ImportError:
        raise BadInput(
            "--parquet needs the Python package pyarrow, which is not installed; allowed without "
            "it are --csv and --vcd."
        ) from None
    table = table_of(recorded)
    columns = {
        name: pa.array(values, type=pa.timestamp("ms", "UTC") if name == "utc_ms" else None)
        for name, values in table.items()
    }
    target = io.BytesIO()
    parquet.write_table(pa.table(columns), target, compression="zstd")
    write_bytes(path, target.getvalue())


def write_vcd(recorded: Recorded, path: Path) -> None:
    """Write a value change dump (IEEE 1364-2005, clause 18), one unit of time a ms.

    Scopes: inputs, outputs, analog and drive. Over a long silence every value is unknown.
    """
    target = io.StringIO()
    begun = datetime.fromtimestamp(int(recorded.utc_ms[0]) / 1000, UTC)
    with VCDWriter(
        target,
        timescale="1 ms",
        date=begun.isoformat(timespec="milliseconds"),
        version="leafwinch trace",
        comment="time 0 is the first sample",
    ) as writer:
        signals = _registered(recorded, writer)
        for at_ms, variable, value in _changes(recorded, signals):
            writer.change(variable, at_ms, value)
        writer.close(int(recorded.at_ms[-1]))
    write_bytes(path, target.getvalue().encode("ascii"))


def _registered(recorded: Recorded, writer: VCDWriter) -> list[tuple[Any, NDArray[Any]]]:
    signals: list[tuple[Any, NDArray[Any]]] = []
    for scope, column, names in (
        ("inputs", "contacts", CONTACT_NAMES),
        ("outputs", "outputs", OUTPUT_NAMES),
    ):
        for bit, name in enumerate(names):
            wire = writer.register_var(f"leafwinch.{scope}", name, "wire", 1)
            signals.append((wire, recorded[column] >> bit & 1))
    for name, column in (("current_a", "current_ma"), ("supply_v", "supply_mv")):
        real = writer.register_var("leafwinch.analog", name, "real", init=0.0)
        signals.append((real, recorded[column] / 1000))
    for name in DRIVE:
        vector = writer.register_var("leafwinch.drive", name, "reg", DRIVE_BITS[name])
        signals.append((vector, recorded[name]))
    return signals


def _changes(
    recorded: Recorded, signals: list[tuple[Any, NDArray[Any]]]
) -> Iterator[tuple[int, Any, Any]]:
    """Yield (ms, variable, value) in order of time, only where a value changes."""
    at_ms = recorded.at_ms
    count = len(recorded)
    changed = [np.ones(count, dtype=np.bool_) for _ in signals]
    silent = np.flatnonzero(np.diff(at_ms) > UNKNOWN_MS) + 1
    for flags, (_, values) in zip(changed, signals, strict=True):
        flags[1:] = values[1:] != values[:-1]
        flags[silent] = True
    unknown = set(silent.tolist())
    any_changed = np.flatnonzero(np.logical_or.reduce(changed))
    for row in any_changed.tolist():
        if row in unknown:
            gone_ms = int(at_ms[row - 1]) + UNKNOWN_AFTER_MS
            for variable, _ in signals:
                if variable.type.value != "real":  # a real number has no unknown
                    yield gone_ms, variable, "x"
        now_ms = int(at_ms[row])
        for flags, (variable, values) in zip(changed, signals, strict=True):
            if flags[row]:
                yield now_ms, variable, values[row].item()
