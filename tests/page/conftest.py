"""One server of the page for all tests of a file, and a bench begun anew for each."""

import time
from collections.abc import Iterator

import pytest

from leafwinch_host.page.app import Server
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist
from tests.page.browser import PATIENCE_S


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
