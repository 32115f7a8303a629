"""The record that survives power loss, and what it means at the next power-up.

It is stored at rest only, at most a second after the outputs went off, and the
drive does not start again before. So at power-up it may miss one travel at most:
each entry is taken over with the worst that one travel could have added.
"""

from leafwinch.faults import FAULT_COUNT, NO_FAULT, is_serious
from leafwinch.numbers import TYPE_CHECKING

if TYPE_CHECKING:
    from leafwinch.controller import Controller

KEPT_NAMES = (
    "version",
    "fault",
    "finals_open",
    "top_final_way",
    "bottom_final_way",
    "thermal_level",
    "duty_ms100",
    "blocked_ms",
    "up_extra_used",
    "down_extra_used",
    "up_leave_ms",
    "down_leave_ms",
    "slack_ms",
    "drifts",
    "top_doubted",
    "bottom_doubted",
    "park_high",
)
KEPT_VERSION = 1


def record_of(controller: "Controller") -> "tuple[int, ...]":
    """Return the record of a controller, in the order of KEPT_NAMES."""
    fault = controller.fault
    if not fault or not is_serious(fault):
        fault = NO_FAULT
    budget = controller.budget
    return (
        KEPT_VERSION,
        fault,
        controller.chain.finals_open,
        controller.chain.top_final_way,
        controller.chain.bottom_final_way,
        controller.thermal.level,
        controller.thermal.duty_ms100,
        controller.current.blocked_ms,
        budget.up_extra_used,
        budget.down_extra_used,
        budget.up_leave_ms,
        budget.down_leave_ms,
        controller.slack.slack_ms,
        controller.ends.drifts,
        controller.control.top_doubted,
        controller.control.bottom_doubted,
        controller.contactors.park_high,
    )


def take_over(controller: "Controller", kept: "tuple[int, ...]") -> int:
    """Fill a fresh controller from a record and return the fault it carries, or NO_FAULT.

    Raises ValueError for a record of another version or length.
    """
    if len(kept) != len(KEPT_NAMES) or kept[0] != KEPT_VERSION:
        raise ValueError("the stored record is of another version")
    controller.chain.finals_open = kept[2]
    controller.chain.top_final_way = kept[3]
    controller.chain.bottom_final_way = kept[4]
    controller.thermal.boot_level(kept[5])
    controller.thermal.duty_ms100 = kept[6]
    controller.current.boot_blocked(kept[7])
    budget = controller.budget
    budget.up_extra_used = kept[8]
    budget.down_extra_used = kept[9]
    budget.up_leave_ms = kept[10]
    budget.down_leave_ms = kept[11]
    controller.slack.slack_ms = kept[12]
    controller.ends.drifts = kept[13]
    controller.control.top_doubted = kept[14]
    controller.control.bottom_doubted = kept[15]
    controller.contactors.park_high = kept[16]
    fault = kept[1]
    return fault if 0 < fault <= FAULT_COUNT else NO_FAULT
