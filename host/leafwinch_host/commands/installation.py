"""Loads a site with its wiring and refuses a pair that does not belong together."""

import argparse
from pathlib import Path

from leafwinch_host.screen import progress_screen
from leafwinch_sim.controllers import python_controller
from leafwinch_sim.settings_file import site_with_settings
from leafwinch_sim.site import Site, load_site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist, load_netlist

DRIVE_OF_MOTOR = {"capacitor-run": "capacitor_run", "permanent-magnet": "dc"}
BARE_OF_MOTOR = {"capacitor-run": "bare", "permanent-magnet": "bare-12v"}
"""What `bare` means on a site: the common bare way to wire its kind of motor."""


def chosen_installation(arguments: argparse.Namespace) -> tuple[Site, Netlist]:
    """Return the site of `--site` and the netlist of `--wiring`, or the site's own.

    Raises:
        BadInput: one of them can't be used, or they do not belong together.
    """
    return installation(arguments.site, arguments.wiring, arguments.settings)


def installation(
    site_name: str, wiring: str | None, settings: Path | None = None
) -> tuple[Site, Netlist]:
    """Return a site and its netlist, checked together; `settings` names a file of settings.

    Raises:
        BadInput: see `chosen_installation`.
    """
    site = load_site(site_name)
    if settings is not None:
        site = site_with_settings(site, settings)
    if wiring == "bare":
        wiring = BARE_OF_MOTOR[site.motor.kind]
    net = load_netlist(site.wiring if wiring is None else wiring)
    needed = DRIVE_OF_MOTOR[site.motor.kind]
    if net.drive != needed:
        raise BadInput(
            f"Site {site.name} has a {site.motor.kind} motor, but wiring {net.name} is for drive "
            f"'{net.drive}'; allowed is a netlist for drive '{needed}'."
        )
    if not site.settings:
        progress_screen().print(
            f"leafwinch: {site.name} has no settings, so the firmware's defaults are used; "
            "'leafwinch size --settings FILE' sizes them, and --settings FILE takes them.",
            markup=False,
        )
    # Making the maker checks the settings against the firmware's own schema.
    python_controller(site)
    return site, net
