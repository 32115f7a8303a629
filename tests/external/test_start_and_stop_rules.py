"""Rules of ISO 14118, ISO 13850 and IEC 60204-1 that a machine can check, on the core.

ISO 14118 (wording seen): restoration of power after an interruption must not start a machine.
ISO 13850 (seen): the stop is available at all times and overrides everything, it latches until
it is reset deliberately, and the reset itself starts nothing: that needs a command of its own.
IEC 60204-1, hold-to-run (wording from memory, definition seen in ISO 12100 words): motion only
as long as the control is actuated. No compliance is claimed.
"""

import pytest

from tests.firmware.drive import TICK_MS, Drive
from tests.firmware.scenarios_faults import DOWN, QUICK, READY, READY_TOP, UP
from tests.firmware.scenarios_states import RECOVERED

WAYS = ("raise", "lower")
RUNNING = {"raise": UP, "lower": DOWN}
AT_START = {"raise": READY, "lower": READY_TOP}
OFF_WITHIN_MS = 2 * TICK_MS  # the filter takes two samples for an opened contact


def starts_within(drive: Drive, ms: int) -> bool:
    for _ in range(ms // TICK_MS):
        drive.tick()
        if drive.resting() == "no":
            return True
    return False


@pytest.mark.parametrize("way", WAYS)
def test_power_returns_with_the_control_actuated(way: str) -> None:
    """Rule 1: no motion until it is released and actuated again."""
    drive = Drive(QUICK)
    drive.play(AT_START[way] + f"ask {way}; power_up 0")
    assert not starts_within(drive, 5000)
    drive.play("settle; state: idle")
    drive.ask(way)
    assert starts_within(drive, 500)


@pytest.mark.parametrize("supply_mv", [0, 9000, 17000])
@pytest.mark.parametrize("dip_ms", [15, 100, 1000])
@pytest.mark.parametrize("way", WAYS)
def test_supply_dips_with_the_control_actuated(way: str, dip_ms: int, supply_mv: int) -> None:
    drive = Drive(QUICK)
    drive.play(RUNNING[way] + f"supply {supply_mv}; run {dip_ms}; resting: yes; supply 24000")
    drive.run(100)  # the pin may change its resting level meanwhile, which is no start
    assert not starts_within(drive, 5000)


@pytest.mark.parametrize("way", WAYS)
def test_stop_is_reset_with_the_control_actuated(way: str) -> None:
    """Rule 2: neither releasing the stop nor pressing reset starts anything."""
    drive = Drive(QUICK)
    drive.play(RUNNING[way] + "open stop_ok; run 500; state: fault; close stop_ok; run 1000")
    drive.play("press 2500; state: fault")
    assert not starts_within(drive, 3000)
    # After a proper reset a separate command is needed.
    drive.play("ask nothing; run 500; press 2500; settle; state: idle")
    assert not starts_within(drive, 3000)
    drive.ask(way)
    assert starts_within(drive, 500)


def test_stop_latches_until_it_is_reset_deliberately() -> None:
    drive = Drive(QUICK)
    drive.play(READY + "open stop_ok; run 100; close stop_ok; run 20000; fault: stop_actuated")
    drive.play("press 100; run 1000; fault: stop_actuated; press 2500; fault: none")


STATES = {
    "held": "at bottom; run 300; state: held",
    "idle": READY,
    "raising": UP,
    "lowering": DOWN,
    "recovery": RECOVERED + "ask lower; run 300; state: lowering",
    "reset pressed": UP + "amps 10000; run 100; ask nothing; run 500; close reset; run 1000",
}


@pytest.mark.parametrize("state", STATES)
def test_stop_works_in_every_state(state: str) -> None:
    drive = Drive(QUICK)
    drive.play(STATES[state] + "; open stop_ok")
    drive.run(OFF_WITHIN_MS)
    drive.play("run 5; resting: yes; run 5000; state: fault; resting: yes")


@pytest.mark.parametrize("way", WAYS)
def test_stop_works_in_every_pass_of_a_start(way: str) -> None:
    for ms in range(0, 250, TICK_MS):
        drive = Drive(QUICK)
        drive.play(AT_START[way] + f"ask {way}; run {ms}; open stop_ok")
        drive.run(OFF_WITHIN_MS)
        drive.play("run 5; resting: yes; run 100; state: fault; fault: stop_actuated")


@pytest.mark.parametrize("way", WAYS)
def test_both_ways_at_once_stop(way: str) -> None:
    """Rule 3."""
    drive = Drive(QUICK)
    drive.play(RUNNING[way] + "ask both")
    drive.run(OFF_WITHIN_MS + TICK_MS)
    drive.play("run 5; resting: yes; run 1000; fault: control_both")


@pytest.mark.parametrize("way", WAYS)
def test_hold_to_run(way: str) -> None:
    drive = Drive(QUICK)
    drive.play(RUNNING[way] + "ask nothing")
    drive.run(OFF_WITHIN_MS)
    drive.play("run 5; resting: yes")
    assert not starts_within(drive, 3000)


WIRES = {
    "raise": ("raise_path", "lower_off", "top_end", "bottom_end"),
    "lower": ("lower_path", "raise_off", "top_end", "bottom_end"),
}


@pytest.mark.parametrize("way", WAYS)
def test_loss_of_any_single_wire_of_a_limit_stop_or_control_stops(way: str) -> None:
    """Rule 5: a broken wire reads as the safe side."""
    for name in (*WIRES[way], "stop_ok", "chain_ok", "top_final", "bottom_final"):
        drive = Drive(QUICK)
        drive.play(RUNNING[way] + f"force {name} open")
        drive.run(OFF_WITHIN_MS)
        drive.play("run 5; resting: yes")
        assert not starts_within(drive, 3000), name


@pytest.mark.parametrize("way", WAYS)
def test_loss_of_a_wire_before_the_start_prevents_it(way: str) -> None:
    # The end that is left may read open here: that is where the deck lies.
    ahead = "top_end" if way == "raise" else "bottom_end"
    wires = {*WIRES[way], "stop_ok", "chain_ok", "top_final", "bottom_final"}
    for name in sorted(wires - {"top_end", "bottom_end"} | {ahead}):
        drive = Drive(QUICK)
        drive.play(AT_START[way] + f"force {name} open; run 60; ask {way}")
        assert not starts_within(drive, 3000), name


def test_the_whole_test_can_fail() -> None:
    drive = Drive(QUICK)
    drive.play(READY + "ask raise")
    assert starts_within(drive, 500)
