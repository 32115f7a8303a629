"""The same integer waveform through the meter in any interpreter, and the sum of what it reads."""

from leafwinch.edge.meter import Meter
from leafwinch.edge.sampling import COUNT, RING, new_ring, new_slots

# A quarter of a sine, 16 steps, 1024 high.
QUARTER = (0, 100, 200, 297, 392, 483, 569, 650, 724, 792, 851, 903, 946, 980, 1004, 1019, 1024)


def sine(step: int) -> int:
    """Return 1024 times the sine of so many 64ths of a turn."""
    step &= 63
    if step >= 32:
        return -sine(step - 32)
    return QUARTER[step if step <= 16 else 32 - step]


def meter_sum(signed: int, seed: int, passes: int) -> int:
    """Return a sum over all readings of waveforms that change their size, period and offset."""
    ring = new_ring()
    slots = new_slots()
    meter = Meter(ring, slots, signed, 20_000 + 977 * seed)
    state = seed * 7919 + 1
    total = 0
    phase = 0
    height = 0
    pace = 330
    offset = 0
    for number in range(passes):
        state = (state * 1021 + 4093) & 0xFFFFF
        if not state & 31:
            height = state >> 9
            pace = 290 + (state >> 5 & 127)
            offset = (state >> 4 & 63) - 32
        # 3 to 7 samples a pass, sometimes none, sometimes more than the ring holds.
        count = 3 + (state >> 8) % 5
        if not state >> 3 & 63:
            count = 0
        elif not state >> 6 & 255:
            count = 140
        for _ in range(count):
            state = (state * 1021 + 4093) & 0xFFFFF
            phase = (phase + pace) & 0xFFFF
            code = 2048 + offset + height * sine(phase // 100) // 1024 + (state >> 10) % 7 - 3
            code = 0 if code < 0 else code if code < 4095 else 4095
            at = slots[COUNT]
            ring[at % RING] = code << 4
            slots[COUNT] = (at + 1) & 0xFFFF
        if number == 40:
            meter.learn_zero()
        if not state & 15:
            meter.track_zero()
        total = (total * 31 + meter.read()) & 0xFFFFFF
    return total
