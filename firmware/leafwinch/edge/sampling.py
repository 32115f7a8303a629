"""Samples of the motor current at 1 kHz in a ring, and the latest one of the supply.

Both ways of sampling fill the same ring of 16-bit readings and the same slots: how many
samples came so far, modulo 2^16, and the latest reading of the control supply. Only
the sampler touches the converter, so that no reading is torn by another one.
"""

from array import array

from leafwinch.numbers import TICKS_MASK, TYPE_CHECKING, const

if TYPE_CHECKING:
    from collections.abc import Callable

RING = const(128)  # samples, a power of two
COUNT_MASK = const(0xFFFF)
COUNT = const(0)  # slot: samples so far, modulo 2^16
SUPPLY = const(1)  # slot: latest reading of the supply
SUPPLY_EVERY = const(3)  # the supply is read where these bits of the count are zero
SLOT_US = const(1000)
SLOTS = const(5)  # samples in one pass
PUNCTUAL_US = const(50)  # a sample so little late counts as punctual


def new_ring() -> "array[int]":
    """Return an empty ring."""
    return array("H", [0] * RING)


def new_slots() -> "array[int]":
    """Return the slots, all zero."""
    return array("H", [0, 0])


def timed_sampler(
    read_current: "Callable[[], int]",
    read_supply: "Callable[[], int]",
    ring: "array[int]",
    slots: "array[int]",
) -> "Callable[[object], None]":
    """Return the callback of a hard timer that takes one sample a millisecond.

    It allocates nothing, and an exception in it, which cannot reach the loop, ends the
    samples, which the core finds.
    """

    def sample(_timer: object) -> None:
        count = slots[COUNT]
        ring[count & (RING - 1)] = read_current()
        slots[COUNT] = (count + 1) & COUNT_MASK
        if not count & SUPPLY_EVERY:
            slots[SUPPLY] = read_supply()

    return sample


class WaitingSampler:
    """Takes the samples of one pass while the loop waits, where there is no hard timer.

    The slots lie 4, 3, 2, 1 and 0 ms before the end of the wait. A sample that a long pass made
    late is drawn back to its slot on the straight line from the sample before it.
    """

    def __init__(
        self,
        read_current: "Callable[[], int]",
        read_supply: "Callable[[], int]",
        ring: "array[int]",
        slots: "array[int]",
        ticks_us: "Callable[[], int]",
        sleep_us: "Callable[[int], None]",
    ) -> None:
        self.read_current = read_current
        self.read_supply = read_supply
        self.ticks_us = ticks_us
        self.sleep_us = sleep_us
        self.ring = ring
        self.slots = slots

    def sleep(self, left_us: int) -> None:
        """Wait so long in microseconds, up to 5000, and take five samples meanwhile."""
        ticks_us = self.ticks_us
        ring = self.ring
        slots = self.slots
        count = slots[COUNT]
        before = ring[(count - 1) & (RING - 1)]
        start = ticks_us()
        due = left_us - SLOT_US * SLOTS
        for _ in range(SLOTS):
            due += SLOT_US
            late = ((ticks_us() - start) & TICKS_MASK) - due
            if late < 0:
                self.sleep_us(0 - late)
            value = self.read_current()
            if late > PUNCTUAL_US:
                value = before + (value - before) * SLOT_US // (SLOT_US + late)
            ring[count & (RING - 1)] = value
            before = value
            count += 1
        slots[COUNT] = count & COUNT_MASK
        slots[SUPPLY] = self.read_supply()
