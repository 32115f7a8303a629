"""What a board finds in its flash at power-up, in a form that two states can be compared by."""

import binascii
from array import array
from functools import lru_cache
from typing import Any

from leafwinch.edge import journal as journal_module
from leafwinch.edge.counters import new_counters
from leafwinch.edge.fault_trace import FaultTrace, samples_of
from leafwinch.edge.journal import Journal
from leafwinch.edge.record_store import RecordStore
from leafwinch.edge.settings_store import SettingsStore, envelopes
from leafwinch.settings_schema import SETTING_NAMES
from tests.edge.flash import Flash

View = Any


def quick_crc16(data: Any, start: int, end: int) -> int:
    """The same CRC by a library, which test_crc.py holds equal, for views by the thousand."""
    return binascii.crc_hqx(data[start:end], 0xFFFF)


def settings_view(flash: Flash) -> View:
    """What the settings are, and the fault where they are none."""
    store = SettingsStore(flash)
    flags = store.load()
    values = tuple(getattr(store.settings, name) for name in SETTING_NAMES)
    learned = tuple(tuple(envelope) for envelope in envelopes(store.settings))
    return (flags, store.site_hash, store.netlist_hash, values, learned)


def record_view(flash: Flash) -> View:
    """The core's record and the counters, or None."""
    store = RecordStore(flash)
    recorded = store.load()
    return None if recorded is None else (recorded, tuple(store.counters), store.uptime_s)


def journal_view(flash: Flash) -> list[Any]:
    """All events, the newest first."""
    journal = Journal(flash, new_counters())
    journal.open()
    return list(journal.newest(1000))


def fault_view(flash: Flash) -> View:
    """The last fault's trace, or None."""
    words = FaultTrace(flash).slots.load()
    return None if words is None else _fault_view(words.typecode, words.tobytes())


@lru_cache(maxsize=4)
def _fault_view(typecode: str, data: bytes) -> View:
    """Read words; views of the same ones are asked for by the thousand."""
    words = array(typecode, data)
    return (tuple(words[3:6]), tuple(samples_of(words)))


def view_of(flash: Flash, name: str) -> View:
    """The view of the store to which a file belongs."""
    kind = name.split(".")[0]
    if kind in ("settings", "installed"):
        return settings_view(flash)
    return {"record": record_view, "journal": journal_view, "fault": fault_view}[kind](flash)


def use_quick_crc(monkeypatch: Any) -> None:
    """Let the journal use the library's CRC."""
    monkeypatch.setattr(journal_module, "crc16", quick_crc16)
