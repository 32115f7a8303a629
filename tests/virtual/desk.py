"""A virtual board without terminals, stepped by the test itself: every run is the same."""

from collections.abc import Callable
from pathlib import Path

from leafwinch.states import IDLE
from leafwinch_host.virtual_hands import act
from leafwinch_host.virtual_image import make_image
from leafwinch_host.virtual_run import NO_SCRIPT
from leafwinch_sim.board import STEP_MS, Board
from leafwinch_sim.run import Player
from leafwinch_sim.scripts import Script
from leafwinch_sim.site import load_site
from leafwinch_sim.virtual_board import virtual_bench
from leafwinch_sim.virtual_process import plan_for
from leafwinch_wiring.netlist import load_netlist

LINE_BYTES = 64
TEXT_BYTES = 58


class Desk:
    """Bench, board and judge; `lines` is what the board sent."""

    def __init__(
        self,
        site: str,
        flash: Path,
        script: Script = NO_SCRIPT,
        seed: int = 1,
        settings: dict[str, int] | None = None,
    ) -> None:
        self.site = load_site(site)
        self.site.settings.update(settings or {})
        net = load_netlist(self.site.wiring)
        if not flash.exists():
            make_image(flash, self.site, net)
        plan = plan_for(self.site, flash, seed)
        self.bench, self.edge = virtual_bench(self.site, net, script, plan, seed)
        self.player = Player(self.site, net, trace=False)
        self.line = bytearray()

    @property
    def board(self) -> Board:
        """The bench's board."""
        board = self.bench.board
        assert board is not None
        return board

    def step(self) -> None:
        """Let 5 ms pass."""
        self.player.advance(self.bench)
        self.line += self.edge.process.take()

    def run(self, seconds: float) -> None:
        """Let simulated time pass."""
        for _ in range(round(seconds * 1000 / STEP_MS)):
            self.step()

    def until(self, condition: Callable[[], bool], at_most_s: float = 60.0) -> bool:
        """Let time pass until a condition is true; tell whether it became so."""
        for _ in range(round(at_most_s * 1000 / STEP_MS)):
            if condition():
                return True
            self.step()
        return condition()

    def do(self, *lines: str) -> None:
        """Let the hands do something."""
        for line in lines:
            act(self.bench, self.edge, line)

    def state(self) -> int:
        """The program's state, or -1 without one."""
        return self.edge.seen.state if self.edge.program_runs else -1

    def idle(self) -> bool:
        """Wait until the drive is ready."""
        return self.until(lambda: self.state() == IDLE, 10.0)

    def lines(self, kinds: str = "AEGZT") -> list[str]:
        """What the board sent so far, without check sums."""
        assert len(self.line) % LINE_BYTES == 0
        texts = [
            self.line[at : at + TEXT_BYTES].decode("ascii").rstrip()
            for at in range(0, len(self.line), LINE_BYTES)
        ]
        return [text for text in texts if text[0] in kinds]

    def command(self, text: str) -> list[str]:
        """Type a command and return its answer."""
        self.line.clear()
        self.edge.process.type(text.encode() + b"\r")
        self.until(lambda: bool(self.lines("EZ")), 5.0)
        return self.lines("AEZ")

    def travel(self, way: str) -> None:
        """Travel from one end to the other."""
        end = "top_end" if way == "raise" else "bottom_end"
        self.do(way)
        assert self.until(lambda: self.bench.limit_actuated(end))
        self.do("release")

    def close(self) -> None:
        self.edge.close()
