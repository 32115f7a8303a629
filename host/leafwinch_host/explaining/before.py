"""The seconds before a fault as columns, and what changed in them, in words."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from leafwinch.signals import CONTACT_NAMES, OUTPUT_NAMES
from leafwinch.states import FAULT, STATE_NAMES
from leafwinch_wiring.errors import BadInput

UNSEEN_OUTPUTS = ("line_pulse", "lamp_white", "lamp_red", "buzzer")  # say nothing about a cause
COLUMNS = 5
CHANGES_SHOWN = 12


@dataclass(frozen=True, slots=True)
class Change:
    """One signal that changed: seconds before the fault (negative), its name, what it does now."""

    at_s: float
    signal: str
    words: str


@dataclass(frozen=True, slots=True)
class Before:
    """The trace before one fault; arrays of one length, time in s ending at 0.

    Attributes:
        fault: its number; 0 where it isn't known.
        boot, uptime_s: when it was; -1 where a log doesn't say.
        current_a, supply_v: as measured.
        changes: in order of time.
    """

    fault: int
    boot: int
    uptime_s: int
    time_s: NDArray[np.float64]
    contacts: NDArray[np.int64]
    outputs: NDArray[np.int64]
    state: NDArray[np.int64]
    current_a: NDArray[np.float64]
    supply_v: NDArray[np.float64]
    changes: tuple[Change, ...]


def before_fault(read: Mapping[str, Any]) -> Before:
    """Return the trace that `board.answers.fault_trace` read, or its JSON.

    Raises:
        BadInput: it has no samples, or is not of that form.
    """
    try:
        samples = np.asarray(read["samples"], dtype=np.int64)
        if samples.ndim != 2 or samples.shape[1] != COLUMNS:
            raise ValueError(f"{samples.shape} numbers")
        step_ms = int(read["interval_ms"])
        ms = step_ms * np.arange(1 - samples.shape[0], 1)
        return columns(samples, ms, int(read["fault"]), int(read["boot"]), int(read["uptime_s"]))
    except (KeyError, TypeError, ValueError) as error:
        raise BadInput(f"The trace before the fault is not of this version ({error}).") from None


def columns(
    samples: NDArray[np.int64], ms: NDArray[np.int64], fault: int, boot: int, uptime_s: int
) -> Before:
    """Return samples of [contacts, outputs, state, mA, mV] at times in ms, the last one at 0."""
    time_s = ms / 1000.0
    return Before(
        fault=fault,
        boot=boot,
        uptime_s=uptime_s,
        time_s=time_s,
        contacts=samples[:, 0],
        outputs=samples[:, 1],
        state=samples[:, 2],
        current_a=samples[:, 3] / 1000.0,
        supply_v=samples[:, 4] / 1000.0,
        changes=_changes(time_s, samples),
    )


def _changes(time_s: NDArray[np.float64], samples: NDArray[np.int64]) -> tuple[Change, ...]:
    found: list[Change] = []
    for column, names, words in (
        (0, CONTACT_NAMES, ("opened", "closed")),
        (1, OUTPUT_NAMES, ("went off", "went on")),
    ):
        for bit, name in enumerate(names):
            if name in UNSEEN_OUTPUTS:
                continue
            level = samples[:, column] >> bit & 1
            for index in (np.flatnonzero(np.diff(level)) + 1).tolist():
                plain = name.replace("_", " ") + (" (out)" if column else "")
                now = words[int(level[index])]
                found.append(Change(float(time_s[index]), name, f"{plain} {now}"))
    state = samples[:, 2]
    for index in (np.flatnonzero(np.diff(state)) + 1).tolist():
        number = int(state[index])
        name = STATE_NAMES[number] if number < len(STATE_NAMES) else str(number)
        words_of_state = "the fault was latched" if number == FAULT else f"state {name}"
        found.append(Change(float(time_s[index]), "state", words_of_state))
    return tuple(sorted(found, key=lambda change: change.at_s))


def story(before: Before) -> list[str]:
    """Return what happened in those seconds, one sentence each, oldest first."""
    told = [f"{-before.time_s[0]:.1f} s are there, the fault at 0."]
    left_out = len(before.changes) - CHANGES_SHOWN
    if left_out > 0:
        told.append(f"{left_out} earlier changes are left out.")
    for change in before.changes[-CHANGES_SHOWN:]:
        told.append(f"{change.at_s:+.2f} s: {change.words}")
    if not before.changes:
        told.append("No contact changed.")
    peak = int(np.argmax(np.abs(before.current_a)))
    told.append(
        f"greatest current {before.current_a[peak]:.2f} A at {before.time_s[peak]:+.2f} s, "
        f"lowest 24 V supply {before.supply_v.min():.1f} V"
    )
    return told
