"""What the board tests of itself before anything may move."""

from leafwinch.edge.crc import crc16, crc32
from leafwinch.edge.meter import AVERAGED, Meter
from leafwinch.edge.sampling import COUNT, COUNT_MASK, SUPPLY
from leafwinch.numbers import NUMBER_MAX, TYPE_CHECKING, const

if TYPE_CHECKING:
    from leafwinch.edge.hardware import Hardware

WAITS = const(26)  # of 5 ms: enough for the samples of the zero, and less than the ring holds twice
WAIT_US = const(5000)
SAMPLES_MAX = const(170)
SUPPLY_END = const(4095)  # code of a supply beyond its divider
NUMBERS = b"123456789"


def self_test(board: "Hardware", meter: Meter) -> str:
    """Test codes, pins, converter and sensor; return what failed in one word, or "".

    Takes 130 ms and learns the zero of the current sensor, so no motor may run. The check
    values are those of the catalogues of CRC algorithms for CRC-16/IBM-3740 and CRC-32.
    """
    numbers = bytearray(NUMBERS)
    if crc16(numbers, 0, 9) != 0x29B1:
        return "crc16"
    code = crc32(numbers)
    if code >> 16 != 0xCBF4 or code & 0xFFFF != 0x3926:
        return "crc32"
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
