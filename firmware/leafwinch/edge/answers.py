"""What the console answers to each command, as steps that make a line each.

A step yields True with a line made, and False where it needs another pass first. A line of
kind E ends the answer. Everything here allocates: the console lets no step run while anything is
commanded.
"""

from binascii import hexlify
from hashlib import sha256

from leafwinch.edge.fault_trace import (
    BOOT,
    CURRENT_BIAS,
    FAULT,
    INTERVAL_MS,
    TAKEN,
    UPTIME_S,
    samples_of,
)
from leafwinch.edge.journal import CHANGED, LEARNED, SEGMENT, SEGMENTS, TEXT_KINDS
from leafwinch.edge.journal import LOADING as LOADING_ASKED
from leafwinch.edge.keeper import JOURNAL, SETTINGS, SETTINGS_AGAIN
from leafwinch.edge.settings_store import envelopes
from leafwinch.edge.settings_words import names_check
from leafwinch.numbers import TYPE_CHECKING, const
from leafwinch.settings import BUCKETS, Settings
from leafwinch.settings_schema import SCHEMA, SETTING_NAMES, check_converter, settings_from
from leafwinch.states import STATE_NAMES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leafwinch.edge.console import Console
    from leafwinch.edge.lines import Line

JOURNAL_SHOWN = const(16)  # events, unless another number is asked for
CHUNK = const(2048)  # bytes of a file read in one pass; opening it leaves as much garbage
DIGITS_MAX = const(7)
WIDTH = const(56)  # characters of a line behind its kind
PER_LINE = const(4)  # currents of an envelope
ENVELOPE_NAMES = ("raise_low", "raise_high", "lower_low", "lower_high")

# In the order of counters.py, and of the kinds in journal.py.
COUNTER_NAMES = (
    "raises",
    "lowerings",
    "raise_s",
    "lower_s",
    "starts",
    "line_operations",
    "raise_operations",
    "lower_operations",
    "faults",
    "boots",
    "watchdog_boots",
    "late_passes",
    "dropped_lines",
    "uptime_h",
    "lost_events",
    "flash_trouble",
)
EVENT_NAMES = (
    "boot", "fault", "later", "warning", "travel", "reset", "changed", "learned", "loading",
)  # fmt: skip
TEXT_NAMES = ("fellback", "error", "place", "flash")

# console.RESTART and console.LOADING; the console imports this module, not the other way round.
RESTART = const(1)
LOADING = const(2)


def event_name(kind: int) -> str:
    """Return the name of a kind, or 'unknown'."""
    if 1 <= kind <= len(EVENT_NAMES):
        return EVENT_NAMES[kind - 1]
    if 0 <= kind - TEXT_KINDS < len(TEXT_NAMES):
        return TEXT_NAMES[kind - TEXT_KINDS]
    return "unknown"


def number(text: str) -> int:
    """Return a whole number of up to 7 digits, or -1."""
    return int(text) if text.isdigit() and len(text) <= DIGITS_MAX else -1


class Answers:
    """One method for each command."""

    def __init__(self, console: "Console") -> None:
        self.console = console
        self.controller = console.controller
        self.keeper = console.keeper
        self.line = console.line
        self.store = console.store
        self.files = console.files
        self.trace = console.trace
        self.staged = console.staged

    def to(self, words: "list[str]") -> "Iterator[bool] | None":
        """Return the answer to a command's words, or None where it is unknown."""
        command = words[0]
        if len(words) == 1:
            if command == "help":
                return self._help()
            if command == "version":
                return self._version()
            if command == "settings":
                return self._settings()
            if command == "staged":
                return self._staged()
            if command == "discard":
                return self._discard()
            if command == "keep":
                return self._keep()
            if command == "journal":
                return self._journal(JOURNAL_SHOWN)
            if command == "fault":
                return self._fault()
            if command == "counters":
                return self._counters()
            if command == "inputs":
                return self._inputs()
            if command == "files":
                return self._files()
            if command == "load":
                return self._load()
            if command == "learn":
                return self._learned()
        elif len(words) == 2:
            if command == "setting":
                return self._setting(words[1])
            if command == "journal" and number(words[1]) > 0:
                return self._journal(number(words[1]))
            if command == "learn":
                if words[1] == "arm":
                    return self._arm()
                if words[1] == "accept":
                    return self._accept()
                if words[1] == "drop":
                    return self._drop()
        elif len(words) == 3 and command == "change":
            return self._change(words[1], number(words[2]))
        return None

    def _a(self, name: object) -> "Line":
        return self.line.start("A").word(name)

    def _e(self, text: str) -> bool:
        self.line.start("E").word(text)
        return True

    # --- reading -----------------------------------------------------------------------

    def _help(self) -> "Iterator[bool]":
        self._a("version inputs counters settings fault files help")
        yield True
        self._a("setting NAME, journal [NUMBER]")
        yield True
        self._a("change NAME VALUE, staged, discard, keep")
        yield True
        self._a("learn, learn arm, learn accept, learn drop, load")
        yield True

    def _version(self) -> "Iterator[bool]":
        store = self.store
        line = self._a("program")
        for code in self.trace.greeting[2:WIDTH]:
            line.buffer[line.at] = code
            line.at += 1
        yield True
        self._a("site").word("{:08X}".format(store.site_hash))
        yield True
        self._a("netlist").word("{:08X}".format(store.netlist_hash))
        yield True
        self._a("names").word("{:04X}".format(names_check()))
        yield True
        self._a("boot").word(self.keeper.journal.boot)
        yield True
        self._a("uptime_s").word(self.keeper.journal.uptime_s)
        yield True

    def _one(self, index: int, value: int) -> bool:
        name, unit, lowest, highest = SCHEMA[index][:4]
        self._a("setting").word(name).word(value).word(lowest).word(highest).word(unit)
        return True

    def _settings(self) -> "Iterator[bool]":
        settings = self.store.settings
        for index in range(len(SCHEMA)):
            yield self._one(index, getattr(settings, SETTING_NAMES[index]))
        for index, envelope in enumerate(envelopes(settings)):
            for first in range(0, BUCKETS, PER_LINE):
                yield self._currents("envelope", index, first, envelope[first : first + PER_LINE])

    def _currents(self, what: str, index: int, first: int, values: "list[int]") -> bool:
        line = self._a(what).word(ENVELOPE_NAMES[index]).word(first)
        for value in values:
            line.word(value)
        return True

    def _setting(self, name: str) -> "Iterator[bool]":
        if name in SETTING_NAMES:
            yield self._one(SETTING_NAMES.index(name), getattr(self.store.settings, name))
        else:
            yield self._e("no setting has this name")

    def _staged(self) -> "Iterator[bool]":
        for name in SETTING_NAMES:
            if name in self.staged:
                yield self._one(SETTING_NAMES.index(name), self.staged[name])

    def _journal(self, most: int) -> "Iterator[bool]":
        most = min(most, SEGMENT * SEGMENTS)
        for sequence, kind, a, boot, uptime_s, b, c in self.keeper.journal.newest(most):
            line = self._a(sequence).word(boot).word(uptime_s).word(event_name(kind))
            line.word(a).word(b).word(c)
            yield True

    def _fault(self) -> "Iterator[bool]":
        words = self.keeper.fault_trace.slots.load()
        if words is None:
            yield self._e("no trace of a fault is stored")
            return
        self._a("fault").word(words[FAULT]).word(words[BOOT]).word(words[UPTIME_S])
        self.line.word(words[TAKEN]).word(INTERVAL_MS)
        yield True
        for index, (signals, values) in enumerate(samples_of(words)):
            line = self._a(index).word("{:05X}".format(signals & 0x1FFFF))
            line.word("{:02X}".format(signals >> 17 & 0x3F)).word(signals >> 23)
            line.word((values & 2 * CURRENT_BIAS - 1) - CURRENT_BIAS).word(values >> 20 << 7)
            yield True

    def _counters(self) -> "Iterator[bool]":
        for index in range(len(COUNTER_NAMES)):
            self._a(COUNTER_NAMES[index]).word(self.keeper.counters[index])
            yield True

    def _inputs(self) -> "Iterator[bool]":
        core = self.controller
        self._a("contacts").word("{:05X}".format(core.inputs.seen))
        yield True
        self._a("state").word(STATE_NAMES[core.state])
        yield True
        self._a("fault").word(core.fault).word(core.later_fault)
        yield True
        self._a("held").word("{:04X}".format(core.held_reasons))
        yield True
        self._a("refused").word(core.refused)
        yield True
        self._a("ended").word(core.ended)
        yield True
        self._a("warning").word(core.warning)
        yield True
        self._a("current_ma").word(core.current.value_ma)
        yield True
        self._a("supplied").word(1 if core.inputs.supplied() else 0)
        yield True

    def _files(self) -> "Iterator[bool]":
        buffer = bytearray(CHUNK)
        for name in self.files.program():
            check = sha256()
            size = 0
            while True:
                count = self.files.part(name, size, buffer)
                if count <= 0:
                    break
                check.update(memoryview(buffer)[:count])  # pyright: ignore[reportUnknownMemberType]
                size += count
                yield False
            self._a("file").word(name).word(size)
            yield True
            raw: bytes = check.digest()  # pyright: ignore[reportUnknownMemberType]
            digest = hexlify(raw).decode()
            self._a("sha256").word(0).word(digest[:32])
            yield True
            self._a("sha256").word(1).word(digest[32:])
            yield True

    def _learned(self) -> "Iterator[bool]":
        learning = self.keeper.learning
        self._a("armed").word(learning.armed)
        yield True
        self._a("travels").word(learning.raised).word(learning.lowered)
        yield True
        for index in range(len(ENVELOPE_NAMES)):
            for first in range(0, BUCKETS, PER_LINE):
                at = BUCKETS * index + first
                values = list(learning.words[at : at + PER_LINE])
                if learning.raised if index < 2 else learning.lowered:
                    yield self._currents("recorded", index, first, values)

    # --- changing: only at rest, neutral, with the link --------------------------------

    def _change(self, name: str, value: int) -> "Iterator[bool]":
        why = self.console.forbidden()
        if why:
            yield self._e("refused: " + why)
        elif name not in SETTING_NAMES:
            yield self._e("no setting has this name")
        else:
            index = SETTING_NAMES.index(name)
            lowest, highest = SCHEMA[index][2:4]
            if lowest <= value <= highest:
                self.staged[name] = value
                yield self._one(index, value)
            else:
                yield self._e("allowed are {} to {}".format(lowest, highest))

    def _discard(self) -> "Iterator[bool]":
        self.staged.clear()
        self._a("nothing is staged")
        yield True

    def _keep(self) -> "Iterator[bool]":
        why = self.console.forbidden()
        if why or not self.staged:
            yield self._e("refused: " + why if why else "nothing is staged")
            return
        old = self.store.settings
        values: "dict[str, int]" = {}
        for name in SETTING_NAMES:
            values[name] = self.staged[name] if name in self.staged else getattr(old, name)
        try:
            settings = settings_from(values)
            check_converter(settings)
        except ValueError as error:
            sentence = str(error)
            for first in range(0, len(sentence), WIDTH):
                self._a(sentence[first : first + WIDTH])
                yield True
            yield self._e("refused: these settings contradict each other")
            return
        for new, kept in zip(envelopes(settings), envelopes(old)):
            new[:] = kept
        changed = len(self.staged)
        self.staged.clear()
        for step in self._written(settings, CHANGED, changed, 0):
            yield step

    def _written(self, settings: Settings, kind: int, a: int, b: int) -> "Iterator[bool]":
        """Have settings written, then the board restarted through its ordinary power-up."""
        keeper = self.keeper
        console = self.console
        if self.store.bad:
            yield self._e("refused: settings bad, load those of this site")
            return
        keeper.keep_settings(settings, kind, a, b)
        console.request = RESTART
        while keeper.want & (SETTINGS | SETTINGS_AGAIN):
            yield False
        if keeper.settings_written:
            self._a("written, the board restarts")
            yield True
        else:
            console.request = 0
            yield self._e("not written: the flash refused it")

    def _arm(self) -> "Iterator[bool]":
        why = self.console.forbidden()
        if why:
            yield self._e("refused: " + why)
            return
        self.keeper.learning.arm()
        self._a("armed")
        yield True

    def _drop(self) -> "Iterator[bool]":
        why = self.console.forbidden()
        if why:
            yield self._e("refused: " + why)
            return
        self.keeper.learning.drop()
        self._a("dropped")
        yield True

    def _accept(self) -> "Iterator[bool]":
        why = self.console.forbidden()
        learning = self.keeper.learning
        settings = learning.settings(self.store.settings)
        if why:
            yield self._e("refused: " + why)
        elif settings is None:
            yield self._e("refused: 3 full travels each way are needed")
        else:
            raised = min(learning.raised, 255)
            lowered = learning.lowered
            learning.drop()
            for step in self._written(settings, LEARNED, raised, lowered):
                yield step

    def _load(self) -> "Iterator[bool]":
        why = self.console.forbidden()
        if why:
            yield self._e("refused: " + why)
            return
        self.keeper.note(LOADING_ASKED)
        self.keeper.want |= JOURNAL
        self.console.request = LOADING
        self._a("loading mode, the board restarts")
        yield True
