"""A late pass just after a flash write: contacts not yet read three times prove nothing."""

from leafwinch.inputs import SETTLE_MS, SETTLE_STEP_MS, Inputs
from leafwinch.settings_schema import settings_from
from leafwinch.signals import ALL_CONTACTS
from tests.firmware.drive import Drive
from tests.firmware.scenarios_faults import QUICK


def test_contacts_read_closed_before_they_are_believed_however_late_the_passes_come() -> None:
    for step_ms in range(1, 4 * SETTLE_MS):
        inputs = Inputs(settings_from({}))
        inputs.step(0, ALL_CONTACTS, 24000)
        while not inputs.ready():
            inputs.step(step_ms, ALL_CONTACTS, 24000)
        assert inputs.seen == ALL_CONTACTS, step_ms
        assert inputs.settle_ms < SETTLE_MS + SETTLE_STEP_MS


def test_a_late_pass_after_a_flash_write_does_not_renew_the_budget() -> None:
    # Away from both ends after power-up the position is unknown and the budgets count as spent.
    for late_ms in (20, 100, 400, 1000):
        drive = Drive(QUICK)
        drive.play("at middle; settle; autostore no; open stop_ok; run 60; close stop_ok; run 500;")
        drive.play("press 2500; state: held")
        drive.core.stored(drive.now)
        drive.gap(late_ms)
        drive.play("autostore yes; settle; state: idle; ask raise; run 60; refused: budget")
