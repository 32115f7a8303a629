"""Runs a virtual board: bench and board in step, its serial line on a pseudo-terminal."""

import select
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from concurrent.futures import TimeoutError as NotInTime
from pathlib import Path
from queue import Empty, SimpleQueue
from types import TracebackType
from typing import Self

from leafwinch_host.virtual_eyes import Eyes
from leafwinch_host.virtual_hands import act
from leafwinch_host.virtual_image import make_image
from leafwinch_host.virtual_ports import PseudoTerminal
from leafwinch_sim.bench import Bench
from leafwinch_sim.board import STEP_MS
from leafwinch_sim.run import Player
from leafwinch_sim.run_events import Event
from leafwinch_sim.scripts import Script
from leafwinch_sim.site_schema import Site
from leafwinch_sim.virtual_board import VirtualEdge, virtual_bench
from leafwinch_sim.virtual_process import HEAP, BoardGone, plan_for
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist

QUEUE_BYTES = 256  # what waits on the board's side of a USB cable
PROMPT_BYTES = 1 << 20  # more than that of printed text is not kept for a reader
LONGEST_WAIT_S = 3600.0
PROMPT_S = 0.002  # a prompt at rest looks for characters so often
AHEAD_S = 0.002  # shorter waits are not worth their while
BEHIND_S = 0.5  # a machine that is slower is not chased
ACT_S = 30.0  # longest wait for something to be done
LOOK_S = 0.1  # whoever waits looks so often whether the board still runs

NO_SCRIPT = Script("hands", "whatever the hands do", "bottom", ())

Condition = Callable[[Bench, VirtualEdge], bool]


class VirtualRun:
    """Bench, board and both terminals; `step` lets 5 ms pass on them.

    Args:
        site, net: the installation.
        flash: file of the board's flash; made where it is missing.
        script: what the operator does by itself, or None.
        seed: of everything random.
        blank: with a new flash, no program in it.
        heap: of the board's interpreter.
    """

    def __init__(
        self,
        site: Site,
        net: Netlist,
        flash: Path,
        script: Script | None = None,
        seed: int = 1,
        blank: bool = False,
        heap: str = HEAP,
    ) -> None:
        if not flash.exists():
            make_image(flash, site, net, blank)
        plan = plan_for(site, flash, seed, heap)
        self.bench, self.edge = virtual_bench(site, net, script or NO_SCRIPT, plan, seed)
        if self.bench.board is not None:
            self.bench.board.usb = True
        self.player = Player(site, net, trace=False)
        self.eyes = Eyes(self.bench)
        self.line = PseudoTerminal()
        self.hands = PseudoTerminal()
        self.typing = bytearray()  # what the hands have not ended yet
        self.planned: list[str] = []  # what the hands do one after the other
        self.planned_ms = 0
        self.over = False  # the hands said quit

    @property
    def broken(self) -> dict[str, str]:
        """Requirements that were broken so far, in words."""
        return {name: first.text for name, first in self.player.monitors.broken.items()}

    def step(self) -> None:
        """Let 5 ms pass.

        Raises:
            BoardGone: the board's process ended by itself.
        """
        process = self.edge.process
        process.type(self.line.read())
        self._read_hands()
        self.player.advance(self.bench)
        self.eyes.see()
        self._go_on_planned()
        process.reading = len(self.line.waiting) < QUEUE_BYTES or (
            self.edge.at_prompt and len(self.line.waiting) < PROMPT_BYTES
        )
        self.line.write(process.take())
        self.hands.write(b"")

    def events(self) -> list[Event]:
        """Return what happened since the last call, in words, with its time in ms."""
        told = self.player.teller.events
        if self.player.teller.stopped >= 0:
            return []  # the last one is still being worded
        new = list(told)
        told.clear()
        return new

    def idle(self) -> None:
        """Where only a prompt waits for characters, leave the processor to others."""
        if self.edge.at_prompt and not self.line.waiting:
            select.select([self.line.end, self.hands.end], [], [], PROMPT_S)

    def _read_hands(self) -> None:
        self.typing += self.hands.read().replace(b"\r", b"\n")
        while b"\n" in self.typing:
            line, _, rest = bytes(self.typing).partition(b"\n")
            self.typing = bytearray(rest)
            text = line.decode("ascii", "replace").strip()
            if text == "quit":
                self.over = True
            elif text:
                self.hands.write(self.answer(text).encode("ascii", "replace") + b"\n")

    def answer(self, text: str) -> str:
        """Let the hands do what a line says; return 'done', what was asked, or why not.

        Several things stand in one line with semicolons between them, 'wait SECONDS' too.
        """
        parts = [part.strip() for part in text.split(";") if part.strip()]
        if len(parts) < 2:
            return self._done(text)
        bad = [part for part in parts if part.startswith("wait") and waited_ms(part) is None]
        if bad:
            return f"no: '{bad[0]}' is nothing to do; allowed is 'wait SECONDS'."
        self.planned, self.planned_ms = parts, self.bench.t_ms
        return "begun"

    def _go_on_planned(self) -> None:
        while self.planned and self.bench.t_ms >= self.planned_ms:
            part = self.planned.pop(0)
            wait_ms = waited_ms(part)
            if wait_ms is not None:
                self.planned_ms = self.bench.t_ms + wait_ms
                continue
            answer = self._done(part)
            if answer.startswith("no:"):
                self.planned.clear()
            self.hands.write(f"{part}: {answer}\n".encode("ascii", "replace"))

    def _done(self, text: str) -> str:
        try:
            return act(self.bench, self.edge, text, self.eyes)
        except BadInput as error:
            return f"no: {error}"

    def close(self) -> None:
        """End the board and both terminals."""
        self.edge.close()
        self.line.close()
        self.hands.close()


def waited_ms(words: str) -> int | None:
    """Return the time in ms of 'wait SECONDS', up to an hour, or None for anything else."""
    verb, _, number = words.partition(" ")
    try:
        seconds = float(number) if verb == "wait" else -1.0
    except ValueError:
        return None
    return round(seconds * 1000) if 0.0 <= seconds <= LONGEST_WAIT_S else None


class Pace:
    """Keeps simulated time at a multiple of real time. speed: 0 for as fast as it goes."""

    def __init__(self, speed: float) -> None:
        self.step_s = STEP_MS / 1000 / speed if speed else 0.0
        self.due_s = time.monotonic()

    def wait(self) -> None:
        """Wait for the end of one step."""
        if not self.step_s:
            return
        self.due_s += self.step_s
        left_s = self.due_s - time.monotonic()
        if left_s > AHEAD_S:
            time.sleep(left_s)
        elif left_s < -BEHIND_S:
            self.due_s = time.monotonic()


class VirtualBoard:
    """A virtual board that runs in the background, for tests and other programs.

    Use it as a context manager. `port` is the path of its serial line. Arguments as of VirtualRun;
    speed: simulated seconds in a second, 0 for as fast as the machine.
    """

    def __init__(self, run: VirtualRun, speed: float = 0.0) -> None:
        self.run = run
        self.port = run.line.path
        self.hands_port = run.hands.path
        self._pace = Pace(speed)
        self._orders: SimpleQueue[tuple[Callable[[], str], Future[str]]] = SimpleQueue()
        self._waiting: list[tuple[Condition, int, Future[str]]] = []
        self._ending = threading.Event()
        self._error: BaseException | None = None
        self._thread = threading.Thread(target=self._go_on, name="virtual board", daemon=True)

    def do(self, line: str) -> str:
        """Let the hands do what a line says, as virtual_hands.act; return the answer.

        Raises:
            BadInput: the hands can't.
        """
        return self.call(lambda: act(self.run.bench, self.run.edge, line, self.run.eyes))

    def call(self, order: Callable[[], str]) -> str:
        """Call a function between two steps, in the thread that owns bench and board."""
        future: Future[str] = Future()
        self._orders.put((order, future))
        return self._result(future)

    def wait(self, condition: Condition, at_most_s: float = 60.0) -> bool:
        """Wait until a condition is true, at most so many simulated seconds; tell whether it is."""
        future: Future[str] = Future()

        def order() -> str:
            until_ms = self.run.bench.t_ms + round(at_most_s * 1000)
            self._waiting.append((condition, until_ms, future))
            return ""

        self.call(order)
        return bool(self._result(future, 2 * at_most_s + ACT_S))

    def wait_state(self, state: int, at_most_s: float = 60.0) -> bool:
        """Wait for a state out of leafwinch.states."""
        return self.wait(lambda bench, edge: bench.state() == state and seen(edge), at_most_s)

    def pass_time(self, seconds: float) -> None:
        """Let so many simulated seconds pass."""
        self.wait(lambda _bench, _edge: False, seconds)

    def _result(self, future: Future[str], at_most_s: float = ACT_S) -> str:
        until_s = time.monotonic() + at_most_s
        while True:
            try:
                return future.result(LOOK_S)
            except NotInTime:
                if self._thread.is_alive() and time.monotonic() < until_s:
                    continue
                raise self._error or BoardGone("The virtual board no longer runs.") from None

    def _go_on(self) -> None:
        try:
            while not self._ending.is_set() and not self.run.over:
                self._obey()
                self.run.step()
                self.run.idle()
                self._judge()
                self._pace.wait()
        except BaseException as error:
            self._error = error

    def _obey(self) -> None:
        while True:
            try:
                order, future = self._orders.get_nowait()
            except Empty:
                return
            try:
                future.set_result(order())
            except Exception as error:
                future.set_exception(error)

    def _judge(self) -> None:
        left = []
        for condition, until_ms, future in self._waiting:
            if condition(self.run.bench, self.run.edge):
                future.set_result("true")
            elif self.run.bench.t_ms >= until_ms:
                future.set_result("")
            else:
                left.append((condition, until_ms, future))
        self._waiting = left

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._ending.set()
        self._thread.join(ACT_S)
        self.run.close()
        if error is None and isinstance(self._error, BoardGone):
            raise self._error


def seen(edge: VirtualEdge) -> bool:
    """Tell whether the board's program runs and has a state."""
    return edge.process.running and edge.program_runs
