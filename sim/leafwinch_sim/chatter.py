"""Repeatable noise without a state: a hash of seed, channel and time.

A bench that branches must not carry a random generator along; a pure function of the
millisecond gives every branch the same noise.
"""

_MASK = 0xFFFFFFFF


def noise(seed: int, channel: int, t_ms: int) -> int:
    """Return 32 well-mixed bits for this millisecond (integer hash, murmur-style mixing)."""
    x = (seed * 0x9E3779B1 ^ channel * 0x85EBCA6B ^ t_ms * 0xC2B2AE35) & _MASK
    x ^= x >> 16
    x = x * 0x7FEB352D & _MASK
    x ^= x >> 15
    x = x * 0x846CA68B & _MASK
    return x ^ x >> 16


def noise_ratio(seed: int, channel: int, t_ms: int) -> float:
    """Return a number from -1 to 1, evenly spread."""
    return noise(seed, channel, t_ms) / 2147483648.0 - 1.0
