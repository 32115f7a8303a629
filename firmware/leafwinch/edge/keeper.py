"""Notes what happens in each pass, and writes it at rest: record, journal, fault, settings.

watch() runs in every pass and allocates nothing. write() writes one file; the caller takes the
time anew afterwards, and lets nothing be written while the core is not at rest.
"""

from leafwinch.contactors import DIRECTION, LINE, OFF
from leafwinch.controller import BOOT_SELF_TEST, BOOT_WATCHDOG
from leafwinch.edge import journal as events
from leafwinch.edge.counters import (
    BOOTS,
    FAULTS,
    FLASH_TROUBLE,
    LATE_PASSES,
    LINE_OPERATIONS,
    LOWER_OPERATIONS,
    LOWER_S,
    LOWERINGS,
    RAISE_OPERATIONS,
    RAISE_S,
    RAISES,
    STARTS,
    UPTIME_H,
    WATCHDOG_BOOTS,
    count,
)
from leafwinch.edge.fault_trace import FaultTrace
from leafwinch.edge.journal import UINT16_MAX, Journal
from leafwinch.edge.learning import Learning
from leafwinch.edge.record_store import RecordStore
from leafwinch.edge.slots import BAD, ONE_BAD
from leafwinch.faults import NO_FAULT
from leafwinch.kept import KEPT_NAMES
from leafwinch.numbers import LOWER, NO_DIRECTION, RAISE, TICKS_MASK, TYPE_CHECKING, const
from leafwinch.states import FAULT, HELD, LOWERING, RAISING

if TYPE_CHECKING:
    from array import array

    from leafwinch.controller import Controller
    from leafwinch.edge.settings_store import SettingsStore
    from leafwinch.edge.slots import Files, Slots
    from leafwinch.settings import Settings

# What waits to be written, the most urgent first.
RECORD = const(1)
RECORD_AGAIN = const(2)  # a serious fault stands in both copies
JOURNAL = const(4)
TRACE = const(8)
SETTINGS = const(16)
SETTINGS_AGAIN = const(32)
MEND = const(64)  # one copy of the settings is damaged or older

# Each writing lets the core prove its inputs anew, so events of no urgency wait for company.
GATHER_S = const(20)
QUEUE_URGENT = const(12)
RETRY_S = const(2)  # after a write failed: the record
RETRY_OTHER_S = const(60)  # the rest
UPTIME_RECORD_S = const(6 * 3600)  # without a travel the uptime is stored so often
SECOND_MS = const(1000)
HOUR_S = const(3600)
GAP_MS_MAX = const(3600000)  # more than an hour between two passes is not believed
KEPT_FAULT = KEPT_NAMES.index("fault")


class Keeper:
    """Owns journal, counters, record, fault trace and learning of the board."""

    def __init__(self, files: "Files", store: "SettingsStore") -> None:
        self.store = store
        self.records = RecordStore(files)
        self.counters = self.records.counters
        self.journal = Journal(files, self.counters)
        self.fault_trace = FaultTrace(files)
        self.learning = Learning()
        self.boot_flags = 0
        self.want = 0
        self.hold_s = 0  # no write before so many seconds have passed
        self.troubled = 0  # 1: the last write failed, and that is noted
        self.words: "array[int] | None" = None  # new settings
        self.settings_written = 0
        self.record_words: "array[int] | None" = None
        # What the last pass looked like.
        self.last_ms = -1
        self.ms = 0
        self.age_s = 0  # of the oldest event that waits
        self.unrecorded_s = 0
        self.state = HELD
        self.fault = NO_FAULT
        self.later_fault = NO_FAULT
        self.warnings = 0
        self.warned = 0  # bits of the warnings noted since the last start or reset
        self.phase = OFF
        self.line_ms = 0  # when the line contactor was commanded
        self.energised_ms = 0  # of the last travel
        self.raise_ms = 0  # energised, not counted as a second yet
        self.lower_ms = 0
        self.ended_way = NO_DIRECTION  # of a travel whose end is not noted yet

    # --- power-up ------------------------------------------------------------------

    def open(self) -> "tuple[int, ...] | None":
        """Read record, counters and the journal's end; return the core's record or None."""
        kept = self.records.load()
        self.fault_trace.slots.load()
        journal = self.journal
        journal.open()
        found = self.records.slots.found
        # The first record is written before the first event, so that events without one tell of
        # a record that is gone.
        lost = found == BAD or (kept is None and journal.last_boot >= 0)
        if kept is None:
            self.want |= RECORD
        boot = self.counters[BOOTS]
        if journal.last_boot > boot & UINT16_MAX or kept is None:
            boot = journal.last_boot if journal.last_boot > 0 else 0
        self.counters[BOOTS] = boot
        count(self.counters, BOOTS)
        journal.boot = self.counters[BOOTS] & UINT16_MAX
        if lost:
            # A serious fault may have stood in it: a person has to look.
            self.boot_flags = BOOT_SELF_TEST
        for slots in (self.records.slots, self.store.slots, self.store.installed):
            if slots.found == ONE_BAD or slots.found == BAD:
                self._trouble(slots.names[0][:-2], 1)
        if journal.damaged:
            self._trouble("journal", 1)
        if self.store.to_mend() is not None:
            self.want |= MEND
        return kept

    def booted(self, cause: int, boot: int, version: int) -> None:
        """Note this power-up: reset cause, boot flags of the core, version of the program."""
        if boot & BOOT_WATCHDOG:
            count(self.counters, WATCHDOG_BOOTS)
        self.journal.note(events.BOOT, cause, version, boot)
        self.want |= JOURNAL

    def fell_back(self, text: str) -> None:
        """Note that the previous program runs again, and why."""
        self.journal.note_text(events.FELL_BACK, text)
        self.want |= JOURNAL

    def _trouble(self, name: str, what: int) -> None:
        count(self.counters, FLASH_TROUBLE)
        self.journal.note_text(events.FLASH, name, what)
        self.want |= JOURNAL

    # --- every pass ----------------------------------------------------------------

    def watch(self, controller: "Controller") -> None:
        """Note what changed since the last pass."""
        now = controller.last_ms
        if self.last_ms >= 0:
            gap_ms = (now - self.last_ms) & TICKS_MASK
            self.ms += gap_ms if gap_ms < GAP_MS_MAX else GAP_MS_MAX
            if self.ms >= SECOND_MS:
                self._seconds()
        else:
            self.state = controller.state
            self.fault = controller.fault
        self.last_ms = now
        phase = controller.contactors.phase
        if phase != self.phase:
            self._sequence(phase, controller.contactors.way, now)
        state = controller.state
        if state != self.state:
            self._entered(controller, state)
        if self.ended_way and not controller.cause.is_open:
            self._ended(controller)
        if controller.warnings != self.warnings:
            self.warnings = controller.warnings
            self._warned(controller.warning)
        if controller.later_fault != self.later_fault:
            self.later_fault = controller.later_fault
            if self.later_fault:
                self.note(events.LATER_FAULT, self.later_fault)
        if controller.record_due:
            self.want |= RECORD
        if phase >= LINE and self.learning.armed:
            self.learning.look(controller)

    def _seconds(self) -> None:
        seconds = self.ms // SECOND_MS
        self.ms -= seconds * SECOND_MS
        self.journal.uptime_s += seconds
        self.unrecorded_s += seconds
        self.hold_s = self.hold_s - seconds if self.hold_s > seconds else 0
        self.records.uptime_s += seconds
        while self.records.uptime_s >= HOUR_S:
            self.records.uptime_s -= HOUR_S
            count(self.counters, UPTIME_H)
        if self.journal.waiting:
            self.age_s += seconds
            if self.age_s >= GATHER_S or self.journal.waiting >= QUEUE_URGENT:
                self.want |= JOURNAL
        if self.unrecorded_s >= UPTIME_RECORD_S:
            self.want |= RECORD

    def _sequence(self, phase: int, way: int, now: int) -> None:
        """Count what the contactors do; a phase is never skipped on the way up."""
        counters = self.counters
        if phase == DIRECTION:
            count(counters, RAISE_OPERATIONS if way == RAISE else LOWER_OPERATIONS)
        elif phase == LINE:
            count(counters, LINE_OPERATIONS)
            count(counters, RAISES if way == RAISE else LOWERINGS)
            self.line_ms = now
        elif phase == OFF:
            if self.phase >= LINE:
                self._energised(way, (now - self.line_ms) & TICKS_MASK)
        self.phase = phase

    def _energised(self, way: int, ms: int) -> None:
        if ms > GAP_MS_MAX:
            ms = GAP_MS_MAX
        self.energised_ms = ms
        if way == RAISE:
            self.raise_ms += ms
            count(self.counters, RAISE_S, self.raise_ms // SECOND_MS)
            self.raise_ms %= SECOND_MS
        else:
            self.lower_ms += ms
            count(self.counters, LOWER_S, self.lower_ms // SECOND_MS)
            self.lower_ms %= SECOND_MS

    def _entered(self, controller: "Controller", state: int) -> None:
        before = self.state
        self.state = state
        if state == RAISING or state == LOWERING:
            count(self.counters, STARTS)
            self.energised_ms = 0
            self.ended_way = NO_DIRECTION
            self.warned = 0
            if self.learning.armed:
                self.learning.started(RAISE if state == RAISING else LOWER, controller.budget.full)
        elif before == RAISING or before == LOWERING:
            self.ended_way = RAISE if before == RAISING else LOWER
        if state == FAULT:
            self.fault = controller.fault
            count(self.counters, FAULTS)
            self.note(events.FAULT, self.fault, self.ended_way)
            self.want |= JOURNAL
            if self.fault_trace.freeze(self.fault, self.journal.boot, self.journal.uptime_s):
                self.want |= TRACE
        elif before == FAULT:
            self.note(events.RESET, self.fault)
            self.warned = 0
            self.fault = NO_FAULT
            self.want |= JOURNAL

    def _warned(self, warning: int) -> None:
        """Note each warning once between two starts, or writing it would bring it up again."""
        bit = 1 << warning
        if not self.warned & bit:
            self.warned |= bit
            self.note(events.WARNING, warning)

    def _ended(self, controller: "Controller") -> None:
        """Note the end of a travel, once its cause window is over and its ending has a name."""
        self.note(events.TRAVEL, controller.ended, self.ended_way, self.energised_ms)
        self.ended_way = NO_DIRECTION
        self.want |= JOURNAL
        self.learning.ended(controller.ended if controller.state != FAULT else 0)

    def note(self, kind: int, a: int = 0, b: int = 0, c: int = 0) -> None:
        """Note an event."""
        if not self.journal.waiting:
            self.age_s = 0
        self.journal.note(kind, a, b, c)

    def late_pass(self) -> None:
        """Count a pass that came too late."""
        count(self.counters, LATE_PASSES)

    # --- at rest -------------------------------------------------------------------

    def keep_settings(self, settings: "Settings", kind: int, a: int, b: int) -> None:
        """Have new settings written to both copies, and an event of that kind."""
        self.words = self.store.words(settings)
        self.settings_written = 0
        self.note(kind, a, b)
        self.want |= SETTINGS | JOURNAL

    def due(self) -> bool:
        """Tell whether something waits to be written."""
        return self.want != 0 and self.hold_s == 0

    def write(self, controller: "Controller") -> int:
        """Write one file; return 1 where that was the core's record. At rest only."""
        want = self.want
        what = want & -want
        try:
            if what == RECORD:
                self._write_record(controller)
                return 1
            self._write_other(what)
        except OSError:
            count(self.counters, FLASH_TROUBLE)
            if not self.troubled:
                self.troubled = 1
                self.journal.note_text(events.FLASH, "write", 2)
            if what == RECORD:
                self.hold_s = RETRY_S  # held is not left before it is stored
            else:
                self.want &= ~what
                self.age_s = -RETRY_OTHER_S
                if what == TRACE:
                    self.fault_trace.thaw()
            return 0
        self.troubled = 0
        return 0

    def _write_record(self, controller: "Controller") -> None:
        record = controller.record()
        words = self.records.words(record)
        self.records.slots.store(words)
        self.unrecorded_s = 0
        self.want &= ~RECORD
        if record[KEPT_FAULT]:
            self.record_words = words
            self.want |= RECORD_AGAIN

    def _write_other(self, what: int) -> None:
        words = self.words
        if what == JOURNAL:
            self.journal.write()
            if not self.journal.waiting:
                self.want &= ~JOURNAL
            return
        if what == RECORD_AGAIN and self.record_words is not None:
            self.records.slots.repeat(self.record_words)
            self.record_words = None
        elif what == TRACE:
            self.fault_trace.slots.store(self.fault_trace.words)
            self.fault_trace.thaw()
        elif what == SETTINGS and words is not None:
            self.store.slots.store(words)
            self.want |= SETTINGS_AGAIN
        elif what == SETTINGS_AGAIN and words is not None:
            self.store.slots.repeat(words)
            self.words = None
            self.settings_written = 1
        elif what == MEND:
            self._mend()
            if self.store.to_mend() is not None:
                return
        self.want &= ~what

    def _mend(self) -> None:
        slots: "Slots | None" = self.store.to_mend()
        if slots is not None:
            words = slots.load()
            if words is not None:
                slots.repeat(words)
            slots.mended()

    def program_error(self, name: str, text: str) -> None:
        """Write the journal after an exception, with all outputs off; never raises OSError.

        name: class of the exception. text: what the interpreter printed of it, or "".
        """
        line, place = place_of(text)
        journal = self.journal
        try:
            if not journal.opened:
                journal.open()
        except OSError:
            count(self.counters, FLASH_TROUBLE)
        journal.note_text(events.PROGRAM_ERROR, name, line)
        if place:
            journal.note_text(events.PROGRAM_PLACE, place, line)
        try:
            while journal.waiting:
                journal.write()
        except OSError:
            count(self.counters, FLASH_TROUBLE)


def place_of(text: str) -> "tuple[int, str]":
    """Return line number and module of the innermost frame in a printed exception, or (0, "")."""
    at = text.rfind('File "')
    if at < 0:
        return 0, ""
    end = text.find('"', at + 6)
    place = text[at + 6 : end].split("/")[-1].split(".")[0]
    at = text.find("line ", end)
    if end < 0 or at < 0:
        return 0, ""
    line = 0
    for letter in text[at + 5 :]:
        if not "0" <= letter <= "9" or line > UINT16_MAX:
            break
        line = 10 * line + ord(letter) - 48
    return line, place
