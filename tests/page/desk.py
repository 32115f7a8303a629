"""Bench and clock for the tests of the page, without thread and without waiting."""

import json
from typing import Any

from leafwinch_host.page.bench_session import BenchSession
from leafwinch_host.page.messages import parse
from leafwinch_host.page.orders import Answer, carry_out
from leafwinch_host.page.play import Opening
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.site import load_site
from leafwinch_wiring.netlist import load_netlist

ME = 1
BEAT_EVERY = 50


class Desk:
    """One page in front of one bench; its clock goes on only with `run`."""

    def __init__(
        self, site: str = "workshop-pit", wiring: str = "", opening: Opening | None = None
    ) -> None:
        self.now_ms = 0
        loaded = load_site(site)
        net = load_netlist(wiring or loaded.wiring)
        self.bench = BenchSession(loaded, net, 1, opening, lambda: self.now_ms / 1000.0)
        self.page = self.bench.join()
        self.beats = 0

    def send(self, page: int = ME, **message: Any) -> Answer:
        """Send one message as JSON text."""
        return carry_out(self.bench, page, parse(json.dumps(message)))

    def run(self, ms: int, way: str = "") -> None:
        """Let real time pass at the bench's speed, holding the control that way."""
        for _ in range(ms // STEP_MS):
            if way and self.now_ms % BEAT_EVERY == 0:
                self.send(do="hold", way=way, beat=self.beats)
                self.beats += 1
            self.now_ms += STEP_MS
            self.bench.tick()

    def ready(self) -> "Desk":
        """Wait until the board is idle."""
        self.run(1500)
        assert self.frame()["state"] == "idle"
        return self

    def frame(self, page: int = ME) -> dict[str, Any]:
        """Return what a page is shown, as it arrives there."""
        shown: dict[str, Any] = json.loads(json.dumps(self.bench.frame(page)[1], allow_nan=False))
        return shown

    @property
    def t_ms(self) -> int:
        return self.bench.play.bench.t_ms
