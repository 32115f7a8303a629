"""A virtual board under a commissioning, in step with it: reading the line lets time pass."""

import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from leafwinch.edge import settings_store
from leafwinch.edge.settings_words import settings_words
from leafwinch.edge.slots import seal
from leafwinch.settings_schema import settings_from
from leafwinch_host.board.commissioned import (
    cold_record_files,
    commissioned_files,
    netlist_hash,
    site_hash,
)
from leafwinch_host.board.link import BoardLink
from leafwinch_host.board.serial_lines import Line, LineReader, Listener
from leafwinch_host.commissioning.line import CommissionLine, TraceFile
from leafwinch_host.commissioning.record import Record
from leafwinch_host.commissioning.results import Outcome
from leafwinch_host.commissioning.sitting import Sitting
from leafwinch_host.commissioning.steps import STEPS
from leafwinch_host.commissioning.table import Context, Part, Step
from leafwinch_host.firmware_build import built
from leafwinch_host.firmware_build.targets import DESKTOP
from leafwinch_host.virtual_hands import act
from leafwinch_host.virtual_run import NO_SCRIPT
from leafwinch_sim.bench_defects import find_defect
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.run import Player
from leafwinch_sim.site import load_site
from leafwinch_sim.site_schema import Site
from leafwinch_sim.virtual_board import virtual_bench
from leafwinch_sim.virtual_process import make_flash, plan_for
from leafwinch_wiring.netlist import Netlist, load_netlist

PASSES = 4  # of 5 ms in one reading of the line
ROOMY = {"duty_allow_ms": 3_000_000}  # a commissioning at once, without its hours of pauses


def make_flash_of(flash: Path, site: Site, changed: Mapping[str, int]) -> None:
    """Make the flash of a board that was loaded for a site and had settings changed since."""
    net = load_netlist(site.wiring)
    files = {**commissioned_files(site, net), **cold_record_files(site)}
    if changed:
        values = settings_from({**site.settings, **changed})
        words = settings_words(values, site_hash(site), netlist_hash(net))
        seal(words, ord("S"), settings_store.FORMAT, 1)
        files |= {"settings.a": words.tobytes(), "settings.b": words.tobytes()}
    with tempfile.TemporaryDirectory(dir=flash.parent) as name:
        folder = Path(name)
        built(DESKTOP).write(folder)
        for file, data in files.items():
            (folder / file).write_bytes(data)
        make_flash(flash, folder)


class BenchBoard:
    """Bench and board of an installation that may differ from what the site says.

    Args:
        site: the site that is commissioned.
        flash: file of the board's flash.
        net: the wiring as it really is; None for the site's own.
        on_board: settings that differ on the board.
        board_site: another site that the board was loaded for.
    """

    def __init__(
        self,
        site: Site,
        flash: Path,
        net: Netlist | None = None,
        on_board: Mapping[str, int] | None = None,
        board_site: Site | None = None,
    ) -> None:
        self.site = site
        self.own_net = load_netlist(site.wiring)
        make_flash_of(flash, board_site or site, on_board or {})
        plan = plan_for(site, flash, 1)
        self.bench, self.edge = virtual_bench(site, net or self.own_net, NO_SCRIPT, plan, 1)
        assert self.bench.board is not None
        self.bench.board.usb = True
        self.player = Player(site, self.own_net, trace=False)
        self.line = bytearray()
        self.traces: list[TraceFile] = []
        self.every_pass: Callable[[], None] = lambda: None

    @property
    def now_s(self) -> float:
        """Simulated time."""
        return self.bench.t_ms / 1000

    def step(self) -> None:
        """Let 5 ms pass."""
        self.player.advance(self.bench)
        self.line += self.edge.process.take()
        self.every_pass()

    def do(self, line: str) -> None:
        """Let the hands do what a line says; 'mend ID' mends that one only."""
        words = line.split()
        if words[0] == "mend" and len(words) == 2:
            self.bench.remove_defect(find_defect(self.bench.site, self.bench.net, words[1]))
        else:
            assert act(self.bench, self.edge, line) == "done", line

    def pass_time(self, seconds: float) -> None:
        """Let simulated time pass without anybody reading."""
        for _ in range(round(seconds * 1000 / STEP_MS)):
            self.step()
        self.line.clear()

    def close(self) -> None:
        """End the board and the traces that were made of it."""
        self.edge.close()
        for trace in self.traces:
            trace.close()


class BenchLink(BoardLink):
    """The line of a bench's board; each reading lets 20 ms pass."""

    def __init__(self, board: BenchBoard, listener: Listener | None) -> None:
        self.board = board
        self.name = "bench"
        self.listener = listener
        self.reader = LineReader()
        self.at_prompt = False

    def read(self) -> list[Line]:
        """Let time pass and return the lines that came."""
        for _ in range(PASSES):
            self.board.step()
        lines = self.reader.feed(bytes(self.board.line))
        self.board.line.clear()
        for line in lines:
            if line.kind in "TG" and self.listener is not None:
                self.listener(line)
        return lines

    def send(self, data: bytes) -> None:
        """Type."""
        self.board.edge.process.type(data)

    def close(self) -> None:
        """Nothing is to be closed."""


class QuietScreen:
    """Keeps what would be shown."""

    def __init__(self) -> None:
        self.said: list[str] = []

    def welcome(self, title: str, lines: tuple[str, ...]) -> None:
        self.said += [title, *lines]

    def step(self, step: Step, number: int, total: int) -> None:
        self.said += [f"{number}/{total} {step.title}", step.hazard]

    def part(self, part: Part) -> None:
        self.said.append(part.do)

    def waits(self, words: str) -> None:
        self.said.append(words)

    def outcome(self, outcome: Outcome) -> None:
        self.said.append(f"{outcome.verdict} {outcome.why}")

    def ask(self, words: str) -> None:
        self.said.append(words)

    def say(self, words: str) -> None:
        self.said.append(words)


def roomy_site(name: str) -> Site:
    """Return a shipped site whose duty allows a whole commissioning at once."""
    site = load_site(name)
    site.settings.update(ROOMY)
    return site


def sitting_on(
    board: BenchBoard, folder: Path, answers: object, record: Record | None = None
) -> Sitting:
    """Return a commissioning of a bench's board."""
    folder.mkdir(exist_ok=True)
    trace = TraceFile(folder / "trace.log")
    board.traces.append(trace)
    line = CommissionLine(
        lambda listener: BenchLink(board, listener),
        trace,
        lambda: board.now_s,
        lambda _seconds: None,
    )
    context = Context(board.site, board.own_net, "A. Person", line, folder)
    screen = QuietScreen()
    record = record or Record(about={})
    return Sitting(context, record, answers, screen, STEPS)  # type: ignore[arg-type]
