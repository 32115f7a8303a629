"""A desk with a core that takes its time, and a hand on the contacts."""

from leafwinch.edge.meter import MIDDLE
from leafwinch.settings_schema import settings_from
from leafwinch.signals import (
    ALL_CONTACTS,
    LINE_RELEASED,
    LOWER_PATH,
    RAISE_OFF,
    RAISE_PATH,
    RAISE_RELEASED,
    RESET,
    SERVICE_LINK,
)
from leafwinch.states import IDLE, RAISING, STATE_NAMES
from tests.edge.desk import Desk, Quiet, TimedCore, loop_on

AT_REST = ALL_CONTACTS & ~(RAISE_PATH | LOWER_PATH | RESET | SERVICE_LINK)
ASKED = AT_REST & ~RAISE_OFF | RAISE_PATH
RUNNING = ASKED & ~(LINE_RELEASED | RAISE_RELEASED)
NEAR_WRAP_US = (1 << 30) - 3_000_000


class Rig:
    """A desk with a core that takes its time, and a hand on the contacts."""

    def __init__(self, start_us: int = 0, mask: int = (1 << 30) - 1) -> None:
        self.desk = Desk(start_us, mask)
        self.quiet = Quiet(self.desk)
        self.core = TimedCore(settings_from({}))
        self.core.desk = self.desk
        self.core.step_us = 800
        self.loop = loop_on(self.desk, self.core, self.quiet)
        self.desk.closed = AT_REST

    def to_idle(self) -> None:
        """Run until the drive is ready; the record that is due at first is stored."""
        self.loop.run(150)
        self.core.thermal.level = 0
        self.core.record_due = 0
        self.loop.run(150)
        assert self.core.state == IDLE, STATE_NAMES[self.core.state]

    def let_go(self) -> None:
        """Release the control, and let everything come to rest at once."""
        self.desk.closed = AT_REST
        self.desk.code = MIDDLE

    def to_running(self) -> None:
        """Actuate the control and let contactors follow, until the motor runs."""
        self.to_idle()
        self.core.budget.up_ms = 0
        self.desk.closed = ASKED
        self.loop.run(20)
        self.desk.closed = ASKED & ~RAISE_RELEASED
        self.loop.run(10)
        self.desk.closed = RUNNING
        self.desk.code = MIDDLE + 512
        self.loop.run(10)
        assert self.core.state == RAISING
        assert self.core.contactors.phase == 4
