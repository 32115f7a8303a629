"""The trace: one line a sample to the serial port, 20 a second at rest and 100 in motion.

Of two passes one fills the line and the other sends it, so that neither is long. A line that finds
the port not ready is dropped and counted; nothing ever waits.
"""

from array import array

from leafwinch.edge.counters import DROPPED_LINES, LATE_PASSES, count
from leafwinch.edge.fault_trace import CURRENT_BIAS, SUPPLY_MAX_MV
from leafwinch.edge.lines import LINE, fill, fixed, seal
from leafwinch.numbers import TYPE_CHECKING, const
from leafwinch.states import LOWERING, RAISING

if TYPE_CHECKING:
    from leafwinch.controller import Controller
    from leafwinch.edge.keeper import Keeper
    from leafwinch.edge.lines import Port

REST_TURNS = const(5)  # a turn is two passes: 20 lines a second
TAIL_TURNS = const(30)  # so long after a travel the lines stay quick
GREET_TURNS = const(1000)  # 10 s

# One byte a field: its width; 0x10 decimal, 0x20 sign and decimal, else hexadecimal. In this order:
# sequence, time in ms, contacts, outputs, state, fault, held reasons, refused and ended and
# warning, current in mA, supply in mV, late passes, dropped lines.
LAYOUT = bytearray(b"\x04\x08\x05\x02\x01\x12\x04\x03\x27\x15\x02\x02")
FIELDS = const(12)
SUPPLY_SHOWN_MV = const(99999)
CURRENT_SHOWN_MA = const(999999)


class Trace:
    """Fills and sends the trace's lines and takes the samples that go before a fault.

    greeting: name, version and board; said at the start and every 10 s at rest.
    """

    def __init__(
        self, controller: "Controller", keeper: "Keeper", port: "Port", greeting: str
    ) -> None:
        self.controller = controller
        self.counters = keeper.counters
        self.samples = keeper.fault_trace
        self.port = port
        self.greeting = fixed("G", greeting)
        self.line = bytearray(LINE)
        self.line[0] = ord("T")
        self.line[1] = ord(" ")
        self.values = array("i", [0] * FIELDS)
        self.sending: "bytearray | None" = None
        self.second = 0  # 1 in the second pass of a turn
        self.sequence = 0
        self.turns = 0  # until the next line
        self.tail = 0
        self.greet = 0

    def step(self, contacts: int, outputs: int, supply_mv: int) -> None:
        """Do this pass's part; contacts: as read, outputs: as set, after the core's step."""
        controller = self.controller
        state = controller.state
        if self.second:
            self.second = 0
            supply = supply_mv if supply_mv < SUPPLY_MAX_MV else SUPPLY_MAX_MV
            value = (controller.current.value_ma + CURRENT_BIAS) & (2 * CURRENT_BIAS - 1)
            self.samples.sample(contacts | outputs << 17 | state << 23, value | supply >> 7 << 20)
            if self.sending is not None:
                if self.port.ready():
                    self.port.write(self.sending)
                else:
                    count(self.counters, DROPPED_LINES)
                self.sending = None
            return
        self.second = 1
        self.turns -= 1
        self.greet -= 1
        if state == RAISING or state == LOWERING:
            self.tail = TAIL_TURNS
        elif self.tail:
            self.tail -= 1
        elif self.turns > 0:
            if self.greet <= 0:
                self.greet = GREET_TURNS
                self.sending = self.greeting
            return
        self.turns = REST_TURNS
        self._fill(contacts, outputs, supply_mv)

    def _fill(self, contacts: int, outputs: int, supply_mv: int) -> None:
        controller = self.controller
        counters = self.counters
        values = self.values
        sequence = self.sequence
        self.sequence = (sequence + 1) & 0xFFFF
        values[0] = sequence
        values[1] = controller.last_ms
        values[2] = contacts
        values[3] = outputs
        values[4] = controller.state
        values[5] = controller.fault
        values[6] = controller.held_reasons
        values[7] = controller.refused << 8 | controller.ended << 4 | controller.warning
        current = controller.current.value_ma
        if current > CURRENT_SHOWN_MA:
            current = CURRENT_SHOWN_MA
        elif current < -CURRENT_SHOWN_MA:
            current = -CURRENT_SHOWN_MA
        values[8] = current
        values[9] = supply_mv if supply_mv < SUPPLY_SHOWN_MV else SUPPLY_SHOWN_MV
        values[10] = counters[LATE_PASSES]
        values[11] = counters[DROPPED_LINES]
        line = self.line
        fill(line, values, LAYOUT, FIELDS)
        seal(line)
        self.sending = line
