"""The board's lines as the host reads them: cut, checked, counted, never more memory than said."""

import binascii
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from leafwinch.edge.lines import fixed
from leafwinch_host.board.serial_lines import (
    JUNK_MAX,
    LINE_BYTES,
    LineReader,
    Sample,
    checked,
    sample_of,
)

FIRMWARE_PAGE = Path(__file__).parents[2] / "firmware" / "README.md"


def page_example() -> bytes:
    """The worked example of the page that describes the line."""
    text = FIRMWARE_PAGE.read_text(encoding="utf-8")
    inside = text.split("<!-- example starts -->")[1].split("<!-- example ends -->")[0]
    return inside.strip().strip("`").strip().encode("ascii") + b"\r\n"


def trace_line(sequence: int) -> bytes:
    """Make a trace line by the page, with the CRC of Python's own library."""
    text = f"T {sequence:04X} 00002039 073F6 03 2 00 0000 010 +005100 24000 00 00".encode("ascii")
    assert len(text) == LINE_BYTES - 6
    return text + b"%04X\r\n" % binascii.crc_hqx(text, 0xFFFF)


def test_the_example_of_the_page_is_read_as_the_page_says() -> None:
    (line,) = LineReader().feed(page_example())
    assert sample_of(line) == Sample(
        sequence=0x1BB,
        t_ms=0x2039,
        contacts=0x73F6,
        outputs=3,
        state=2,
        fault=0,
        held_reasons=0,
        refused=0,
        ended=1,
        warning=0,
        current_ma=5100,
        supply_mv=24000,
        late=0,
        dropped=0,
    )


@given(st.lists(st.integers(1, 200), max_size=60), st.integers(0, 0xFFFF))
def test_pieces_of_any_length_give_the_same_lines(cuts: list[int], first: int) -> None:
    sent = [trace_line((first + index) & 0xFFFF) for index in range(20)] + [bytes(fixed("A", "x"))]
    data = b"".join(sent)
    reader = LineReader()
    lines = []
    for cut in cuts:
        lines += reader.feed(data[:cut])
        data = data[cut:]
    lines += reader.feed(data)
    assert len(lines) == 21
    assert reader.counted.bad == 0
    assert reader.counted.missing == 0
    assert lines[-1].text == "A x"


@given(st.binary(max_size=300))
def test_garbage_costs_no_line_after_its_end(junk: bytes) -> None:
    reader = LineReader()
    reader.feed(junk + b"\r\n")
    bad = reader.counted.bad
    assert [line.kind for line in reader.feed(trace_line(7))] == ["T"]
    assert reader.counted.bad == bad


@given(st.integers(0, LINE_BYTES - 3), st.integers(1, 255))
def test_any_wrong_byte_is_noticed(place: int, change: int) -> None:
    data = bytearray(trace_line(7))
    data[place] ^= change
    good = checked(bytes(data[:-2]))
    # Only a change that puts an end of line inside could cut the line otherwise; none is good.
    assert good is None


def test_lines_that_are_missing_are_counted_over_the_wrap() -> None:
    reader = LineReader()
    for sequence in (0xFFFE, 0xFFFF, 0x0003, 0x0004):
        reader.feed(trace_line(sequence))
    assert reader.counted.missing == 3
    assert reader.counted.lines == 4


def test_endless_garbage_takes_no_more_memory() -> None:
    reader = LineReader()
    for _ in range(100):
        reader.feed(b"\xff" * 10_000)
    assert len(reader._rest) <= JUNK_MAX
    reader.feed(b"\r\n")
    assert len(reader.feed(trace_line(1))) == 1


def test_a_line_with_a_good_code_but_no_numbers_is_bad() -> None:
    text = b"T 0001 GGGGGGGG 073F6 03 2 00 0000 010 +005100 24000 00 00"
    assert checked(text + b"%04X" % binascii.crc_hqx(text, 0xFFFF)) is None
    text = b"Q" + b" " * 57
    assert checked(text + b"%04X" % binascii.crc_hqx(text, 0xFFFF)) is None
