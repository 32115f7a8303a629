"""The right cause is named for every order and distance of the contacts that speak for it."""

import itertools
from collections.abc import Iterator

import pytest

from tests.firmware.drive import TICK_MS, Drive, bit_of
from tests.firmware.scenarios_faults import DOWN, QUICK, UP

SKEW_MAX_MS = 35
FOREVER_MS = 120

# (cause as named in the end, way, contacts that open, contacts that close)
FAULT_CAUSES = [
    ("stop_actuated", "raise", ("stop_ok", "chain_ok", "raise_path")),
    ("stop_actuated", "lower", ("stop_ok", "chain_ok", "lower_path")),
    ("top_final_actuated", "raise", ("top_final", "chain_ok", "raise_path")),
    ("bottom_final_actuated", "lower", ("bottom_final", "chain_ok", "lower_path")),
    ("chain_dead", "raise", ("chain_ok", "raise_path")),
    ("chain_dead", "lower", ("chain_ok", "lower_path")),
    ("stop_actuated", "raise", ("stop_ok", "top_final", "chain_ok")),  # both: stop is upstream
]
ENDINGS = [
    ("top_end", "raise", ("top_end", "raise_path"), ()),
    ("bottom_end", "lower", ("bottom_end", "lower_path"), ()),
    ("released", "raise", ("raise_path",), ("raise_off",)),
    ("released", "lower", ("lower_path",), ("lower_off",)),
]


def delays(count: int) -> Iterator[tuple[int, ...]]:
    """Every distance of count contacts, the first of them moving at once."""
    steps = range(0, SKEW_MAX_MS + 1, TICK_MS)
    for chosen in itertools.product(steps, repeat=count):
        if min(chosen) == 0:
            yield chosen


def running(way: str) -> Drive:
    drive = Drive(QUICK)
    # The travel is long enough not to be early.
    drive.play((UP if way == "raise" else DOWN) + "run 1500")
    return drive


def move(drive: Drive, opening: tuple[str, ...], closing: tuple[str, ...], when: list[int]) -> None:
    """Let every contact move at its own time, and wait until the cause is found."""
    for ms in range(0, FOREVER_MS, TICK_MS):
        for name, at_ms in zip(opening + closing, when, strict=True):
            if at_ms == ms:
                drive.force(name, "open" if name in opening else "closed")
        drive.tick()


def copy_of(drive: Drive, way: str) -> Drive:
    """Return a drive in the same state: the core's snapshot and the wiring around it."""
    twin = Drive(QUICK)
    for name in ("now", "mask", "asked", "out", "pump", "pulsing"):
        setattr(twin, name, getattr(drive, name))
    twin.coils = list(drive.coils)
    twin.pulled = list(drive.pulled)
    twin.core.restore(drive.core.snapshot())
    return twin


@pytest.mark.parametrize(("cause", "way", "contacts"), FAULT_CAUSES)
def test_fault_cause(cause: str, way: str, contacts: tuple[str, ...]) -> None:
    start = running(way)
    for when in delays(len(contacts)):
        drive = copy_of(start, way)
        move(drive, contacts, (), list(when))
        assert (drive.fault(), drive.resting()) == (cause, "yes"), when


@pytest.mark.parametrize(("ending", "way", "opening", "closing"), ENDINGS)
def test_ending(ending: str, way: str, opening: tuple[str, ...], closing: tuple[str, ...]) -> None:
    start = running(way)
    for when in delays(len(opening) + len(closing)):
        drive = copy_of(start, way)
        move(drive, opening, closing, list(when))
        assert (drive.ended(), drive.fault(), drive.resting()) == (ending, "none", "yes"), when


@pytest.mark.parametrize(("cause", "way", "contacts"), FAULT_CAUSES)
def test_motor_is_off_with_the_second_open_sample(
    cause: str, way: str, contacts: tuple[str, ...]
) -> None:
    start = running(way)
    for name in contacts:
        drive = copy_of(start, way)
        drive.force(name, "open")
        drive.tick()
        assert drive.state() != "held"
        drive.tick()
        assert drive.state() == "held", name


def test_contacts_farther_apart_than_the_window_are_two_causes() -> None:
    # The chain alone is named, since the stop's second contact opens after the window.
    drive = running("raise")
    move(drive, ("chain_ok", "stop_ok"), (), [0, 60])
    assert drive.fault() == "chain_dead"
    drive.run(200)  # the record is written meanwhile, and the inputs settle again
    assert drive.later() == "stop_actuated"


def test_one_open_sample_is_no_cause() -> None:
    for name in ("stop_ok", "chain_ok", "top_final", "raise_path", "top_end", "bottom_final"):
        drive = running("raise")
        drive.force(name, "open")
        drive.tick()
        drive.force(name, "free")
        drive.run(100)
        assert (drive.state(), drive.fault()) == ("raising", "none"), name


def test_names_are_contacts() -> None:
    for row in FAULT_CAUSES:
        assert all(bit_of(name) for name in row[2])
