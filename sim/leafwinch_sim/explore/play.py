"""One pass after another: the real core, ideal contactors around it, and the rules.

The surroundings are as small as can be: a charge pump, three contactors that follow the
outputs with a delay, a memory for the record. Where the deck stands and what hands do comes
from outside as a contact mask.
"""

from typing import Any

from leafwinch.numbers import TICKS_MASK
from leafwinch.settings import Settings
from leafwinch.signals import (
    CHAIN_OK,
    LINE_RELEASED,
    LOWER_PATH,
    LOWER_RELEASED,
    NO_SAMPLE,
    OUT_LINE_PULSE,
    OUT_LOWER,
    OUT_RAISE,
    RAISE_PATH,
    RAISE_RELEASED,
)
from leafwinch_sim.explore.rules import Rules

# What flows and what the supply has, as one number of a segment.
NORMAL = 0
NONE = 1
HIGH = 2
BAND = 3
REVERSED = 4
AT_REST = 5
STALE = 6
UNSUPPLIED = 7

PULL_MS = 15  # a contactor pulls in so late, and lets go so late
RELEASE_MS = 20
PUMP_HOLD_MS = 20  # each toggle charges the pump; it holds so long after the last one
SUPPLY_MV = 24000
# In a log, in place of contacts: the record was stored; the power was cycled, with boot flags.
STORED = -1
POWERED = -2
DEAD_MV = 5000
CLOCK_START = TICKS_MASK - 60  # every stretch begins here, so that the clock wraps in most


PLAY_FIELDS = ("out", "pump", "line", "up", "down", "line_in", "up_in", "down_in")


class Play:
    """The core under exploration with its surroundings and rules.

    The state of the surroundings is the integers in PLAY_FIELDS, and the stored record. `core` is
    any object that behaves as the control core, also one with a bug in it.
    """

    def __init__(
        self, core: Any, settings: Settings, kept: "tuple[int, ...]", step_ms: int
    ) -> None:
        self.core = core
        self.rules = Rules(settings)
        self.run_ma = (max(settings.missing_raise_ma, 100) + settings.run_max_ma) // 2
        self.high_ma = settings.trip_ma + 100
        self.band_ma = (settings.run_max_ma + settings.trip_ma) // 2
        self.rest_ma = settings.rest_ma + 100
        self.signed = settings.current_signed != 0
        self.pull_passes = -(-PULL_MS // step_ms)
        self.release_passes = -(-RELEASE_MS // step_ms)
        self.pump_on = -(-PUMP_HOLD_MS // step_ms)
        self.pump_step = (self.pump_on + 1) // 2  # it takes two toggles to charge it
        self.pump_full = 2 * self.pump_on
        self.kept = kept
        self.now = CLOCK_START
        self.out = 0
        self.pump = 0
        self.line = 0  # passes towards pulled in, negative: towards released
        self.up = 0
        self.down = 0
        self.line_in = 0
        self.up_in = 0
        self.down_in = 0
        # For a trace: (dt_ms, contacts, current_ma, supply_mv) of every pass.
        self.log: list[tuple[int, int, int, int]] | None = None

    def drop(self) -> None:
        """Let every contactor go, as after a loss of power."""
        self.out = 0
        self.pump = 0
        self.line = 0
        self.up = 0
        self.down = 0
        self.line_in = 0
        self.up_in = 0
        self.down_in = 0

    def one_pass(self, dt_ms: int, mask: int, on: int, off: int, flow: int) -> int:
        """Run one pass and return what it broke, or 0.

        mask: what sound wiring shows. on, off: contacts that read closed or open all the same.
        flow: NORMAL to UNSUPPLIED.
        """
        raw = mask
        if not self.line_in:
            raw |= LINE_RELEASED
        if not self.up_in:
            raw |= RAISE_RELEASED
        if not self.down_in:
            raw |= LOWER_RELEASED
        raw = (raw | on) & ~off
        energised = self.line_in == 1 and self.up_in + self.down_in > 0
        current = 0
        supply = SUPPLY_MV
        if flow == UNSUPPLIED:
            supply = DEAD_MV
            raw = 0
        if flow == STALE:
            current = NO_SAMPLE
        elif flow == AT_REST and not energised:
            current = self.rest_ma
        elif energised and flow != NONE:
            current = self.run_ma
            if flow == HIGH:
                current = self.high_ma
            elif flow == BAND:
                current = self.band_ma
            if (self.signed and self.down_in) != (flow == REVERSED):
                current = -current
        if self.log is not None:
            self.log.append((dt_ms, raw, current, supply))
        self.now = (self.now + dt_ms) & TICKS_MASK
        core = self.core
        out: int = core.step(self.now, raw, current, supply)
        broken = self.rules.step(dt_ms, raw, current, supply, out, core)
        self._follow(out, mask if supply == SUPPLY_MV else 0)
        if core.record_due and core.at_rest():
            self.kept = core.record()
            core.stored(self.now)
            self.rules.blind()
            if self.log is not None:
                self.log.append((0, STORED, 0, 0))
        return broken

    def _follow(self, out: int, mask: int) -> None:
        """Let pump and contactors follow the outputs; the coils hang on the sound wiring."""
        if (out ^ self.out) & OUT_LINE_PULSE:
            self.pump = min(self.pump + self.pump_step, self.pump_full)
        elif self.pump:
            self.pump -= 1
        self.out = out & (OUT_LINE_PULSE | OUT_RAISE | OUT_LOWER)
        line = self._coil(self.line, self.pump >= self.pump_on and mask & CHAIN_OK != 0)
        up = self._coil(self.up, out & OUT_RAISE != 0 and mask & RAISE_PATH != 0)
        down = self._coil(self.down, out & OUT_LOWER != 0 and mask & LOWER_PATH != 0)
        self.line = line
        self.up = up
        self.down = down
        pull = self.pull_passes
        release = -self.release_passes
        if line >= pull or line <= release:
            self.line_in = 1 if line > 0 else 0
        if up >= pull or up <= release:
            self.up_in = 1 if up > 0 else 0
        if down >= pull or down <= release:
            self.down_in = 1 if down > 0 else 0

    def _coil(self, passes: int, wanted: bool) -> int:
        """Count passes towards pulled in (positive) or released (negative)."""
        if wanted:
            if passes <= 0:
                return 1
            return passes + 1 if passes < self.pull_passes else self.pull_passes
        if passes >= 0:
            return -1
        return passes - 1 if passes > -self.release_passes else -self.release_passes
