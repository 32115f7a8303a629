"""What the controller counts, sounds, stores and says at rare moments, pass by pass."""

import pytest

from leafwinch.controller import Controller
from leafwinch.faults import END_WRONG_WAY, NO_FAULT
from leafwinch.numbers import RAISE
from leafwinch.settings_schema import settings_from
from leafwinch.signals import BOTTOM_END, OUT_BUZZER
from leafwinch.states import HELD, IDLE
from tests.firmware.drive import Drive, cold_record
from tests.firmware.scenarios_faults import QUICK, READY, REST, UP
from tests.firmware.scenarios_states import RECOVERED, TOP_HIT


def core_of(drive: Drive) -> Controller:
    assert isinstance(drive.core, Controller)
    return drive.core


def played(script: str) -> Drive:
    drive = Drive(QUICK)
    drive.play(script)
    return drive


def buzzes(drive: Drive, ms: int) -> int:
    """Return for how many ms the buzzer sounds."""
    return sum(bool(drive.tick() & OUT_BUZZER) for _ in range(ms // 5)) * 5


def test_a_long_gap_at_rest_counts_as_a_second() -> None:
    drive = played(READY + "close reset; run 100")
    core = core_of(drive)
    before = core.reset_button.pressed_ms
    drive.gap(60_000)
    assert core.reset_button.pressed_ms == before + 1000
    drive.gap(1000)
    assert core.reset_button.pressed_ms == before + 2000
    drive.gap(999)
    assert core.reset_button.pressed_ms == before + 2999
    assert (core.state, core.fault) == (IDLE, NO_FAULT)


@pytest.mark.parametrize(("gap_ms", "fault"), [(15, "none"), (16, "loop_late")])
def test_a_late_pass_in_every_phase_of_a_start(gap_ms: int, fault: str) -> None:
    for passes in range(4, 60, 5):
        drive = played(READY + "ask raise")
        drive.run(passes * 5)
        assert drive.state() == "raising"
        drive.gap(gap_ms)
        drive.run(60)
        assert drive.fault() == fault, passes
    rest = played(READY + f"gap {gap_ms}; run 60")
    assert rest.fault() == "none"


def test_warnings_are_counted_modulo_2_to_16_and_chirp() -> None:
    drive = played(READY + "open raise_path; ask raise; run 2900")
    core = core_of(drive)
    assert core.warnings == 0
    assert buzzes(drive, 3000) == 100
    assert core.warnings == 1
    drive.play("ask nothing; settle; ask raise; run 3500")
    assert core.warnings == 2
    core.warnings = 0xFFFF
    drive.play("ask nothing; settle; ask raise; run 3500")
    assert core.warnings == 0


def test_a_refusal_chirps_at_once_and_names_why_it_is_held() -> None:
    drive = played(READY + "ask lower")
    while drive.state() == "idle":
        drive.tick()
    assert drive.reasons() == ["neutral_wait"]
    assert drive.out & OUT_BUZZER
    assert buzzes(drive, 1000) == 95
    assert core_of(drive).demand_ms == 0


@pytest.mark.parametrize(("ms", "state"), [(300, "idle"), (305, "held")])
def test_an_unproven_demand_is_refused_after_300_ms(ms: int, state: str) -> None:
    drive = played(READY + "open raise_path; ask raise; run 5")
    drive.run(ms)
    assert drive.state() == state
    assert drive.refused() == ("none" if state == "idle" else "unproven")


def test_a_demand_begins_anew_after_a_lost_supply() -> None:
    drive = played(READY + "open raise_path; ask raise; run 200; state: idle")
    assert core_of(drive).demand_ms == 195
    drive.play("supply 0; run 20; reasons: supply")
    assert core_of(drive).demand_ms == 0


def test_the_same_to_the_millisecond() -> None:
    drive = played(READY + "open raise_path; ask raise; tick_ms 1; run 5")
    core = core_of(drive)
    while core.demand_ms < 300:
        drive.tick()
        assert drive.state() == "idle"
    drive.tick()
    assert (drive.state(), drive.refused()) == ("held", "unproven")
    drive = played(TOP_HIT + "run 200; tick_ms 1; run 1")
    core = core_of(drive)
    core.kept_actuated_ms = 9000
    for _ in range(999):
        drive.tick()
        assert drive.warning() == "nothing"
    drive.tick()
    assert drive.warning() == "kept_actuated"


def test_a_recovery_pulse_lasts_500_ms() -> None:
    drive = played(RECOVERED + "tick_ms 1; run 1; ask lower; until lowering 100")
    drive.play("until held 900; run 60; ended: pulse")
    assert core_of(drive).contactors.run_ms == 500


def test_a_path_that_fails_late_counts_its_demand_from_the_start() -> None:
    drive = played(READY + "open raise_path; ask raise; run 200; ask nothing; run 20")
    assert core_of(drive).demand_ms == 0
    drive.play("ask raise; run 305; state: idle; run 10; state: held")


def test_still_actuated_is_said_10_s_after_an_end_stop() -> None:
    drive = Drive(QUICK)
    drive.play(TOP_HIT.replace("run 60", "run 10") + "run 120")
    core = core_of(drive)
    while core.kept_actuated_ms < 9995:
        drive.tick()
    assert core.kept_actuated_ms == 9995
    assert drive.warning() == "nothing"
    drive.run(5)
    assert drive.warning() == "kept_actuated"
    assert core.warnings == 1
    drive.run(12_000)
    assert (core.warnings, core.kept_actuated_ms) == (1, 10_000)


def test_a_fault_is_stored_half_a_second_after_a_contactor_that_never_lets_go() -> None:
    drive = played(UP + "autostore no; open line_released; ask nothing; run 150")
    core = core_of(drive)
    assert drive.fault() == "line_not_released"
    while core.contactors.off_ms < 500:
        assert not core.at_rest()
        drive.tick()
    assert core.at_rest()
    core.contactors.off_ms = 499
    assert not core.at_rest()
    core.contactors.off_ms = 500
    # Without a fault it is never at rest while a mirror is open.
    core.state = IDLE
    assert not core.at_rest()


def test_nothing_is_stored_while_running_or_while_the_cause_is_sought() -> None:
    drive = played(UP)
    core = core_of(drive)
    assert not core.at_rest()
    drive.play("ask nothing; autostore no; run 200")
    assert core.at_rest()
    core.cause.open()
    assert not core.at_rest()
    core.cause.close()
    core.contactors.quiet_ms = 1
    assert core.at_rest()
    core.contactors.quiet_ms = 0
    assert not core.at_rest()


def test_after_storing_every_proof_starts_again() -> None:
    drive = played(READY + "close reset; run 50")
    core = core_of(drive)
    core.demand_ms = 100
    core.chain.key_ms = 50
    core.current.rest_over_ms = 50
    core.record_due = 1
    core.stored(drive.now + 100)
    assert (core.record_due, core.last_ms, core.demand_ms) == (0, drive.now + 100, 0)
    assert (core.inputs.seen, core.inputs.settle_ms) == (0, 0)
    assert (core.control.neutral_ms, core.chain.key_ms, core.ends.rest_ms) == (0, 0, 0)
    assert (core.contactors.quiet_ms, core.contactors.off_ms) == (0, 0)
    assert (core.current.rest_over_ms, core.current.rest_ms) == (0, 0)
    assert (core.reset_button.armed, core.reset_button.pressed_ms) == (0, 0)


@pytest.mark.parametrize(
    ("boot", "kept", "fault"),
    [
        (0, "none", "none"),
        (1, "none", "watchdog_boot"),
        (1, "blocked", "blocked"),
        (2, "blocked", "settings_bad"),
        (4, "blocked", "settings_foreign"),
        (6, "none", "settings_bad"),
        (7, "none", "settings_bad"),
        (5, "none", "settings_foreign"),
    ],
)
def test_what_a_boot_finds(boot: int, kept: str, fault: str) -> None:
    drive = Drive(QUICK)
    if kept != "none":
        drive.keep("fault", kept)
    drive.power_up(boot)
    assert drive.fault() == fault
    assert drive.state() == ("held" if fault == "none" else "fault")
    assert drive.reasons() == ["settling"]


def test_the_first_pass_takes_no_time() -> None:
    for now in (0, 5000, (1 << 30) - 1):
        core = Controller(settings_from(QUICK), cold_record(QUICK))
        core.step(now, 0, 0, 24000)
        assert (core.inputs.settle_ms, core.stepped, core.last_ms) == (0, 1, now)
        core.step((now + 5) & ((1 << 30) - 1), 0, 0, 24000)
        assert core.inputs.settle_ms == 5


def test_a_reset_with_the_service_link_grants_a_start_and_the_leaving_of_an_end() -> None:
    for link in (True, False):
        drive = played(READY + "open stop_ok; run 60; close stop_ok; run 400")
        if link:
            drive.play("close service_link; run 60")
        core = core_of(drive)
        core.current.blocked_ms = 1900
        core.budget.up_leave_ms = core.budget.down_leave_ms = 900
        drive.play("press 2500; state: held")
        granted = (1400, 0, 0) if link else (1900, 900, 900)
        leave = (core.budget.up_leave_ms, core.budget.down_leave_ms)
        assert core.current.blocked_ms == granted[0]
        assert leave[0] == granted[1]


def test_the_service_link_is_said_when_the_drive_is_ready() -> None:
    drive = played("close service_link; at bottom; run 300; warning: nothing; settle")
    assert drive.warning() == "service_link"
    assert core_of(drive).warnings == 1


def test_whoever_is_held_proves_neutral_anew() -> None:
    core = core_of(played(READY))
    assert core.control.neutral()
    core._enter(HELD)
    assert core.control.neutral_ms == 0


@pytest.mark.parametrize(("off_ms", "fault"), [(999, END_WRONG_WAY), (1000, NO_FAULT)])
def test_a_travel_has_its_direction_until_a_second_after_its_stop(off_ms: int, fault: int) -> None:
    core = core_of(played(REST))
    core.contactors.way = RAISE
    core.contactors.off_ms = off_ms
    core.ends.rest_ms = 0
    core._judge(5, core.inputs.seen & ~BOTTOM_END)
    assert core.cause.candidate == fault
