"""Sampling by a timer's callback, and by slots in the loop's waiting."""

import numpy as np
import pytest

from leafwinch.edge.sampling import COUNT, RING, SUPPLY, WaitingSampler, new_ring, new_slots
from leafwinch.edge.sampling import timed_sampler as make_callback


def test_the_callback_fills_the_ring_and_reads_the_supply_each_fourth_time() -> None:
    ring, slots = new_ring(), new_slots()
    readings = iter(range(70_000))
    supplies: list[int] = []

    def read_supply() -> int:
        supplies.append(1)
        return 1000 + len(supplies) % 7

    sample = make_callback(lambda: next(readings) & 0xFFFF, read_supply, ring, slots)
    for number in range(1, 66_000):
        sample(None)
        assert slots[COUNT] == number & 0xFFFF
        assert ring[(number - 1) % RING] == (number - 1) & 0xFFFF
    assert len(supplies) == 66_000 // 4
    assert slots[SUPPLY] == 1000 + len(supplies) % 7


class Clock:
    """Virtual microseconds that wrap; each look at them costs one."""

    def __init__(self, now: int, mask: int) -> None:
        self.now = now
        self.mask = mask

    def ticks_us(self) -> int:
        self.now += 1
        return self.now & self.mask

    def sleep_us(self, us: int) -> None:
        assert us > 0
        self.now += us


@pytest.mark.parametrize("mask", [(1 << 30) - 1, (1 << 62) - 1])
@pytest.mark.parametrize("spent_us", [0, 400, 900, 1500, 2600, 4990])
def test_slots_are_a_millisecond_apart_however_long_the_pass_was(mask: int, spent_us: int) -> None:
    clock = Clock((1 << 30) - 200_000, mask)
    start = clock.now
    # A ramp of a count each 8 us: whatever a slot holds tells when it was taken.
    sampler = WaitingSampler(
        lambda: 1000 + (clock.now - start) // 8,
        lambda: 33_000,
        new_ring(),
        new_slots(),
        clock.ticks_us,
        clock.sleep_us,
    )
    deadline = start
    found: list[int] = []
    for number in range(1, 80):
        deadline += 5000
        clock.now += spent_us
        sampler.sleep(deadline - clock.now)
        assert abs(clock.now - deadline) < 30
        assert sampler.slots[COUNT] == 5 * number
        found += [sampler.ring[k % RING] for k in range(5 * number - 5, 5 * number)]
    steps = np.diff(found[5:])
    # A late sample is put where it belongs on a straight line, here the ramp itself.
    assert np.all(np.abs(steps - 125) <= 25)
    assert sampler.slots[SUPPLY] == 33_000


def test_a_pass_without_any_time_left_still_makes_five_samples() -> None:
    clock = Clock(77, (1 << 30) - 1)
    sampler = WaitingSampler(
        lambda: 500, lambda: 600, new_ring(), new_slots(), clock.ticks_us, clock.sleep_us
    )
    sampler.sleep(0)
    assert sampler.slots[COUNT] == 5
