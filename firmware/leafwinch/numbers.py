"""const() for both interpreters, and the bounds every number in the core keeps."""

try:
    from micropython import const  # pyright: ignore[reportAssignmentType]
except ImportError:  # CPython: const() is only a hint to the MicroPython compiler

    def const(value: int) -> int:
        """Return value unchanged."""
        return value


TYPE_CHECKING = False  # type checkers read this name as true; nothing runs with it

NUMBER_MAX = const((1 << 30) - 1)  # larger integers allocate on 32-bit boards
TICKS_MASK = const((1 << 30) - 1)  # milliseconds wrap here, after 12.4 days

RAISE = const(1)  # directions of travel
LOWER = const(-1)
NO_DIRECTION = const(0)
