"""When the record of a latched fault may be written: also where no mirror can be read."""

from leafwinch.controller import Controller
from tests.firmware.drive import Drive
from tests.firmware.scenarios_faults import QUICK, READY


def core_of(drive: Drive) -> Controller:
    assert isinstance(drive.core, Controller)
    return drive.core


def test_a_fault_is_stored_although_the_control_supply_is_lost_with_it() -> None:
    drive = Drive(QUICK)
    drive.autostore = False
    drive.play(READY + "open top_final; run 60; fault: top_final_actuated")
    drive.supply = 0
    drive.run(30)
    drive.play("fault: top_final_actuated")
    core = core_of(drive)
    assert core.record_due
    assert not core.contactors.quiet_ms, "no mirror can be read"
    assert core.at_rest()


def test_without_a_fault_nothing_is_stored_while_the_control_supply_is_lost() -> None:
    drive = Drive(QUICK)
    drive.play(READY)
    assert core_of(drive).at_rest()
    drive.supply = 0
    drive.run(30)
    assert not core_of(drive).at_rest()


def test_nothing_is_stored_while_the_cause_is_sought() -> None:
    drive = Drive(QUICK)
    drive.play(READY + "open stop_ok; run 15")
    drive.supply = 0
    drive.run(10)
    assert core_of(drive).cause.is_open
    assert not core_of(drive).at_rest()
