"""What the board tests of itself before anything may move."""

# pyright: reportUnknownMemberType=false, reportUnknownVariableType=false
import binascii

from leafwinch.edge.crc import crc16
from leafwinch.edge.meter import AVERAGED, Meter
from leafwinch.edge.sampling import COUNT, COUNT_MASK, SUPPLY
from leafwinch.numbers import NUMBER_MAX, TYPE_CHECKING, const

if TYPE_CHECKING:
    from collections.abc import Callable

    from leafwinch.edge.hardware import Hardware
    from leafwinch.edge.slots import Files

    _crc32: "Callable[[bytearray | memoryview, int], int]"
else:
    _crc32 = binascii.crc32

WAITS = const(26)  # of 5 ms: enough for the samples of the zero, and less than the ring holds twice
WAIT_US = const(5000)
SAMPLES_MAX = const(170)
SUPPLY_END = const(4095)  # code of a supply beyond its divider
NUMBERS = b"123456789"

# A line for each file of the program: its name within FOLDER, size, CRC-32 and SHA-256 in
# hexadecimal; after them "files" and their number. Not there where sources were copied by hand.
FOLDER = "leafwinch/"
MANIFEST = "leafwinch/manifest.txt"
PIECE = const(1024)  # bytes read at once


def self_test(board: "Hardware", meter: Meter) -> str:
    """Test check sums, program, pins, converter and sensor; return what failed in one word, or "".

    Takes 130 ms and learns the zero of the current sensor, so no motor may run. The check
    values are those of the catalogues of CRC algorithms for CRC-16/IBM-3740 and CRC-32.
    """
    numbers = bytearray(NUMBERS)
    if crc16(numbers, 0, 9) != 0x29B1:
        return "crc16"
    code = _crc32(numbers, 0)
    if code >> 16 != 0xCBF4 or code & 0xFFFF != 0x3926:
        return "crc32"
    if not program_whole(board.files):
        return "files"
    if not board.low():
        return "outputs"
    if board.inputs[board.register] > NUMBER_MAX:
        return "inputs"
    before = board.slots[COUNT]
    for _ in range(WAITS):
        board.sleep(WAIT_US)
        board.feed()
    samples = (board.slots[COUNT] - before) & COUNT_MASK
    if samples < AVERAGED or samples > SAMPLES_MAX:
        return "samples"
    if not meter.learn_zero():
        return "zero"
    meter.restart()
    if board.slots[SUPPLY] >> 4 >= SUPPLY_END:
        return "supply"
    return ""


def program_whole(files: "Files") -> bool:
    """Tell whether every file of the manifest has the size and the CRC-32 that it names there."""
    manifest = files.read(MANIFEST)
    if manifest is None:
        return True
    piece = bytearray(PIECE)
    count = 0
    try:
        for line in manifest.decode().split("\n"):
            words = line.split()
            if len(words) == 4:
                if not _same(files, FOLDER + words[0], int(words[1]), int(words[2], 16), piece):
                    return False
                count += 1
            elif len(words) == 2 and words[0] == "files":
                return int(words[1]) == count
    except ValueError:
        pass
    return False


def _same(files: "Files", name: str, size: int, code: int, piece: bytearray) -> bool:
    found = 0
    at = 0
    length = PIECE
    view = memoryview(piece)
    while length == PIECE:
        length = files.part(name, at, piece)
        found = _crc32(view[:length], found)
        at += length
    return at == size and found == code
