"""What counts as right on the sheet: the printed band with both its ends.

JCGM 106:2012, 3.3.5, note 1: unless otherwise stated the tolerance limits belong to the tolerance
interval (from memory).
"""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leafwinch_wiring.continuity import as_printed, in_ohm
from leafwinch_wiring.netlist import load_netlist
from leafwinch_wiring.point_limits import Limits, expected_words, limits
from leafwinch_wiring.point_sheet import PointSheet, point_sheet
from leafwinch_wiring.sheet_check import Predicted, diagnose
from leafwinch_wiring.sheet_file import FilledRow, read_filled, read_ohm
from tests.wiring.filling import filled_text

NAMES = ("bare", "bare-12v")
VALUE = re.compile(r"[0-9.]+ (?:k|M)?ohm")


@pytest.fixture(scope="module")
def sheets() -> dict[str, PointSheet]:
    return {name: point_sheet(load_netlist(name), seconds=0.0) for name in NAMES}


def ends_of(words: str) -> list[str]:
    """The values that a sheet prints for a row, as they stand there."""
    found = VALUE.findall(words)
    assert found, words
    return found


@pytest.mark.parametrize("which", [0, -1])
@pytest.mark.parametrize("name", NAMES)
def test_a_sheet_filled_in_with_the_printed_ends_is_as_drawn(
    name: str, which: int, sheets: dict[str, PointSheet]
) -> None:
    net, sheet = load_netlist(name), sheets[name]
    text = filled_text(sheet, [ends_of(row.expected)[which] for row in sheet.rows])
    found = diagnose(net, read_filled(text, "sheet.csv", net))
    assert [item.row.number for item in found.wrong] == []
    assert found.complete_and_right


@pytest.mark.parametrize("name", NAMES)
def test_the_next_number_beyond_a_printed_end_is_wrong(
    name: str, sheets: dict[str, PointSheet]
) -> None:
    """One more, or one less, in the last of four digits: the sheet prints three."""
    net, sheet = load_netlist(name), sheets[name]
    rows = [
        FilledRow(row.number, 0, row.what.a, row.what.b, row.what.operated, row.what.acts, ohm)
        for row in sheet.rows
        for ohm in beyond(row.expected)
    ]
    assert rows
    judge = Predicted(net, rows)
    for row, good in zip(rows, judge.sound, strict=True):
        assert row.ohm is not None
        assert not good.hold(row.ohm), (row, good)


def beyond(words: str) -> list[float]:
    ends = [read_ohm(end) for end in ends_of(words)]
    values = [end for end in ends if end is not None]
    if words.startswith("closed"):
        return [values[0] * 1.001]
    if "at least" in words:
        return [values[0] * 0.999]
    return [values[0] * 0.999, values[1] * 1.001]


def test_the_words_of_each_kind_of_band() -> None:
    """A contact or a clip adds up to 2 ohm; a coil is held to a tenth: the rules of the sheet."""
    assert expected_words(0.012, 0.0163, closed=True) == "closed, at most 2.02 ohm"
    assert expected_words(1e8, 2e8, closed=False) == "open, at least 100 kohm"
    assert expected_words(480.0, 480.0, closed=False) == "432 ohm to 528 ohm"
    assert expected_words(480.0, 1e8, closed=False) == "not closed, at least 432 ohm"


@pytest.mark.parametrize(
    ("ohm", "right"),
    [
        (432.0, True),
        (431.9, False),
        (528.0, True),
        (528.1, False),
        (math.inf, False),
        (0.0, False),
    ],
)
def test_the_ends_of_a_band_belong_to_it(ohm: float, right: bool) -> None:
    assert limits(480.0, 480.0, closed=False).hold(ohm) is right


def test_a_value_counts_the_same_in_ohm_and_in_kohm() -> None:
    """1.13 times 1000 is a trifle below 1130 in binary; both are the same reading."""
    assert Limits(1000.0, 1.13 * 1e3).hold(1130.0)
    assert Limits(1130.0, 2000.0).hold(1.13 * 1e3)


@given(st.floats(0.0, 1.9e7))
def test_what_is_printed_reads_back_as_it_was_rounded(ohm: float) -> None:
    printed = in_ohm(ohm)
    value = read_ohm(printed)
    if value is not None:
        assert value == as_printed(ohm)
    assert as_printed(ohm) == pytest.approx(ohm, rel=0.0051)


@given(st.floats(0.0, 1e9), st.floats(0.0, 1e9), st.booleans())
def test_a_sound_circuit_lies_within_its_own_band(one: float, two: float, closed: bool) -> None:
    low, high = sorted((one, two))
    good = limits(low, high, closed)
    assert good.low <= good.high
    assert good.hold(low) or good.low == 1e5
    if not closed:
        assert good.hold(high)
