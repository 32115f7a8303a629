"""Makers of the firmware's controller for the bench, and the record a board starts with."""

from leafwinch.controller import Controller
from leafwinch.kept import KEPT_NAMES
from leafwinch.settings_schema import settings_from
from leafwinch_sim.board import ControllerLike, MakeController
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.errors import BadInput


def python_controller(site: Site) -> MakeController:
    """Return a maker of the firmware's controller in this interpreter.

    Raises:
        BadInput: one sentence for settings that the firmware's schema refuses.
    """
    try:
        settings = settings_from(site.settings)
    except ValueError as error:
        raise BadInput(f"{site.name}: {error}.") from None

    def make(kept: tuple[int, ...] | None, boot: int) -> ControllerLike:
        return Controller(settings, kept, boot)

    return make


def cold_record(make: MakeController) -> tuple[int, ...]:
    """Return the record of a commissioned board at rest with a cold motor."""
    record = list(make(None, 0).record())
    for name in ("thermal_level", "blocked_ms", "duty_ms100"):
        record[KEPT_NAMES.index(name)] = 0
    return tuple(record)
