"""Check sums: CRC-16/IBM-3740 for lines and events, CRC-32/ISO-HDLC for files.

Both are those of the published catalogue of CRC algorithms under these names.
"""

from binascii import crc32 as _crc32  # pyright: ignore[reportUnknownVariableType]

from leafwinch.edge.fast import micropython, ptr8
from leafwinch.numbers import TYPE_CHECKING

if TYPE_CHECKING:
    from array import array


@micropython.viper
def crc16(data: ptr8, start: int, end: int) -> int:
    """Return CRC-16/IBM-3740 of the bytes from start to end (end not included).

    Polynomial 0x1021, start value 0xFFFF, not reflected. Eight steps of the shift register at once:
    the byte that leaves it, folded with itself, enters at the places of the polynomial's terms.
    """
    crc = 0xFFFF
    index = start
    while index < end:
        fold = (crc >> 8) ^ int(data[index])
        fold = fold ^ (fold >> 4)
        crc = ((crc << 8) ^ (fold << 12) ^ (fold << 5) ^ fold) & 0xFFFF
        index = index + 1
    return crc


def crc32(data: "bytes | bytearray | memoryview | array[int]") -> int:
    """Return CRC-32/ISO-HDLC, 0 to 2^32 - 1, which allocates on a small board: at rest only."""
    return _crc32(data)
