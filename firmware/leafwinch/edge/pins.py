"""Which pin of which board carries what: data only, in one place.

The order of the contacts is that of signals.CONTACT_NAMES, the order of the outputs
that of signals.OUTPUT_NAMES. An isolator pulls its pin to ground while the contact is
closed and the pin's own pull-up lifts it otherwise, so a broken wire reads open.
"""

from leafwinch.numbers import const

ONE_READ = const(0)  # all contacts are bits 0 to 16 of one register
PIN_BY_PIN = const(1)
TIMER = const(0)  # current is sampled by a hard timer callback every millisecond
WAITING = const(1)  # current is sampled while the loop waits, at slots of a millisecond

NO_PIN = const(-1)


class Board:
    """The pins of one board.

    contacts, outputs: pin numbers in bit order. current, supply: analogue pins.
    heartbeat: toggled by each complete pass, or NO_PIN. unused: pins that lead
    outside and carry nothing; they rest low by their pull-down. reading, sampling: how.
    register: address of the input register, with reading ONE_READ. watchdog_ms: without a
    complete pass so long the board restarts.
    """

    def __init__(
        self,
        name: str,
        contacts: "tuple[int, ...]",
        outputs: "tuple[int, ...]",
        analogue: "tuple[int, int]",
        heartbeat: int,
        unused: "tuple[int, ...]",
        methods: "tuple[int, int]",
        register: int,
        watchdog_ms: int,
    ) -> None:
        self.name = name
        self.contacts = contacts
        self.outputs = outputs
        self.current, self.supply = analogue
        self.heartbeat = heartbeat
        self.unused = unused
        self.reading, self.sampling = methods
        self.register = register
        self.watchdog_ms = watchdog_ms


# The charge pump takes the line contactor off within 45 ms of the last pass, so the watchdog only
# has to bring a dead program back. Before a file is written it is fed; a flash sector's erase takes
# 45 ms, 400 ms at worst, and one file costs four of them at most.
WATCHDOG_MS = const(2000)


def pico() -> Board:
    """Return the pins of the board with an RP2040 or RP2350; both have the same."""
    return Board(
        "pico",
        (0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16),
        (17, 18, 19, 20, 21, 22),
        (26, 27),
        28,
        (25,),
        (ONE_READ, TIMER),
        0xD0000004,
        WATCHDOG_MS,
    )


def esp32() -> Board:
    """Return the pins of a board with an ESP32-S3 module."""
    return Board(
        "esp32",
        (8, 9, 10, 11, 12, 13, 14, 17, 18, 21, 38, 39, 40, 41, 42, 47, 48),
        (4, 5, 6, 7, 15, 16),
        (1, 2),
        NO_PIN,
        (),
        (PIN_BY_PIN, WAITING),
        0,
        WATCHDOG_MS,
    )


def board_for(platform: str) -> Board:
    """Return the board of an interpreter's sys.platform; a desktop plays the pico."""
    return esp32() if platform == "esp32" else pico()
