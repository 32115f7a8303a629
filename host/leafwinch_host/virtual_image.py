"""Makes the flash of a virtual board: the program, and the settings and hashes of a site."""

from __future__ import annotations

import hashlib
import tempfile
from array import array
from functools import cache
from pathlib import Path

from leafwinch.edge.record_store import RecordStore
from leafwinch.edge.settings_store import installed_words
from leafwinch.edge.settings_words import settings_words
from leafwinch.edge.slots import seal
from leafwinch.settings_schema import settings_from
from leafwinch_host.firmware_build import Program, build_program
from leafwinch_sim.controllers import cold_record, python_controller
from leafwinch_sim.site_schema import Site
from leafwinch_sim.virtual_process import make_flash
from leafwinch_wiring.netlist import Netlist

HASH_BITS = (1 << 30) - 1
FIRST = 1  # sequence number of the first copies


def site_hash(site: Site) -> int:
    """Return the number by which a board knows its site: 30 bits of the SHA-256 of its data."""
    return _first_bits(hashlib.sha256(site.model_dump_json().encode("utf-8")).digest())


def netlist_hash(net: Netlist) -> int:
    """Return the number by which a board knows its wiring: 30 bits of its netlist's SHA-256."""
    return _first_bits(bytes.fromhex(net.content_hash))


def _first_bits(digest: bytes) -> int:
    return int.from_bytes(digest[:4], "little") & HASH_BITS


def commissioned_files(site: Site, net: Netlist) -> dict[str, bytes]:
    """Return the files, by name, that make a board belong to a site and its wiring.

    Both copies of the settings, with an envelope still to be learned, and of what the board
    belongs to.
    """
    numbers = (site_hash(site), netlist_hash(net))
    settings = settings_words(settings_from(site.settings), *numbers)
    seal(settings, ord("S"), 1, FIRST)
    installed = installed_words(*numbers)
    seal(installed, ord("I"), 1, FIRST)
    return {
        "settings.a": settings.tobytes(),
        "settings.b": settings.tobytes(),
        "installed.a": installed.tobytes(),
        "installed.b": installed.tobytes(),
    }


class _Collected:
    """The board's files while they are written for the first time."""

    def __init__(self) -> None:
        self.files: dict[str, bytes] = {}

    def read(self, name: str) -> bytes | None:
        return self.files.get(name)

    def write(self, name: str, data: bytes | bytearray | array[int]) -> None:
        self.files[name] = bytes(data)

    def append(self, name: str, data: bytes | bytearray | array[int]) -> None:
        self.files[name] = self.files.get(name, b"") + bytes(data)

    def remove(self, name: str) -> None:
        self.files.pop(name, None)

    def size(self, name: str) -> int:
        return len(self.files[name]) if name in self.files else -1

    def part(self, name: str, offset: int, buffer: bytearray) -> int:
        data = self.files.get(name, b"")[offset : offset + len(buffer)]
        buffer[: len(data)] = data
        return len(data)

    def program(self) -> list[str]:
        return []


def cold_record_files(site: Site) -> dict[str, bytes]:
    """Return the record of a board whose motor is cold; without one it counts as hot."""
    files = _Collected()
    store = RecordStore(files)
    store.slots.store(store.words(cold_record(python_controller(site))))
    return files.files


@cache
def program() -> Program:
    """Return what the builder makes of the firmware for this machine's MicroPython."""
    return build_program("desktop")


def make_image(flash: Path, site: Site, net: Netlist, blank: bool = False) -> None:
    """Make the file of a virtual board's flash, ready to run, or blank.

    Raises:
        BadInput: where there is no desktop MicroPython.
        OSError: where the file can't be written.
    """
    if blank:
        make_flash(flash, None)
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        program().write(folder)
        for file, data in {**commissioned_files(site, net), **cold_record_files(site)}.items():
            (folder / file).write_bytes(data)
        make_flash(flash, folder)
