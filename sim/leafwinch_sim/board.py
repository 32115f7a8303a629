"""The board as the wiring sees it: power, boot, charge pump, sampled current, stored record."""

import math
from collections.abc import Callable
from typing import Any, Protocol

from leafwinch.controller import BOOT_WATCHDOG, Controller
from leafwinch.edge.pins import WATCHDOG_MS
from leafwinch.numbers import TICKS_MASK
from leafwinch.signals import NO_SAMPLE, OUT_LINE_PULSE
from leafwinch_sim.controller_state import put, take

PUMP_HOLD_MS = 38  # middle of the 30 to 45 ms that the pump's parts allow
BOARD_MIN_MV = 8000  # the board's regulator needs this
BOARD_HOLDUP_MS = 10
BOOT_MS = 200
STORE_AFTER_MS = 100  # at rest this long before the record is written
FLASH_MS = 40  # the loop stands still while flash is written
STEP_MS = 5
START_MS = TICKS_MASK + 1 - 20_000  # the board's clock wraps 20 s after the bench starts


class ControllerLike(Protocol):
    """What the bench needs of a controller, in CPython or in a MicroPython process."""

    state: int
    fault: int
    held_reasons: int
    record_due: int
    warning: int
    warnings: int

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        """Run one pass."""
        ...

    def at_rest(self) -> bool:
        """Tell whether flash may be written."""
        ...

    def record(self) -> tuple[int, ...]:
        """Return what must survive power loss."""
        ...

    def stored(self, now_ms: int) -> None:
        """Note that the record was written."""
        ...

    def snapshot(self) -> tuple[int, ...]:
        """Return the whole state."""
        ...

    def restore(self, snapshot: tuple[int, ...]) -> None:
        """Take over a whole state."""
        ...


class BoardEdge(Protocol):
    """A real program on a played board, which takes the place of the controller's passes."""

    def run(self, board: "Board", t_ms: int, supply_mv: int) -> None:
        """Let 5 ms pass: power, boots, stalls and outputs are the program's."""
        ...


MakeController = Callable[[tuple[int, ...] | None, int], ControllerLike]


class Board:
    """Runs the controller every 5 ms while it has power and holds the pump's charge.

    `core` is the controller where it is the firmware in this interpreter, else None. `edge`, where
    there is one, runs the whole program in a process of its own; then there are no snapshots.
    """

    __slots__ = (
        "boot_ms",
        "clock_gone_ms",
        "clock_percent",
        "clock_since_ms",
        "controller",
        "core",
        "edge",
        "edge_ms",
        "every",
        "flash_dead",
        "hung",
        "kept",
        "low_ms",
        "make",
        "outputs",
        "powered",
        "pump_charged",
        "rest_ms",
        "stall_ms",
        "start_ms",
        "usb",
        "watchdog",
        "watchdog_ms",
    )

    def __init__(self, make: MakeController, kept: tuple[int, ...] | None) -> None:
        self.make = make
        self.kept = kept
        self.core: Controller | None = None
        self.edge: BoardEdge | None = None
        self._install(make(kept, 0))
        self.powered = False
        self.usb = False
        self.outputs = 0
        self.low_ms = 0
        self.boot_ms = 0
        self.edge_ms = PUMP_HOLD_MS + 1  # since the pulse pin last changed
        self.pump_charged = False
        self.rest_ms = 0
        self.stall_ms = 0
        self.hung = False  # defect: the program stands still, outputs stay
        self.watchdog = True
        self.watchdog_ms = 0
        self.clock_percent = 100  # defect: the board's clock runs at this speed ...
        self.clock_since_ms = 0  # ... since this bench time, when ...
        self.clock_gone_ms = 0  # ... it had come so far
        self.flash_dead = False  # defect: what is written is gone at the next power-up
        self.every = 1  # defect: a pass only every so many steps
        self.start_ms = START_MS  # what the clock shows when the bench starts

    def pump_passes(self, static_high: bool, static_low: bool) -> bool:
        """Tell whether the charge pump drives the line contactor's coil now."""
        if self.pump_charged and self.edge_ms <= PUMP_HOLD_MS:
            return True
        level = self.outputs & OUT_LINE_PULSE
        return (static_high and level != 0) or (static_low and level == 0 and self.powered)

    def pump_settled(self) -> bool:
        """Tell whether the pump's state will not change before the next edge."""
        return self.edge_ms > PUMP_HOLD_MS or self.edge_ms < PUMP_HOLD_MS - STEP_MS

    def now_ms(self, t_ms: int) -> int:
        """Return the board's own clock for bench time t_ms."""
        return int((self.start_ms + self._gone_ms(t_ms)) & TICKS_MASK)

    def _gone_ms(self, t_ms: int) -> int:
        """Return how far the board's own clock has come since the bench started."""
        return self.clock_gone_ms + (t_ms - self.clock_since_ms) * self.clock_percent // 100

    def set_clock(self, percent: int, t_ms: int) -> None:
        """Let the clock go at another speed from bench time t_ms on, without a jump."""
        self.clock_gone_ms = self._gone_ms(t_ms)
        self.clock_since_ms = t_ms
        self.clock_percent = percent

    def set_outputs(self, outputs: int) -> None:
        """Put the pins at new levels; an edge on the pulse pin charges the pump."""
        if (outputs ^ self.outputs) & OUT_LINE_PULSE:
            # One edge alone, such as parking at the other level, does not charge it.
            self.pump_charged = self.edge_ms <= PUMP_HOLD_MS
            self.edge_ms = 0
        self.outputs = outputs

    def power(self, supply_mv: int) -> None:
        """Follow the board's supply for one step of 5 ms; boots when it comes back."""
        if supply_mv >= BOARD_MIN_MV or self.usb:
            self.low_ms = 0
            if not self.powered:
                self.boot_ms += STEP_MS
                if self.boot_ms >= BOOT_MS:
                    self._boot(0)
            return
        self.low_ms += STEP_MS
        if self.low_ms > BOARD_HOLDUP_MS and (self.powered or self.boot_ms):
            self._die()

    def _die(self) -> None:
        self.powered = False
        self.boot_ms = 0
        self.set_outputs(0)

    def _boot(self, boot: int) -> None:
        self.powered = True
        self.boot_ms = 0
        self.watchdog_ms = 0
        self.rest_ms = 0
        self.stall_ms = 0
        self._install(self.make(self.kept, boot))

    def _install(self, controller: ControllerLike) -> None:
        self.controller = controller
        self.core = controller if isinstance(controller, Controller) else None

    def run(self, t_ms: int, contacts: int, current_ma: int, supply_mv: int) -> None:
        """Run the pass of this step, unless the board is off, hung or writing flash."""
        if self.edge is not None:
            self.edge.run(self, t_ms, supply_mv)
            return
        self.power(supply_mv)
        if not self.powered:
            return
        if self.hung:
            self.watchdog_ms += STEP_MS
            if self.watchdog and self.watchdog_ms >= WATCHDOG_MS:
                self._die()
                self.hung = False
                self._boot(BOOT_WATCHDOG)
            return
        if self.stall_ms > 0:
            self.stall_ms -= STEP_MS
            if self.stall_ms <= 0:
                self.controller.stored(self.now_ms(t_ms))
            return
        if self.every > 1 and (t_ms // STEP_MS) % self.every:
            return
        core = self.core
        now_ms = self.now_ms(t_ms)
        controller = self.controller
        if core is not None:
            self.set_outputs(core.step(now_ms, contacts, current_ma, supply_mv))
            due = core.record_due
        else:
            self.set_outputs(controller.step(now_ms, contacts, current_ma, supply_mv))
            due = controller.record_due
        if due and controller.at_rest():
            self.rest_ms += STEP_MS
            if self.rest_ms >= STORE_AFTER_MS:
                self.rest_ms = 0
                if not self.flash_dead:
                    self.kept = controller.record()
                self.stall_ms = FLASH_MS
        else:
            self.rest_ms = 0

    def snapshot(self) -> tuple[Any, ...]:
        """Return the whole state, the controller's included."""
        core = self.core
        return (
            take(core) if core is not None else self.controller.snapshot(),
            self.kept,
            self.powered,
            self.usb,
            self.outputs,
            self.low_ms,
            self.boot_ms,
            self.edge_ms,
            self.pump_charged,
            self.rest_ms,
            self.stall_ms,
            self.hung,
            self.watchdog,
            self.watchdog_ms,
            self.clock_percent,
            self.clock_since_ms,
            self.clock_gone_ms,
            self.every,
            self.flash_dead,
        )

    def restore(self, state: tuple[Any, ...]) -> None:
        """Take over a state from snapshot()."""
        core = self.core
        if core is not None:
            put(core, state[0])
        else:
            self.controller.restore(state[0])
        (
            _,
            self.kept,
            self.powered,
            self.usb,
            self.outputs,
            self.low_ms,
            self.boot_ms,
            self.edge_ms,
            self.pump_charged,
            self.rest_ms,
            self.stall_ms,
            self.hung,
            self.watchdog,
            self.watchdog_ms,
            self.clock_percent,
            self.clock_since_ms,
            self.clock_gone_ms,
            self.every,
            self.flash_dead,
        ) = state


class CurrentSensor:
    """RMS over one mains cycle (AC) or mean over two steps (DC), with gain, offset and noise."""

    __slots__ = ("direct", "gain", "lost", "offset_ma", "ring", "stale")

    def __init__(self, direct: bool) -> None:
        self.direct = direct
        self.ring = (0.0, 0.0, 0.0, 0.0)
        self.gain = 1.0
        self.offset_ma = 0.0
        self.stale = False  # defect: the sample counter stands still
        self.lost = False  # defect: reads zero

    def sample(self, current_a: float, noise_ma: float) -> int:
        """Return this step's value in mA for a true current in A."""
        ring = self.ring
        if self.direct:
            self.ring = (current_a, ring[0], 0.0, 0.0)
            value_a = 0.5 * (current_a + ring[0])
        else:
            square = current_a * current_a
            self.ring = (square, ring[0], ring[1], ring[2])
            value_a = math.sqrt(0.25 * (square + ring[0] + ring[1] + ring[2]))
        if self.stale:
            return int(NO_SAMPLE)
        if self.lost:
            value_a = 0.0
        value_ma = value_a * 1000.0 * self.gain + self.offset_ma + noise_ma
        if not self.direct and value_ma < 0.0:
            value_ma = -value_ma
        return int(value_ma)
