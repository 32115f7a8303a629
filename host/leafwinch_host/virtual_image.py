"""Makes the flash of a virtual board: the program, and the settings and hashes of a site."""

from __future__ import annotations

import tempfile
from pathlib import Path

from leafwinch_host.board.commissioned import cold_record_files, commissioned_files
from leafwinch_host.firmware_build import built
from leafwinch_host.firmware_build.targets import DESKTOP
from leafwinch_sim.site_schema import Site
from leafwinch_sim.virtual_process import make_flash
from leafwinch_wiring.netlist import Netlist


def make_image(flash: Path, site: Site, net: Netlist, blank: bool = False) -> None:
    """Make the file of a virtual board's flash, ready to run, or blank.

    Raises:
        BadInput: where there is no desktop MicroPython.
        OSError: where the file can't be written.
    """
    if blank:
        make_flash(flash, None)
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        built(DESKTOP).write(folder)
        for file, data in {**commissioned_files(site, net), **cold_record_files(site)}.items():
            (folder / file).write_bytes(data)
        make_flash(flash, folder)
