"""Finds settings on the board that a broken off test has left there, or that somebody changed."""

from dataclasses import dataclass, replace

from leafwinch_host.board import answers
from leafwinch_host.board.commissioned import netlist_hash, site_hash
from leafwinch_host.commissioning import checks, temporary
from leafwinch_host.commissioning.record import Record
from leafwinch_host.commissioning.results import FAIL, with_unit
from leafwinch_host.commissioning.steps_last import BUDGET_NAMES, TRIP_NAMES, put_back_step
from leafwinch_host.commissioning.table import Context, Step
from leafwinch_wiring.errors import BadInput

TESTED = frozenset((*BUDGET_NAMES, *TRIP_NAMES))
CHANGED = "settings on the board were changed since this step passed: "


@dataclass(frozen=True, slots=True)
class LeftOver:
    """What has to be put back.

    Attributes:
        step: how; test: the step that broke off, or 'a test'.
        names: of the settings.
    """

    step: Step
    test: str
    names: list[str]


def left_over(context: Context, record: Record) -> LeftOver | None:
    """Return what a broken off test has left on the board, or None.

    Settings are looked at where a test was begun and not ended, or where the board's settings
    have passed already. Other settings that differ by then make their step fail, so that it is
    done again: nobody but a person says which ones are right.
    """
    test = temporary.noted(context)
    if not test and not (record.passed("settings") and not context.settings_seen):
        return None
    context.settings_seen = True
    about = answers.about(context.line.link)
    if (about.site, about.netlist) != (site_hash(context.site), netlist_hash(context.net)):
        if test:
            raise BadInput(
                "the board belongs to another site than this record, and temporary settings of a "
                "test may still be on the right one: find it and go on with that one first."
            )
        return None
    wanted = checks.wanted_settings(context)
    del wanted[checks.LEARNED]
    found = temporary.on_board(context, wanted)
    if not found:
        temporary.forget(context)
        return None
    words = "; ".join(
        f"{name} is {with_unit(value, checks.UNITS[name])} on the board, "
        f"the site's is {with_unit(wanted[name], checks.UNITS[name])}"
        for name, value in found.items()
    )
    if test or TESTED.issuperset(found):
        names = list(found)
        title = f"the step '{test}'" if test else "a test"
        said = f"{title[0].upper()}{title[1:]} was broken off and left its settings: {words}."
        return LeftOver(put_back_step(tuple(names), said), test or "a test", names)
    row = record.steps["settings"]
    record.steps["settings"] = replace(row, verdict=FAIL, why=CHANGED + words)
    context.keep()
    return None
