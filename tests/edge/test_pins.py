"""The pin tables hang together, and use no pin that the chip or its module needs itself.

Sources, from memory: data sheets of the RP2040 and RP2350 (GPIO 0 to 29 in the small package,
analogue inputs 26 to 29, GPIO_IN of SIO at 0xd0000004) and of the module around it (23, 24, 25,
29 serve the module); data sheet of the ESP32-S3 (strapping pins 0, 3, 45, 46; USB 19, 20; flash
and RAM 26 to 37; UART0 43, 44; ADC1 on 1 to 10; no pins 22 to 25).
"""

from collections.abc import Callable

import pytest

from leafwinch.edge.pins import NO_PIN, ONE_READ, TIMER, WAITING, Board, board_for, esp32, pico
from leafwinch.signals import ALL_CONTACTS, CONTACT_NAMES, OUTPUT_NAMES

PICO_OUTSIDE = set(range(23)) | {26, 27, 28}
PICO_ANALOGUE = {26, 27, 28, 29}
ESP32_OUTSIDE = (
    set(range(49)) - {0, 3, 45, 46} - {19, 20} - set(range(26, 38)) - {43, 44} - set(range(22, 26))
)
ESP32_ANALOGUE = set(range(1, 11))


def used(board: Board) -> list[int]:
    pins = [*board.contacts, *board.outputs, board.current, board.supply]
    if board.heartbeat != NO_PIN:
        pins.append(board.heartbeat)
    return pins


@pytest.mark.parametrize(
    ("make", "outside", "analogue"),
    [(pico, PICO_OUTSIDE, PICO_ANALOGUE), (esp32, ESP32_OUTSIDE, ESP32_ANALOGUE)],
)
def test_every_pin_exists_and_serves_one_thing(
    make: Callable[[], Board], outside: set[int], analogue: set[int]
) -> None:
    board = make()
    pins = used(board)
    assert len(pins) == len(set(pins))
    assert set(pins) <= outside
    assert {board.current, board.supply} <= analogue
    assert not set(board.unused) & set(pins)
    assert len(board.contacts) == len(CONTACT_NAMES)
    assert len(board.outputs) == len(OUTPUT_NAMES)


def test_one_read_of_the_pico_gives_the_contacts_as_they_are() -> None:
    board = pico()
    assert board.reading == ONE_READ
    assert sum(1 << pin for pin in board.contacts) == ALL_CONTACTS
    assert [1 << pin for pin in board.contacts] == [1 << bit for bit in range(17)]
    assert board.register == 0xD0000000 + 0x004
    # Every pin that can read high leaves the value within what a small integer holds.
    assert max([*used(board), *board.unused, 29]) < 30


def test_outside_pins_of_the_pico_are_all_used() -> None:
    assert PICO_OUTSIDE - set(used(pico())) == set()


def test_watchdog_times_fit_the_boards() -> None:
    # 8388 ms is the longest of the RP2040 (its data sheet, erratum E1).
    for make in (pico, esp32):
        assert 1000 <= make().watchdog_ms <= 8388


def test_boards_by_platform() -> None:
    assert board_for("rp2").name == "pico"
    assert board_for("linux").name == "pico"
    assert board_for("esp32").name == "esp32"
    assert pico().sampling == TIMER
    assert esp32().sampling == WAITING
