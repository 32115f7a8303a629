"""Takes inspections over that a commissioning has done, out of its record."""

from datetime import date, datetime
from pathlib import Path

from leafwinch_host.commissioning.record import load_record
from leafwinch_host.commissioning.results import PASS
from leafwinch_host.upkeep.record import Record
from leafwinch_wiring.errors import BadInput

SHOWN = {
    "stop": ("stop", "control_raise", "control_lower", "stop_moving"),
    "limits": ("top_end", "bottom_end", "points"),
    "operating_points": ("points",),
    "measurement_with_the_supply_off": ("continuity",),
    "interlock_by_hand": ("interlock",),
    "measured_cycle": ("lamps", "top_travel", "bottom_travel"),
    "function_walk": (
        "stop",
        "lamps",
        "control_raise",
        "control_lower",
        "top_end",
        "bottom_end",
        "top_final",
        "bottom_final",
        "recovery_key",
        "reset",
    ),
}
"""Inspections, with the steps of commissioning that do the same."""


def taken_over(record: Record, folder: Path, today: date) -> tuple[Record, dict[str, int]]:
    """Return the upkeep record with what a commissioning has inspected, and its last counters.

    An inspection counts where every step that does the same has passed, with the day of the last
    of them; one that is known already is not noted twice. The counters are those when the
    settings were frozen, empty where it did not come so far.

    Args:
        record: of upkeep.
        folder: of the commissioning.
        today: no inspection lies after it.

    Raises:
        BadInput: there is no such record, or it is of another site.
    """
    found = load_record(folder)
    if found is None:
        raise BadInput(f"--commissioned {folder}: no record of a commissioning is there.")
    if found.about.get("site") != record.site:
        raise BadInput(
            f"--commissioned {folder}: this record is of site {found.about.get('site')}, asked for "
            f"was {record.site}."
        )
    counters = {
        str(name): int(value) for name, value in dict(found.about.get("counters", {})).items()
    }
    for what, ids in SHOWN.items():
        steps = [found.steps[step] for step in ids if step in found.steps]
        if len(steps) < len(ids) or any(step.verdict != PASS for step in steps):
            continue
        last = max(steps, key=lambda step: step.utc)
        on = datetime.fromisoformat(last.utc).astimezone().date()
        known = record.last_done(what)
        if known is None or known.on < on:
            who = last.who or "commissioning"
            record = record.with_done(what, on, who, counters, max(today, on))
    return record, counters
