"""One line to the serial port: 58 printable characters, CRC-16, end of line; always 64 bytes.

The board's USB port takes whole blocks of 64 bytes, so a port that is ready takes a line at
once. Character 0 is the kind of line, character 1 a space.
"""

from leafwinch.edge.fast import micropython, ptr8, ptr32
from leafwinch.numbers import TYPE_CHECKING, const

if TYPE_CHECKING:
    from typing import Protocol

    class Port(Protocol):
        """The serial port."""

        def ready(self) -> bool:
            """Tell whether a line of 64 bytes can be written without waiting."""
            ...

        def write(self, line: bytearray) -> None:
            """Write a whole line."""
            ...

        def receive(self) -> int:
            """Return the next byte, or -1 where none has come."""
            ...


LINE = const(64)  # bytes
TEXT = const(58)  # of them under the check sum

# Fast functions see only constants of their own module, so that they stand here as well.
_SPACE = const(0x20)
_WIDTH = const(15)  # of a field's layout byte: how many characters
_DECIMAL = const(16)
_SIGNED = const(32)


@micropython.viper
def seal(line: ptr8) -> int:
    """Put the CRC-16/IBM-3740 of the text and the end of line; return the CRC.

    The loop is that of crc.crc16, since a fast function can't hand its bytes on.
    """
    crc = 0xFFFF
    index = 0
    while index < TEXT:
        fold = (crc >> 8) ^ int(line[index])
        fold = fold ^ (fold >> 4)
        crc = ((crc << 8) ^ (fold << 12) ^ (fold << 5) ^ fold) & 0xFFFF
        index = index + 1
    rest = crc
    index = 62
    while index > TEXT:
        index = index - 1
        digit = rest & 15
        rest = rest >> 4
        line[index] = digit + (48 if digit < 10 else 55)
    line[62] = 13
    line[63] = 10
    return crc


@micropython.viper
def fill(line: ptr8, values: ptr32, layout: ptr8, fields: int) -> int:
    """Write so many numbers into the text from character 2 on, each behind the last and a space.

    layout: one byte a field, its width and what it is: hexadecimal, _DECIMAL, or _SIGNED,
    which is a sign and decimal digits. Returns the index behind the last one.
    """
    at = 2
    field = 0
    while field < fields:
        how = int(layout[field])
        value = int(values[field])
        first = at
        at = at + (how & _WIDTH)
        index = at
        if how & _SIGNED:
            line[first] = 43
            if (value >> 31) & 1:  # a 64-bit build loads a negative word without its sign
                value = (0 - value) & 0x3FFFFFFF
                line[first] = 45
            first = first + 1
        if how & (_SIGNED | _DECIMAL):
            while index > first:
                index = index - 1
                tenth = value // 10
                line[index] = 48 + value - 10 * tenth
                value = tenth
        else:
            while index > first:
                index = index - 1
                digit = value & 15
                value = value >> 4
                line[index] = digit + (48 if digit < 10 else 55)
        line[at] = _SPACE
        at = at + 1
        field = field + 1
    return at


class Line:
    """A line that is put together from words and numbers; allocates, so for use at rest.

    What does not fit into the text is cut off.
    """

    def __init__(self) -> None:
        self.buffer = bytearray(LINE)
        self.at = 0

    def start(self, kind: str) -> "Line":
        """Begin a line of this kind, one letter."""
        buffer = self.buffer
        for index in range(TEXT):
            buffer[index] = _SPACE
        buffer[0] = ord(kind)
        self.at = 2
        return self

    def word(self, text: object) -> "Line":
        """Put the text of a word or number, and a space behind it; not ASCII becomes '?'."""
        buffer = self.buffer
        at = self.at
        for letter in str(text):
            if at >= TEXT:
                break
            code = ord(letter)
            buffer[at] = code if 32 <= code < 127 else 63
            at += 1
        self.at = at + 1
        return self

    def kind(self) -> str:
        """Return the kind of this line."""
        return chr(self.buffer[0])

    def sealed(self) -> bytearray:
        """Return the 64 bytes."""
        seal(self.buffer)
        return self.buffer


def fixed(kind: str, text: str) -> bytearray:
    """Return a line of its own that never changes."""
    return Line().start(kind).word(text).sealed()
