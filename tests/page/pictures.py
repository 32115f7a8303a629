"""Pictures of the page from real runs, for README.md.

`python -m tests.page.pictures FOLDER [--all]` plays the workshop-pit site in Chromium without a
window and writes a picture of each moment; `--all` writes both widths and both colour schemes.
"""

import argparse
import itertools
import sys
from pathlib import Path
from typing import Any, Literal

from playwright.sync_api import Browser

from leafwinch_host.page.app import Server
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist
from tests.page.eyes import Eyes, chromium

WIDE = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
Scheme = Literal["light", "dark"]
SHIPPED = (("raising", "wide", "light"), ("fault", "wide", "dark"), ("raising", "phone", "light"))


def pictures(browser: Browser, folder: Path, wanted: tuple[tuple[str, str, str], ...]) -> None:
    """Write one picture for each (moment, width, scheme)."""
    site = load_site("workshop-pit")
    for moment, width, scheme in wanted:
        with Server(site, load_netlist(site.wiring)) as server:
            page = browser.new_page(
                viewport=WIDE if width == "wide" else PHONE,  # type: ignore[arg-type]
                color_scheme=scheme,  # type: ignore[arg-type]
            )
            eyes = Eyes(page, server.url).ready()
            MOMENTS[moment](eyes)
            page.screenshot(path=folder / f"bench-{moment}-{width}-{scheme}.png")
            page.close()
            assert eyes.complaints == []


def raising(eyes: Eyes) -> None:
    """Half way up, the hand on the control, the circuit in sight."""
    eyes.tab("circuit")
    eyes.page.evaluate("window.scrollTo(0, 0)")
    eyes.hold()
    eyes.until("bench.frame.angle_deg > 42")


def fault(eyes: Eyes) -> None:
    """A contactor that welds in the middle of the way, and what the board says then."""
    eyes.tab("defects")
    eyes.find("#search").fill("QA1 pole1 welded")
    eyes.find("#when").select_option("raise")
    eyes.page.get_by_role("button", name="Arm QA1.pole1:welded").click()
    eyes.page.evaluate("window.scrollTo(0, 0)")
    eyes.hold()
    eyes.until("bench.frame.angle_deg > 30")
    eyes.page.mouse.up()
    eyes.until("bench.frame.state === 'fault'")
    eyes.page.wait_for_timeout(400)


MOMENTS: dict[str, Any] = {"raising": raising, "fault": fault}


def main() -> int:
    """Write the pictures; return 0."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--all", action="store_true")
    arguments = parser.parse_args()
    every = tuple(itertools.product(MOMENTS, ("wide", "phone"), ("light", "dark")))
    arguments.folder.mkdir(parents=True, exist_ok=True)
    with chromium() as browser:
        pictures(browser, arguments.folder, every if arguments.all else SHIPPED)
    return 0


if __name__ == "__main__":
    sys.exit(main())
