"""The module `machine` of a board with the RP2 port, as far as the firmware uses it."""

from leafwinch_sim.stand_in import words
from leafwinch_sim.stand_in.world import NEVER, World

TYPE_CHECKING = False  # type checkers read this name as true; nothing runs with it
if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

PINS = 30
GPIO_IN = 0xD0000004
PWRON_RESET = words.POWER_ON
WDT_RESET = words.WATCHDOG_RESET
WATCHDOG_MAX_MS = 8388


class Board:
    """What the classes below act on; set once, by the launcher."""

    def __init__(self) -> None:
        self.world: Any = None
        self.cause = PWRON_RESET
        self.on_timer: Any = None


board = Board()


def begin(world: World, cause: int) -> None:
    """Let the module act on this world after a reset of that cause."""
    board.world = world
    board.cause = cause


def on_timer(call: "Callable[[World], None]") -> None:
    """Let a function be called with the world whenever the program makes a timer."""
    board.on_timer = call


class Pin:
    """A pin; its output latch is the world's."""

    IN = 0
    OUT = 1
    PULL_UP = 1
    PULL_DOWN = 2

    def __init__(
        self, number: int, mode: int = -1, pull: int = -1, value: "int | None" = None
    ) -> None:
        if not 0 <= number < PINS:
            raise ValueError("invalid pin")
        self.number = number
        self.bit = 1 << number
        if mode == Pin.OUT:
            if value is not None:
                self(value)
        elif mode == Pin.IN:
            self(0)

    def __call__(self, level: "int | None" = None) -> "int | None":
        """Set the level, or return it."""
        world = board.world
        if level is None:
            return 1 if world.levels() & self.bit else 0
        if level:
            world.gpio |= self.bit
        else:
            world.gpio &= ~self.bit
        return None

    value = __call__

    def on(self) -> None:
        """Set the level high."""
        self(1)

    def off(self) -> None:
        """Set the level low."""
        self(0)


class ADC:
    """An analogue pin; 12 bits, repeated below as the port does."""

    def __init__(self, pin: Pin) -> None:
        self.number = pin.number

    def read_u16(self) -> int:
        """Return the reading, 0 to 65535."""
        code: int = board.world.code(self.number)
        return code << 4 | code >> 8


class Timer:
    """The one timer that the firmware needs, with a hard callback."""

    ONE_SHOT = 0
    PERIODIC = 1

    def __init__(
        self,
        _number: int = -1,
        mode: int = 1,
        period: int = 0,
        callback: "Any" = None,
        hard: bool = False,
    ) -> None:
        if mode != Timer.PERIODIC or period < 1 or not hard:
            raise ValueError("only a periodic timer with a hard callback is played here")
        world = board.world
        world.timer_callback = callback
        world.timer_period_us = period * 1000
        world.timer_us = world.now_us + period * 1000
        if board.on_timer is not None:
            board.on_timer(world)

    def deinit(self) -> None:
        """Stop the timer."""
        board.world.timer_us = NEVER


class WDT:
    """The watchdog, which nothing stops."""

    def __init__(self, id: int = 0, timeout: int = 5000) -> None:
        if not 1 <= timeout <= WATCHDOG_MAX_MS:
            raise ValueError("timeout exceeds " + str(WATCHDOG_MAX_MS))
        board.world.watchdog_us = timeout * 1000
        board.world.feed()

    def feed(self) -> None:
        """Put the bite off."""
        board.world.feed()


class Memory:
    """Registers by address; only that of the inputs is there."""

    def __getitem__(self, address: int) -> int:
        """Return the levels of all pins."""
        if address != GPIO_IN:
            raise ValueError("only the input register is played here")
        levels: int = board.world.levels()
        return levels


mem32 = Memory()


def reset() -> None:
    """Restart the board. Does not return."""
    board.world.end(words.END_RESET)


def soft_reset() -> None:
    """Restart the interpreter; pins keep their levels. Does not return."""
    board.world.end(words.END_SOFT)


def reset_cause() -> int:
    """Return what restarted the board; the RP2 port reports reset() as the watchdog."""
    return board.cause


def unique_id() -> bytes:
    """Return the number of a board that nobody made."""
    return b"virtual\x00"


def freq() -> int:
    """Return the processor's clock in Hz."""
    return 125_000_000
