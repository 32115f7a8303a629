"""Check sums against the published catalogue, and against two libraries on any data."""

import binascii
import zlib
from array import array

from hypothesis import given
from hypothesis import strategies as st

from leafwinch.edge.crc import crc16, crc32
from leafwinch.edge.lines import seal

CHECK = bytearray(b"123456789")


def test_check_values_of_the_catalogue() -> None:
    # Catalogue of parametrised CRC algorithms: check values of CRC-16/IBM-3740, CRC-32/ISO-HDLC.
    assert crc16(CHECK, 0, 9) == 0x29B1
    assert crc32(CHECK) == 0xCBF43926


def test_residues() -> None:
    # The same catalogue: residue 0000 of CRC-16/IBM-3740, its CRC appended high byte first.
    whole = CHECK + bytearray([0x29, 0xB1])
    assert crc16(whole, 0, 11) == 0
    # Residue DEBB20E3 of CRC-32/ISO-HDLC, appended low byte first, before the final exclusive or.
    whole = CHECK + (0xCBF43926).to_bytes(4, "little")
    assert crc32(whole) ^ 0xFFFFFFFF == 0xDEBB20E3


@given(st.binary(max_size=300), st.integers(0, 300), st.integers(0, 300))
def test_crc16_is_binascii_s(data: bytes, start: int, end: int) -> None:
    start, end = sorted((min(start, len(data)), min(end, len(data))))
    assert crc16(bytearray(data), start, end) == binascii.crc_hqx(data[start:end], 0xFFFF)


@given(st.lists(st.integers(-(1 << 31), (1 << 31) - 1), max_size=50))
def test_crc32_of_words_is_zlib_s(words: list[int]) -> None:
    assert crc32(array("i", words)) == zlib.crc32(array("i", words).tobytes())


@given(st.binary(min_size=58, max_size=58))
def test_a_sealed_line_ends_with_the_crc_of_its_text(text: bytes) -> None:
    line = bytearray(text) + bytearray(6)
    crc = seal(line)
    assert crc == binascii.crc_hqx(text, 0xFFFF)
    assert line == text + b"%04X\r\n" % crc
