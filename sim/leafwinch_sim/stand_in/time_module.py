"""The module `time` of the played board: its ticks, and waits that take no time of ours."""

from leafwinch_sim.stand_in.machine_module import board
from leafwinch_sim.stand_in.world import TICKS_PERIOD

_MASK = TICKS_PERIOD - 1
_HALF = TICKS_PERIOD // 2


def ticks_us() -> int:
    """Return microseconds modulo 2^30."""
    ticks: int = board.world.look() & _MASK
    return ticks


def ticks_ms() -> int:
    """Return milliseconds modulo 2^30."""
    ticks: int = board.world.look() // 1000 & _MASK
    return ticks


def ticks_diff(end: int, start: int) -> int:
    """Return the time between two ticks."""
    return ((end - start + _HALF) & _MASK) - _HALF


def ticks_add(ticks: int, delta: int) -> int:
    """Return ticks that lie delta later."""
    return (ticks + delta) & _MASK


def sleep_us(us: int) -> None:
    """Wait."""
    board.world.advance(us if us > 0 else 0)


def sleep_ms(ms: int) -> None:
    """Wait."""
    sleep_us(ms * 1000)


def sleep(seconds: float) -> None:
    """Wait."""
    sleep_us(int(seconds * 1_000_000))


def time() -> int:
    """Return seconds; the board has no calendar, so they begin at its start."""
    seconds: int = board.world.look() // 1_000_000
    return seconds


def time_ns() -> int:
    """Return the same in nanoseconds."""
    nanoseconds: int = board.world.look() * 1000
    return nanoseconds
