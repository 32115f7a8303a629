"""How much memory the page takes as it is looked at for long, and how many frames it draws.

`python -m tests.page.long_look --minutes 30` opens the page in Chromium without a window, lets
the deck go up and down without end, and reads the memory of the page and of the server every
few seconds. It returns 1 where one of them grows or fewer than 30 frames a second are drawn.
"""

import argparse
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from playwright.sync_api import CDPSession

from leafwinch_host.page.app import Server
from leafwinch_host.page.play import Opening
from leafwinch_sim.scripts import parse_script
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist
from tests.page.eyes import Eyes, chromium

UP_AND_DOWN = b"""
summary = "up and down without end"
[[step]]
do = "wait"
until = "idle"
""" + b"".join(
    b'[[step]]\ndo = "%s"\nfor = "4 s"\n[[step]]\ndo = "release"\nfor = "4 s"\n' % way
    for way in (b"raise", b"lower") * 400
)

FRAMES_MIN = 30.0  # a second, in the median
HEAP_GROWTH_MAX = 0.05  # of itself, between the middle and the last third
NODES_GROWTH_MAX = 50
SERVER_GROWTH_MAX = 0.05
STATM = Path("/proc/self/statm")  # Linux only
PAGE_BYTES = 4096


@dataclass(frozen=True, slots=True)
class Look:
    """Memory and frames at one moment.

    Attributes:
        at_s: since the page was open.
        heap_bytes: that the page's script holds, after it was asked to tidy up.
        nodes: of the document, also such as are no longer in it.
        listeners: to events.
        server_bytes: memory of the server's process, 0 where the system does not tell.
        frames: drawn in a second, since the last look.
    """

    at_s: float
    heap_bytes: float
    nodes: float
    listeners: float
    server_bytes: float
    frames: float


def looks(seconds: float, every_s: float, speed: float) -> Iterator[Look]:
    """Look at a page for so long, at so many bench seconds in a second."""
    site = load_site("workshop-pit")
    opening = Opening(script=parse_script(UP_AND_DOWN, "up and down"))
    with Server(site, load_netlist(site.wiring), opening=opening) as server, chromium() as browser:
        server.bench.pace.speed = speed
        eyes = Eyes(browser.new_page(viewport={"width": 1280, "height": 900}), server.url)
        devtools = eyes.page.context.new_cdp_session(eyes.page)
        devtools.send("Performance.enable")
        begun_s = last_s = time.monotonic()
        drawn = eyes.ask("bench.drawn")
        while last_s - begun_s < seconds:
            eyes.page.wait_for_timeout(every_s * 1000)
            now_s = time.monotonic()
            now_drawn = eyes.ask("bench.drawn")
            yield _look(devtools, now_s - begun_s, (now_drawn - drawn) / (now_s - last_s))
            # Tidying up stands in the way of drawing, so the next count begins after it.
            last_s, drawn = time.monotonic(), eyes.ask("bench.drawn")
        assert eyes.complaints == []
        assert eyes.ask("bench.frame.trouble") == ""


def _look(devtools: CDPSession, at_s: float, frames: float) -> Look:
    devtools.send("HeapProfiler.collectGarbage")
    rows = devtools.send("Performance.getMetrics")["metrics"]
    found = {row["name"]: float(row["value"]) for row in rows}
    pages = int(STATM.read_text().split()[1]) if STATM.exists() else 0
    return Look(
        at_s,
        found["JSHeapUsedSize"],
        found["Nodes"],
        found["JSEventListeners"],
        float(pages * PAGE_BYTES),
        frames,
    )


def growths(found: list[Look]) -> dict[str, float]:
    """Return how much each kind of memory grew from the middle third to the last one."""
    third = len(found) // 3
    middle, last = found[third : 2 * third], found[-third:]
    return {
        name: median(getattr(look, name) for look in last)
        - median(getattr(look, name) for look in middle)
        for name in ("heap_bytes", "nodes", "listeners", "server_bytes")
    }


def complaint(found: list[Look]) -> str:
    """Return what is wrong with these looks; empty where nothing is."""
    grown = growths(found)
    last = found[-1]
    if grown["heap_bytes"] > HEAP_GROWTH_MAX * last.heap_bytes:
        return f"the page's memory grew by {grown['heap_bytes']:.0f} bytes"
    if max(grown["nodes"], grown["listeners"]) > NODES_GROWTH_MAX:
        return f"the page grew by {grown['nodes']:.0f} nodes, {grown['listeners']:.0f} listeners"
    if grown["server_bytes"] > SERVER_GROWTH_MAX * last.server_bytes:
        return f"the server's memory grew by {grown['server_bytes']:.0f} bytes"
    rate = median(look.frames for look in found)
    return "" if rate >= FRAMES_MIN else f"{rate:.1f} frames were drawn in a second"


def main() -> int:
    """Look for so many minutes and print what was seen; return 0 if nothing grew."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=30.0)
    parser.add_argument("--speed", type=float, default=1.0, help="bench seconds in a second")
    arguments = parser.parse_args()
    found = []
    for look in looks(arguments.minutes * 60.0, 10.0, arguments.speed):
        found.append(look)
        print(
            f"{look.at_s:7.1f} s  page {look.heap_bytes / 1e6:6.2f} MB, {look.nodes:.0f} nodes, "
            f"{look.listeners:.0f} listeners  server {look.server_bytes / 1e6:.1f} MB  "
            f"{look.frames:.1f} frames/s",
            flush=True,
        )
    wrong = complaint(found)
    print(wrong or f"nothing grew: {growths(found)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
