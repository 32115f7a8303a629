"""Plays contact scripts against a control core, with ideal wiring and contactors around it.

Runs under CPython and MicroPython alike, so it keeps to what both have. The wiring here
is the healthy one: chain and coil paths follow stop, finals, key, control and ends, and
the mirrors follow the outputs. Any contact can be forced open or closed on top.
"""

from leafwinch import signals as sig
from leafwinch.controller import Controller
from leafwinch.fault_texts import FAULTS
from leafwinch.kept import KEPT_NAMES
from leafwinch.numbers import LOWER, RAISE, TICKS_MASK, TYPE_CHECKING
from leafwinch.settings_schema import settings_from
from leafwinch.state_texts import ENDINGS, HELD_REASONS, REFUSALS, WARNINGS
from leafwinch.states import STATE_NAMES

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Protocol

    class Core(Protocol):
        """What the core offers, in whichever interpreter it runs."""

        @property
        def state(self) -> int: ...
        @property
        def fault(self) -> int: ...
        @property
        def later_fault(self) -> int: ...
        @property
        def held_reasons(self) -> int: ...
        @property
        def ended(self) -> int: ...
        @property
        def refused(self) -> int: ...
        @property
        def warning(self) -> int: ...
        @property
        def record_due(self) -> int: ...
        def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int: ...
        def at_rest(self) -> bool: ...
        def record(self) -> "tuple[int, ...]": ...
        def stored(self, now_ms: int) -> None: ...
        def snapshot(self) -> "tuple[int, ...]": ...
        def restore(self, snapshot: "tuple[int, ...]") -> None: ...

    Make = Callable[[dict[str, int], "tuple[int, ...] | None", int], Core]

TICK_MS = 5
BOTH = 2  # the control asks both ways
PULL_TICKS = 3  # a contactor pulls in after so many passes, and lets go after so many
RELEASE_TICKS = 4
PUMP_FULL = 8  # charge of the pump in passes; it holds four of them
PUMP_ON = 4
SUPPLY_DEAD_MV = 8000  # below this no isolator conducts

_HAND = sig.TOP_END | sig.BOTTOM_END | sig.TOP_FINAL | sig.BOTTOM_FINAL
_REST = _HAND | sig.STOP_OK | sig.ROPE_TAUT | sig.RECOVERY_OFF


def bit_of(name: str) -> int:
    """Return the contact bit with this name."""
    return 1 << sig.CONTACT_NAMES.index(name)


def number_of(name: str, rows: "tuple[tuple[object, ...], ...]") -> int:
    """Return the index of the row whose first entry is name."""
    for index in range(len(rows)):
        if rows[index][0] == name:
            return index
    raise ValueError("no row is named " + name)


def cold_record(values: "dict[str, int]") -> "tuple[int, ...]":
    """Return the record of a drive that was commissioned and has rested for a day."""
    record = list(Controller(settings_from(values)).record())
    record[KEPT_NAMES.index("thermal_level")] = 0
    record[KEPT_NAMES.index("blocked_ms")] = 0
    return tuple(record)


def make_controller(
    values: "dict[str, int]", kept: "tuple[int, ...] | None", boot: int
) -> Controller:
    """Build the core of this interpreter."""
    return Controller(settings_from(values), kept, boot)


class Drive:
    """One control core, its wiring and a hand on the control."""

    def __init__(
        self, values: "dict[str, int] | None" = None, make: "Make" = make_controller
    ) -> None:
        self.values = values if values is not None else {}
        self.make = make
        self.kept: tuple[int, ...] | None = cold_record(self.values)
        self.now = TICKS_MASK - 700  # the clock wraps early in every scenario
        self.tick_ms = TICK_MS
        self.hash = 0
        self.autostore = True
        self.place()
        self.power_up(0)

    def place(self) -> None:
        """Put everything at rest: control neutral, deck between the ends."""
        self.mask: int = _REST
        self.asked = 0
        self.forced_on = 0
        self.forced_off = 0
        self.amps = 5000
        self.rest_amps = 0
        self.sampled = True
        self.supply = 24000

    def power_up(self, boot: int) -> None:
        """Start the core anew from the last stored record; contactors drop."""
        self.core: Core = self.make(self.values, self.kept, boot)
        self.out = 0
        self.pump = 0
        self.pulsing = False
        self.coils = [0, 0, 0]  # line, raise, lower: passes towards pulled
        self.pulled = [False, False, False]

    # --- wiring and contactors ---------------------------------------------------

    def chain(self) -> bool:
        finals = sig.TOP_FINAL | sig.BOTTOM_FINAL
        bridged = not self.mask & sig.RECOVERY_OFF
        return bool(self.mask & sig.STOP_OK) and (self.mask & finals == finals or bridged)

    def contacts(self) -> int:
        """Return the contact mask that the board reads now."""
        c: int = self.mask
        chain = self.chain()
        if chain:
            c |= sig.CHAIN_OK
        if self.asked == RAISE or self.asked == BOTH:
            if chain and c & sig.TOP_END:
                c |= sig.RAISE_PATH
        else:
            c |= sig.RAISE_OFF
        if self.asked == LOWER or self.asked == BOTH:
            if chain and c & sig.BOTTOM_END:
                c |= sig.LOWER_PATH
        else:
            c |= sig.LOWER_OFF
        if not self.pulled[0]:
            c |= sig.LINE_RELEASED
        if not self.pulled[1]:
            c |= sig.RAISE_RELEASED
        if not self.pulled[2]:
            c |= sig.LOWER_RELEASED
        if self.supply < SUPPLY_DEAD_MV:
            return 0
        read: int = (c | self.forced_on) & ~self.forced_off
        return read

    def current(self) -> int:
        if not self.sampled:
            stale: int = sig.NO_SAMPLE
            return stale
        if self.pulled[0] and (self.pulled[1] or self.pulled[2]):
            return self.amps
        return self.rest_amps

    def tick(self) -> int:
        """Run one pass of the core and let the contactors follow."""
        c = self.contacts()
        core = self.core
        before = self.out
        out = core.step(self.now, c, self.current(), self.supply)
        self.now = (self.now + self.tick_ms) & TICKS_MASK
        self.pulsing = bool((out ^ before) & sig.OUT_LINE_PULSE)
        if self.pulsing:
            self.pump = min(self.pump + 2, PUMP_FULL)
        elif self.pump:
            self.pump -= 1
        self.out = out
        self.follow(0, self.pump >= PUMP_ON and c & sig.CHAIN_OK)
        self.follow(1, out & sig.OUT_RAISE and c & sig.RAISE_PATH)
        self.follow(2, out & sig.OUT_LOWER and c & sig.LOWER_PATH)
        self.hash = (self.hash * 31 + out) & 0xFFFFFF
        if out & sig.OUT_RAISE and out & sig.OUT_LOWER:
            raise ValueError("both directions are commanded")
        if self.autostore and core.record_due and core.at_rest():
            self.kept = core.record()
            core.stored(self.now)
        return out

    def follow(self, index: int, wanted: object) -> None:
        ticks = self.coils[index]
        if wanted:
            ticks = ticks + 1 if ticks > 0 else 1
            if ticks >= PULL_TICKS:
                self.pulled[index] = True
                ticks = PULL_TICKS
        else:
            ticks = ticks - 1 if ticks < 0 else -1
            if ticks <= -RELEASE_TICKS:
                self.pulled[index] = False
                ticks = -RELEASE_TICKS
        self.coils[index] = ticks

    # --- what a script can say ---------------------------------------------------

    def run(self, ms: int) -> None:
        """Let time pass."""
        for _ in range(ms // self.tick_ms):
            self.tick()

    def gap(self, ms: int) -> None:
        """Let the next pass come so much after the last one."""
        self.now = (self.now + ms - self.tick_ms) & TICKS_MASK
        self.tick()

    def at(self, where: str) -> None:
        """Move the deck: bottom, middle, top, or both limits at once."""
        self.mask |= sig.TOP_END | sig.BOTTOM_END
        if where in ("bottom", "both"):
            self.mask &= ~sig.BOTTOM_END
        if where in ("top", "both"):
            self.mask &= ~sig.TOP_END

    def ask(self, way: str) -> None:
        """Move the control: raise, lower, both or nothing."""
        self.asked = {"raise": RAISE, "lower": LOWER, "both": BOTH, "nothing": 0}[way]

    def open(self, *names: str) -> None:
        """Open switches by hand, or force other contacts to read open."""
        for name in names:
            bit = bit_of(name)
            if bit & (_REST | sig.RESET | sig.SERVICE_LINK):
                self.mask &= ~bit
            else:
                self.forced_off |= bit

    def close(self, *names: str) -> None:
        """Close switches by hand, or force other contacts to read closed."""
        for name in names:
            bit = bit_of(name)
            if bit & (_REST | sig.RESET | sig.SERVICE_LINK):
                self.mask |= bit
            else:
                self.forced_on |= bit

    def force(self, name: str, closed: str) -> None:
        """Force the reading of any contact: open, closed, or free again."""
        bit = bit_of(name)
        self.forced_on &= ~bit
        self.forced_off &= ~bit
        if closed == "closed":
            self.forced_on |= bit
        elif closed == "open":
            self.forced_off |= bit

    def press(self, ms: int) -> None:
        """Press the reset button so long and let go."""
        self.close("reset")
        self.run(ms)
        self.open("reset")
        self.run(30)

    def settle(self) -> None:
        """Wait long enough for idle where nothing forbids it."""
        self.ask("nothing")
        self.run(1500)

    def until(self, state: str, ms: int) -> None:
        """Run until the state is reached, at most so long."""
        for _ in range(ms // self.tick_ms):
            if STATE_NAMES[self.core.state] == state:
                return
            self.tick()
        raise ValueError(f"still {STATE_NAMES[self.core.state]} after {ms} ms")

    def keep(self, name: str, value: str) -> None:
        """Change one entry of the stored record; a fault is given by its name."""
        record = list(self.kept or ())
        number = number_of(value, FAULTS) + 1 if name == "fault" else int(value)
        record[KEPT_NAMES.index(name)] = number
        self.kept = tuple(record)

    def forget_record(self) -> None:
        """Lose the stored record."""
        self.kept = None

    # --- what a script can expect ------------------------------------------------

    def found(self, what: str) -> str:
        """Return what a step ending in ':' compares with its words."""
        if what == "reason" or what == "reasons":
            return " ".join(self.reasons())
        found: str = getattr(self, what)()
        return found

    def state(self) -> str:
        return STATE_NAMES[self.core.state]

    def fault(self) -> str:
        return FAULTS[self.core.fault - 1][0] if self.core.fault else "none"

    def reasons(self) -> "list[str]":
        bits = self.core.held_reasons
        return [HELD_REASONS[i][0] for i in range(len(HELD_REASONS)) if bits >> i & 1]

    def ended(self) -> str:
        return ENDINGS[self.core.ended][0]

    def refused(self) -> str:
        return REFUSALS[self.core.refused][0]

    def later(self) -> str:
        return FAULTS[self.core.later_fault - 1][0] if self.core.later_fault else "none"

    def warning(self) -> str:
        return WARNINGS[self.core.warning][0]

    def resting(self) -> str:
        motor = self.out & (sig.OUT_RAISE | sig.OUT_LOWER) or self.pulsing
        return "no" if motor else "yes"

    def line(self) -> str:
        return "yes" if self.pulsing else "no"

    # --- scripts -----------------------------------------------------------------

    def play(self, script: str) -> None:
        """Play a script: steps separated by ';', each a verb and its words.

        A verb followed by ':' expects: 'state: held', 'fault: none', 'reasons: pause actuated'
        for all reasons, 'reason: pause' for one among them.
        """
        for step in script.split(";"):
            words = step.split()
            if not words:
                continue
            verb = words[0]
            if verb[-1] == ":":
                found = self.found(verb[:-1])
                wanted = " ".join(words[1:])
                if found != wanted and not (verb == "reason:" and wanted in found.split()):
                    raise ValueError(f"expected {verb} {wanted}, found {found}")
            elif verb in ("amps", "rest_amps", "supply", "tick_ms"):
                setattr(self, verb, int(words[1]))
            elif verb in ("sampled", "autostore"):
                setattr(self, verb, words[1] == "yes")
            elif verb in ("run", "gap", "press", "power_up"):
                getattr(self, verb)(int(words[1]))
            elif verb == "until":
                self.until(words[1], int(words[2]))
            else:
                getattr(self, verb)(*words[1:])
