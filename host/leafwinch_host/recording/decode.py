"""Takes many recorded trace lines apart at once, as arrays: stamps, check sums, columns."""

import binascii
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from leafwinch.states import STATE_NAMES
from leafwinch_host.board.serial_lines import CRC_START, TEXT_CHARACTERS
from leafwinch_host.recording.stream import BODY_BYTES

Bytes = NDArray[np.uint8]
Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]

STAMP = 29  # characters of a time in UTC: 2025-01-31T12:34:56.789+00:00
MILLISECONDS = 23  # of these without the zone
TEXT_AT = STAMP + 1
LINE = TEXT_AT + BODY_BYTES
ZONE = b"+00:00"

HEX, DECIMAL, SIGNED = 16, 10, 0
# Column, first character, width and form: firmware/README.md, section Trace.
FIELDS = (
    ("sequence", 2, 4, HEX, np.uint16),
    ("clock", 7, 8, HEX, np.int32),
    ("contacts", 16, 5, HEX, np.int32),
    ("outputs", 22, 2, HEX, np.uint8),
    ("state", 25, 1, HEX, np.uint8),
    ("fault", 27, 2, DECIMAL, np.uint8),
    ("held", 30, 4, HEX, np.uint16),
    ("refused", 35, 1, HEX, np.uint8),
    ("ended", 36, 1, HEX, np.uint8),
    ("warning", 37, 1, HEX, np.uint8),
    ("current_ma", 39, 7, SIGNED, np.int32),
    ("supply_mv", 47, 5, DECIMAL, np.int32),
    ("late", 53, 2, HEX, np.uint8),
    ("dropped", 56, 2, HEX, np.uint8),
)
SPACES = (1, 6, 15, 21, 24, 26, 29, 34, 38, 46, 52, 55)
NOT_DIGIT = 255
CLOCK_MAX = 1 << 30

_VALUES = np.full(256, NOT_DIGIT, dtype=np.uint8)
_VALUES[[ord(c) for c in "0123456789ABCDEF"]] = np.arange(16)
# What each byte does to the CRC, from the library that computes it: 0 start, one byte.
_CRC = np.array([binascii.crc_hqx(bytes([b]), 0) for b in range(256)], dtype=np.uint16)


def codes_of(text: Bytes) -> NDArray[np.uint16]:
    """Return the CRC-16/IBM-3740 of each row."""
    crc = np.full(len(text), CRC_START, dtype=np.uint16)
    for column in text.T:
        crc = (crc << np.uint16(8)) ^ _CRC[(crc >> np.uint16(8)).astype(np.uint8) ^ column]
    return crc


def number(rows: Bytes, at: int, width: int, base: int) -> tuple[Whole, Flags]:
    """Return the numbers that stand in some characters of each row, and where they are none."""
    digits = _VALUES[rows[:, at : at + width]]
    wrong: Flags = np.any(digits >= base, axis=1)
    value = np.zeros(len(rows), dtype=np.int64)
    for column in digits.T:
        value = value * base + column
    return value, wrong


def columns_of(text: Bytes) -> tuple[dict[str, NDArray[np.generic]], Flags]:
    """Return the columns of rows of 62 characters by name, and which rows are good."""
    good = codes_of(text[:, :TEXT_CHARACTERS]) == number(text, TEXT_CHARACTERS, 4, HEX)[0]
    good &= (text[:, SPACES] == ord(" ")).all(axis=1)
    columns: dict[str, NDArray[np.generic]] = {}
    for name, at, width, form, kind in FIELDS:
        if form == SIGNED:
            sign = text[:, at]
            value, wrong = number(text, at + 1, width - 1, DECIMAL)
            value = np.where(sign == ord("-"), -value, value)
            wrong |= (sign != ord("-")) & (sign != ord("+"))
        else:
            value, wrong = number(text, at, width, form)
        good &= ~wrong
        if name == "clock":
            good &= value < CLOCK_MAX
        elif name == "state":
            good &= value < len(STATE_NAMES)
        columns[name] = value.astype(kind)
    return columns, good


def times_of(stamps: Bytes) -> tuple[Whole, Flags]:
    """Return the ms since 1970 that rows of 29 characters say, and which rows are good."""
    good = (stamps[:, MILLISECONDS:] == np.frombuffer(ZONE, dtype=np.uint8)).all(axis=1)
    for at, letter in ((4, "-"), (7, "-"), (10, "T"), (13, ":"), (16, ":"), (19, ".")):
        good &= stamps[:, at] == ord(letter)
    day, wrong = _days(stamps)
    good &= ~wrong
    ms = np.zeros(len(stamps), dtype=np.int64)
    for at, width, top, unit in (
        (11, 2, 24, 3_600_000),
        (14, 2, 60, 60_000),
        (17, 2, 60, 1000),
        (20, 3, 1000, 1),
    ):
        value, wrong = number(stamps, at, width, DECIMAL)
        good &= ~wrong & (value < top)
        ms += value * unit
    return day * 86_400_000 + ms, good


def _days(stamps: Bytes) -> tuple[Whole, Flags]:
    """Return days since 1970; a recording has few different ones."""
    packed = np.ascontiguousarray(stamps[:, :10]).view("S10").ravel()
    edges = np.flatnonzero(packed[1:] != packed[:-1]) + 1
    bounds = [0, *edges.tolist(), len(packed)] if len(packed) else []
    days = np.zeros(len(packed), dtype=np.int64)
    wrong = np.zeros(len(packed), dtype=np.bool_)
    for first, end in pairwise(bounds):
        try:
            text = packed[first].decode("ascii")
            days[first:end] = np.datetime64(text, "D").astype(np.int64)
        except (ValueError, UnicodeDecodeError):
            wrong[first:end] = True
    return days, wrong
