"""One server and one browser for all tests of a file, and a bench begun anew for each."""

import time
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from leafwinch_host.page.app import Server
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist
from tests.page.browser import PATIENCE_S
from tests.page.eyes import Eyes, chromium


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    site = load_site("workshop-pit")
    with Server(site, load_netlist(site.wiring)) as running:
        yield running


@pytest.fixture
def fresh(server: Server) -> Server:
    """The server with its bench begun anew and nobody on it."""
    until_s = time.monotonic() + PATIENCE_S
    while server.bench.hold.holder and time.monotonic() < until_s:
        time.sleep(0.01)
    with server.bench.lock:
        server.bench.begin()
        server.bench.pace.speed = 1.0
    return server


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture
def eyes(browser: Browser, fresh: Server) -> Iterator[Eyes]:
    """The page, ready for a start; at the end it must not have complained of anything."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    found = Eyes(page, fresh.url).ready()
    yield found
    assert found.complaints == []
    page.close()
