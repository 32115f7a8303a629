"""The settings as the words of their file, and back again; loaded only while that is asked."""

from array import array

from leafwinch.edge.crc import crc16
from leafwinch.edge.settings_store import envelopes
from leafwinch.edge.slots import HEAD
from leafwinch.numbers import const
from leafwinch.settings import BUCKETS, Settings
from leafwinch.settings_schema import SETTING_NAMES, check_converter, settings_from

CURRENT_MAX_MA = const(500000)  # size of an entry of the envelope


def names_check() -> int:
    """Return the CRC-16 of the names of all settings in their order, joined by spaces.

    A program with other settings, or in another order, finds another value.
    """
    names = bytearray(" ".join(SETTING_NAMES).encode())
    return crc16(names, 0, len(names))


def settings_words(settings: Settings, site_hash: int, netlist_hash: int) -> "array[int]":
    """Return the words of the settings' file, with room for head and check sum.

    Both hashes: the first four bytes, little-endian, of a SHA-256, less the two highest bits.
    """
    words = array("i", [0] * HEAD)
    words.append(site_hash)
    words.append(netlist_hash)
    words.append(names_check())
    for name in SETTING_NAMES:
        words.append(getattr(settings, name))
    for envelope in envelopes(settings):
        words.extend(array("i", envelope))
    words.append(0)
    return words


def settings_of(words: "array[int]") -> "Settings | None":
    """Return the settings in a file's words, or None where they cannot be these."""
    count = len(SETTING_NAMES)
    at = HEAD + 3
    if len(words) != at + count + 4 * BUCKETS + 1 or words[HEAD + 2] != names_check():
        return None
    values: "dict[str, int]" = {}
    for name in SETTING_NAMES:
        values[name] = words[at]
        at += 1
    try:
        settings = settings_from(values)
        check_converter(settings)
    except ValueError:
        return None
    for envelope in envelopes(settings):
        for bucket in range(BUCKETS):
            value = words[at]
            if not -CURRENT_MAX_MA <= value <= CURRENT_MAX_MA:
                return None
            envelope[bucket] = value
            at += 1
    return settings
