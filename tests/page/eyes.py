"""A browser in front of the page, for its tests."""

import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, Locator, Page, sync_playwright

PATIENCE_S = 20.0
LOOK_MS = 20

SEEN = (
    "() => { const f = bench.frame; return JSON.stringify("
    "[document.querySelector('#told').innerText, document.body.dataset.line,"
    " f.state, f.fault, f.held_words, f.refused_words, f.asked, f.way,"
    " f.holder, f.paused, f.t_ms]); }"
)
"""What is told when something does not come."""

TABS = ("guide", "circuit", "defects", "monitors", "bare", "script")


@contextmanager
def chromium() -> Iterator[Browser]:
    """Start the system's Chromium without a window."""
    found = shutil.which("chromium")
    assert found, "these tests need Chromium: apt-get install chromium"
    with sync_playwright() as tool:
        # Tests run in containers as root, where the browser's own sandbox can't start.
        browser = tool.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser
        browser.close()


class Eyes:
    """One page in a browser, and whatever it complained of.

    Args:
        page: to be opened.
        url: address with token.
    """

    def __init__(self, page: Page, url: str) -> None:
        self.page = page
        self.complaints: list[str] = []
        page.on("console", self._hear)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.goto(url)
        self.until("bench.frame !== null && bench.drawn > 1")

    def _hear(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(message.text)

    def ask(self, expression: str) -> Any:
        """Return the value of an expression in the page."""
        return self.page.evaluate(expression)

    def until(self, expression: str, patience_s: float = PATIENCE_S) -> None:
        """Wait until an expression is true; the page's own rules forbid polling inside it."""
        end_s = time.monotonic() + patience_s
        while not self.ask(expression):
            if time.monotonic() >= end_s:
                raise AssertionError(f"never came: {expression}; {self.ask(SEEN)}")
            self.page.wait_for_timeout(LOOK_MS)

    def ready(self) -> "Eyes":
        """Wait until the board is ready for a start."""
        self.until("bench.frame.state === 'idle'")
        return self

    def find(self, selector: str) -> Locator:
        return self.page.locator(selector)

    def text(self, selector: str) -> str:
        return self.find(selector).inner_text()

    def tab(self, name: str) -> None:
        """Open one of TABS."""
        self.find(f"#tab-p-{name}").click()

    def hold(self, way: str = "raise", key: str = "") -> None:
        """Press mouse or key on the control and wait until the motor is fed that way.

        On a machine with much to do the page may be too late with its beats and lets go, as it
        must; then it is pressed anew, as a person would.
        """
        wanted = 1 if way == "raise" else -1
        button = self.find(f"#hold-{way}")
        for _ in range(5):
            self.ready()  # the board refuses a control that was not in the middle for a while
            if key:
                self.page.keyboard.down(key)
            else:
                button.hover()
                self.page.mouse.down()
            self.until(
                f"bench.frame.way === {wanted} ||"
                f" document.querySelector('#hold-{way}').ariaPressed === 'false'"
            )
            if self.ask("bench.frame.way") == wanted:
                return
            if key:
                self.page.keyboard.up(key)
            else:
                self.page.mouse.up()
        raise AssertionError(f"the control can't be held to {way}: {self.text('#told')}")

    def stopped(self) -> None:
        """Wait until the motor is off and see that it stays so."""
        self.until("bench.frame.way === 0 && bench.frame.brake_set")
        self.page.wait_for_timeout(500)
        assert self.ask("bench.frame.way") == 0
        assert self.ask("bench.frame.asked") == 0
