"""The loop: one pass every 5 ms, at a deadline by microsecond ticks.

A pass reads the contacts, the newest current and the supply, runs the core, and writes the outputs
that changed. Then come what may be late: the keeper's watch, the trace line, the console, and last
the heartbeat and the watchdog, both only here and only after a complete pass. The level of the
pulse pin is the core's alone, parked levels included.

Nothing in a pass allocates. At rest, when no output is wanted, the loop writes one file that is
due, or collects garbage; then it takes the time anew.
"""

from leafwinch.current import AT_REST_MS
from leafwinch.edge.meter import Meter
from leafwinch.edge.sampling import SUPPLY
from leafwinch.numbers import TICKS_MASK, TYPE_CHECKING, const
from leafwinch.signals import ALL_CONTACTS, OUT_LINE_PULSE

if TYPE_CHECKING:
    from array import array
    from collections.abc import Callable
    from typing import Protocol

    from leafwinch.controller import Controller
    from leafwinch.edge.console import Console
    from leafwinch.edge.hardware import Files
    from leafwinch.edge.keeper import Keeper
    from leafwinch.edge.trace import Trace

    class Register(Protocol):
        """Something that is indexed by an address."""

        def __getitem__(self, _register: int) -> int:
            """Return the levels of the pins."""
            ...

    class Edges(Protocol):
        """What the loop needs of the board; see hardware.py."""

        register: int
        slots: "array[int]"
        ticks_us: "Callable[[], int]"
        ticks_ms: "Callable[[], int]"
        sleep: "Callable[[int], None]"

        @property
        def inputs(self) -> Register:
            """The contacts' levels by address."""
            ...

        @property
        def line(self) -> "Callable[[int], object]":
            """Set the pulse pin."""
            ...

        @property
        def beat(self) -> "Callable[[int], object] | None":
            """Set the heartbeat pin."""
            ...

        @property
        def feed(self) -> "Callable[[], object]":
            """Feed the watchdog."""
            ...

        def collect(self) -> None:
            """Collect garbage."""
            ...

        def write_outputs(self, changed: int, out: int) -> None:
            """Set the other outputs."""
            ...


PASS_US = const(5000)
LATE_US = const(1000)  # a pass that starts so long after its deadline counts as late
# Added by subtracting, since the sum itself would leave the integers of a small board.
_PASS_BACK = const((1 << 30) - 5000)
_FUTURE = const(1 << 29)  # differences of ticks below this lie ahead
REST_TURNS = const(50)  # garbage is collected, and the zero followed, once a second at rest
TRIAL_RESTS = const(10)  # such seconds at rest prove a new program
FILES_MAX = const(8)  # written in one go
# Which of four passes does what, so that no pass does much.
CONSOLE_TURN = const(0)
REST_TURN = const(2)


class Loop:
    """Runs the control until the console asks for a restart, or something raises.

    supply_full_mv: control supply at the full scale of its divider.
    """

    def __init__(
        self,
        edges: "Edges",
        meter: Meter,
        controller: "Controller",
        keeper: "Keeper",
        trace: "Trace",
        console: "Console",
        supply_full_mv: int,
    ) -> None:
        self.edges = edges
        self.meter = meter
        self.controller = controller
        self.keeper = keeper
        self.trace = trace
        self.console = console
        self.supply_full_mv = supply_full_mv
        self.late = 0  # passes that started late, modulo 2^16
        self.out = 0  # what the output pins show between two calls of run()
        self.turn = 0
        self.rest_turns = 0
        self.files: "Files | None" = None
        self.trial_file = ""
        self.trial_left = 0

    def run(self, passes: int) -> int:
        """Run so many passes, or for ever if negative; return the console's request, or 0."""
        edges = self.edges
        ticks_us = edges.ticks_us
        ticks_ms = edges.ticks_ms
        sleep = edges.sleep
        inputs = edges.inputs
        register = edges.register
        slots = edges.slots
        line = edges.line
        beat = edges.beat
        feed = edges.feed
        write_outputs = edges.write_outputs
        read_current = self.meter.read
        controller = self.controller
        step = controller.step
        watch = self.keeper.watch
        trace = self.trace.step
        console = self.console
        console_step = console.step
        contactors = controller.contactors
        full_mv = self.supply_full_mv
        request = 0
        out = self.out
        turn = self.turn
        deadline = (ticks_us() - _PASS_BACK) & TICKS_MASK
        while passes and not request:
            if passes > 0:
                passes -= 1
            left = (deadline - ticks_us()) & TICKS_MASK
            if left < _FUTURE:
                sleep(left)
            else:
                sleep(0)
                deadline = self._overslept(deadline, TICKS_MASK - left)
            deadline = (deadline - _PASS_BACK) & TICKS_MASK
            now = ticks_ms() & TICKS_MASK
            contacts = ~inputs[register] & ALL_CONTACTS
            current = read_current()
            supply = (slots[SUPPLY] >> 4) * full_mv >> 12
            before = out
            out = step(now, contacts, current, supply)
            changed = out ^ before
            if changed:
                if changed & OUT_LINE_PULSE:
                    line(out & OUT_LINE_PULSE)
                if changed != OUT_LINE_PULSE:
                    write_outputs(changed, out)
            watch(controller)
            trace(contacts, out, supply)
            turn = (turn + 1) & 3
            if turn == REST_TURN and not contactors.phase and self._at_rest():
                if (deadline - ticks_us()) & TICKS_MASK >= _FUTURE:
                    deadline = ticks_us() & TICKS_MASK
            elif turn == CONSOLE_TURN or console.busy:
                request = console_step()
            if beat is not None:
                beat(turn & 1)
            feed()
        self.out = out
        self.turn = turn
        return request

    def _overslept(self, deadline: int, late_us: int) -> int:
        """Count a late pass; return the deadline, anew where a whole pass was missed."""
        if late_us >= LATE_US:
            self.late = (self.late + 1) & 0xFFFF
            self.keeper.late_pass()
            if late_us >= PASS_US:
                return self.edges.ticks_us() & TICKS_MASK
        return deadline

    def _at_rest(self) -> bool:
        """Write what is due, or collect garbage, where the core is at rest.

        Returns True where it did; if the next deadline passed meanwhile, it is taken anew.
        """
        controller = self.controller
        keeper = self.keeper
        writing = keeper.due()
        second = self.rest_turns >= REST_TURNS
        if not second:
            self.rest_turns += 1
            if not writing and not self.console.busy:  # an answer leaves much garbage
                return False
        edges = self.edges
        if not controller.at_rest():
            # Without the 24 V supply no contactor can be seen released, so nothing is written. But
            # none is pulled either, and the console's answers need the room.
            if controller.inputs.supplied() or controller.cause.is_open:
                return False
            if second:
                self.rest_turns = 0
            edges.collect()
            return True
        if second:
            self.rest_turns = 0
        if not writing:
            if second and controller.current.rest_ms >= AT_REST_MS:
                self.meter.track_zero()
            if not second or not self._proven():
                edges.collect()
                return True
        stored = 0
        for _ in range(FILES_MAX):
            if keeper.due():
                edges.feed()
                stored |= keeper.write(controller)
        edges.collect()
        self.meter.restart()
        now = edges.ticks_ms() & TICKS_MASK
        if stored:
            controller.stored(now)
        else:
            controller.resync(now)
        return True

    def on_trial(self, files: "Files", name: str) -> None:
        """Remove a file once the loop has been at rest for ten seconds with nothing wrong."""
        self.files = files
        self.trial_file = name
        self.trial_left = TRIAL_RESTS

    def _proven(self) -> bool:
        """Count down the trial, called once a second at rest; True where its file was removed."""
        if self.trial_left:
            self.trial_left -= 1
            if not self.trial_left and self.files is not None:
                self.files.remove(self.trial_file)
                return True
        return False
