"""Hours of operation on the desk, over the wraps of both clocks: python -m tests.edge.long_run.

The board's virtual clock starts just below its wrap at 2^30 ms. The deck goes up and down all the
time. At the end: no late pass, no fault, and how often it travelled.
"""

import argparse

from leafwinch.edge.counters import LATE_PASSES, LOWERINGS, RAISES
from leafwinch.numbers import TICKS_MASK
from tests.edge.cycling import Cycling, cool_core, cycling_loop
from tests.edge.whole import Memory

PASSES_AN_HOUR = 720_000
BEFORE_WRAP_MS = 20 * 60 * 1000


def run(passes: int) -> "tuple[int, int, int, int]":
    """Run; return travels up, travels down, late passes, and the fault at the end."""
    board = Cycling(Memory(), 1000 * (TICKS_MASK + 1 - BEFORE_WRAP_MS))
    loop = cycling_loop(board, cool_core())
    loop.run(passes)
    counters = loop.keeper.counters
    return counters[RAISES], counters[LOWERINGS], counters[LATE_PASSES], loop.controller.fault


def main() -> None:
    """Run as many hours as asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=24.0)
    hours = parser.parse_args().hours
    raises, lowerings, late, fault = run(round(hours * PASSES_AN_HOUR))
    print(f"{hours} h: {raises} travels up, {lowerings} down, {late} late passes, fault {fault}")


if __name__ == "__main__":
    main()
