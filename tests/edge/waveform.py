"""Waveforms through a modelled converter into the sampler's ring, and what numpy makes of them.

The converter: 12 bits, noise from its effective number of bits, and steps in its transfer at codes
512, 1536, 2560 and 3584 (the RP2040's data sheet, erratum E11: differential non-linearity of 8.9
LSB; effective bits 8.7, for the RP2350 9.2; figures of the data sheets).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leafwinch.edge.meter import Meter
from leafwinch.edge.sampling import COUNT, RING, new_ring, new_slots
from leafwinch.signals import NO_SAMPLE

Samples = NDArray[np.float64]

STEPS = (512, 1536, 2560, 3584)
STEP_LSB = 8.9
ENOB_RP2040 = 8.7
ENOB_RP2350 = 9.2
PASS_SAMPLES = 5
MIDDLE = 2048


@dataclass(frozen=True)
class Converter:
    """A 12-bit converter; enob 0 means an ideal one."""

    enob: float = 0.0
    steps_lsb: float = 0.0

    def noise_lsb(self) -> float:
        """Return the standard deviation that leaves so many effective bits of a full-scale sine.

        A sine of amplitude 2048 has the power 2048^2 / 2; SNR = 6.02 ENOB + 1.76 dB (IEEE 1241).
        """
        if not self.enob:
            return 0.0
        snr = math.pow(10.0, (6.02 * self.enob + 1.76) / 20.0)
        return 2048.0 / math.sqrt(2.0) / snr

    def convert(self, codes: Samples, rng: np.random.Generator) -> NDArray[np.int64]:
        """Return whole codes of ideal, unrounded codes."""
        # A code that is 8.9 LSB too wide swallows its neighbours; in between the transfer recovers
        # linearly, so that the ends agree.
        shifted = codes.copy()
        if self.steps_lsb:
            for step in STEPS:
                away = codes - step
                near = np.abs(away) <= 512.0
                shifted[near] -= (
                    0.5 * self.steps_lsb * np.sign(away[near]) * (1.0 - np.abs(away[near]) / 512.0)
                )
        noisy = shifted + rng.normal(0.0, self.noise_lsb(), len(codes)) if self.enob else shifted
        return np.clip(np.rint(noisy), 0, 4095).astype(np.int64)


IDEAL = Converter()
RP2040 = Converter(ENOB_RP2040, STEP_LSB)
RP2350 = Converter(ENOB_RP2350, 0.0)


class Rig:
    """A meter with its ring, fed sample by sample."""

    def __init__(self, signed: int, range_ma: int) -> None:
        self.ring = new_ring()
        self.slots = new_slots()
        self.range_ma = range_ma
        self.meter = Meter(self.ring, self.slots, signed, range_ma)

    def feed(self, codes: NDArray[np.int64]) -> None:
        """Put samples into the ring as the sampler does."""
        for code in codes:
            count = self.slots[COUNT]
            self.ring[count % RING] = int(code) << 4 | int(code) >> 8
            self.slots[COUNT] = (count + 1) & 0xFFFF

    def play(self, codes: NDArray[np.int64]) -> list[int]:
        """Feed the samples of each pass and return the value of each pass."""
        values = []
        for start in range(0, len(codes) - PASS_SAMPLES + 1, PASS_SAMPLES):
            self.feed(codes[start : start + PASS_SAMPLES])
            values.append(self.meter.read())
        return values

    def codes(self, currents_ma: Samples, offset_code: float = 0.0) -> Samples:
        """Return the ideal codes of currents."""
        return MIDDLE + offset_code + currents_ma * 2048.0 / self.range_ma


def times(
    seconds: float, jitter_us: float = 0.0, rng: np.random.Generator | None = None
) -> Samples:
    """Return the times of samples a millisecond apart, with a uniform jitter."""
    made = np.arange(round(seconds * 1000)) / 1000.0
    if rng is not None and jitter_us:
        made = made + rng.uniform(-jitter_us, jitter_us, len(made)) * 1e-6
    return made


def fresh(values: list[int], skip: int = 0) -> list[int]:
    """Return the values that are samples, without the first ones."""
    return [value for value in values if value != NO_SAMPLE][skip:]
