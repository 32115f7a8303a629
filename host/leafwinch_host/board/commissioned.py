"""The files that make a board belong to a site and its wiring."""

import hashlib
from array import array

from leafwinch.edge import record_store, settings_store
from leafwinch.edge.counters import new_counters
from leafwinch.edge.settings_words import settings_words
from leafwinch.edge.slots import seal
from leafwinch.settings_schema import settings_from
from leafwinch_sim.controllers import cold_record, python_controller
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.netlist import Netlist

HASH_BITS = (1 << 30) - 1
FIRST = 1  # sequence number of the first copies


def site_hash(site: Site) -> int:
    """Return the number by which a board knows its site: 30 bits of the SHA-256 of its data."""
    return _first_bits(hashlib.sha256(site.model_dump_json().encode("utf-8")).digest())


def netlist_hash(net: Netlist) -> int:
    """Return the number by which a board knows its wiring: 30 bits of its netlist's SHA-256."""
    return _first_bits(bytes.fromhex(net.content_hash))


def commissioned_files(site: Site, net: Netlist) -> dict[str, bytes]:
    """Return the files, by name, that make a board belong to a site and its wiring.

    Both copies of the settings, with an envelope still to be learned, and of what the board
    belongs to.
    """
    numbers = (site_hash(site), netlist_hash(net))
    settings = settings_words(settings_from(site.settings), *numbers)
    installed = settings_store.installed_words(*numbers)
    files: dict[str, bytes] = {}
    for name, kind, words in (("settings", "S", settings), ("installed", "I", installed)):
        data = _sealed(words, kind, settings_store.FORMAT)
        files |= {f"{name}.a": data, f"{name}.b": data}
    return files


def cold_record_files(site: Site) -> dict[str, bytes]:
    """Return the record of a board whose motor is cold; without one it counts as hot."""
    record = cold_record(python_controller(site))
    words = record_store.record_words(0, new_counters(), record)
    return {"record.a": _sealed(words, "R", record_store.FORMAT)}


def _sealed(words: "array[int]", kind: str, version: int) -> bytes:
    seal(words, ord(kind), version, FIRST)
    return words.tobytes()


def _first_bits(digest: bytes) -> int:
    return int.from_bytes(digest[:4], "little") & HASH_BITS
