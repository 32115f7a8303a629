"""A tab that stands still while the hand is on the control: its socket stays, its beats end.

The lease is 200 ms from the last beat; switching off then is R1 of this project.
"""

import os
import signal
import time
from collections.abc import Callable

from playwright.sync_api import Browser

from leafwinch_host.page.app import Server
from leafwinch_host.page.hold import LEASE_MS
from tests.page.eyes import PATIENCE_S, Eyes
from tests.page.test_line import released_to_off_ms

POLL_S = 0.002
BUSY_S = 0.5
"""What a busy machine may add; the lease itself is held to the millisecond in test_hold.py."""


def wait(until: Callable[[], bool]) -> None:
    end_s = time.monotonic() + PATIENCE_S
    while not until():
        assert time.monotonic() < end_s
        time.sleep(POLL_S)


def let_go_s(server: Server) -> float:
    """Return how long it takes from now until the control is in the middle and the motor off."""
    begun_s = time.monotonic()
    wait(lambda: server.bench.play.bench.lever.target == 0)
    took_s = time.monotonic() - begun_s
    wait(lambda: server.bench.play.bench.observation.current_ma == 0)
    return took_s


def renderers(browser: Browser) -> list[int]:
    """Return the processes in which pages of a browser run."""
    devtools = browser.new_browser_cdp_session()
    rows = devtools.send("SystemInfo.getProcessInfo")["processInfo"]
    return [row["id"] for row in rows if row["type"] == "renderer"]


def test_a_tab_whose_process_stands_still_lets_go(browser: Browser, fresh: Server) -> None:
    eyes = Eyes(browser.new_page(), fresh.url).ready()
    eyes.hold()
    found = renderers(browser)
    assert found
    for process in found:
        os.kill(process, signal.SIGSTOP)
    try:
        took_s = let_go_s(fresh)
    finally:
        for process in found:
            os.kill(process, signal.SIGCONT)
    assert took_s <= LEASE_MS / 1000 + BUSY_S
    assert released_to_off_ms(fresh) <= 200
    eyes.stopped()  # awake again, the mouse still down, it must not go on by itself
    assert eyes.complaints == []
