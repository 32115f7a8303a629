"""The seconds before each fault that a log recorded."""

from collections import deque
from pathlib import Path

import numpy as np

from leafwinch_host.explaining.before import Before, columns
from leafwinch_host.upkeep.log_lines import Kept, kept_samples
from leafwinch_wiring.errors import BadInput

WINDOW_MS = 4000  # as the board itself keeps
CLOCK_MASK = (1 << 30) - 1
LINES_MAX = 1000  # 4 s at 100 lines a second, with room
UNKNOWN = -1


def faults_in(path: Path) -> list[Before]:
    """Return the trace before every fault in a log, oldest first.

    Raises:
        BadInput: see `kept_samples`.
    """
    window: deque[Kept] = deque(maxlen=LINES_MAX)
    found: list[Before] = []
    last_fault = 0
    for kept in kept_samples(path):
        sample = kept.sample
        if window and _since(window[-1], kept) > WINDOW_MS:
            window.clear()  # a restart or a gap: what lies before it tells nothing
        window.append(kept)
        while _since(window[0], kept) > WINDOW_MS:
            window.popleft()
        if sample.fault and sample.fault != last_fault:
            found.append(_before(window))
        last_fault = sample.fault
    return found


def last_fault_in(path: Path, fault: int = 0) -> Before:
    """Return the newest fault of a log, or the newest of that number.

    Raises:
        BadInput: there is none, or the file can't be used.
    """
    found = [before for before in faults_in(path) if fault in (0, before.fault)]
    if not found:
        which = f"fault {fault}" if fault else "a fault"
        raise BadInput(f"{path}: {which} was not recorded in it.")
    return found[-1]


def _since(first: Kept, then: Kept) -> int:
    return (then.sample.t_ms - first.sample.t_ms) & CLOCK_MASK


def _before(window: deque[Kept]) -> Before:
    last = window[-1]
    ms = np.array([-_since(kept, last) for kept in window], dtype=np.int64)
    samples = np.array(
        [
            (
                k.sample.contacts,
                k.sample.outputs,
                k.sample.state,
                k.sample.current_ma,
                k.sample.supply_mv,
            )
            for k in window
        ],
        dtype=np.int64,
    )
    return columns(samples, ms, last.sample.fault, UNKNOWN, UNKNOWN)
