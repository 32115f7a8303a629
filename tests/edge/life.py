"""A drive with the whole edge around its core: it is commissioned, moves, fails and goes on.

Runs under CPython and MicroPython alike.
"""

from leafwinch.controller import BOOT_WATCHDOG, Controller
from leafwinch.edge.console import Console
from leafwinch.edge.keeper import Keeper
from leafwinch.edge.record_store import RecordStore
from leafwinch.edge.settings_store import SettingsStore, installed_words
from leafwinch.edge.settings_words import settings_words
from leafwinch.edge.slots import seal
from leafwinch.edge.trace import Trace
from leafwinch.numbers import TYPE_CHECKING
from leafwinch.settings_schema import settings_from
from tests.edge.flash import Port
from tests.firmware.drive import Drive, cold_record

if TYPE_CHECKING:
    from typing import Any

SITE = 0x12345678
NETLIST = 0x0ABCDEF0
GREETING = "leafwinch 0.1.0 desk"
VERSION = 100
# A quick deck, so that a life has many travels.
QUICK = {
    "travel_raise_ms": 2000,
    "travel_lower_ms": 2000,
    "budget_raise_ms": 2600,
    "budget_lower_ms": 2600,
    "early_raise_ms": 1000,
    "early_lower_ms": 1000,
    "leave_bottom_ms": 800,
    "leave_top_ms": 800,
}


def commission(files: "Any", values: "dict[str, int]", recorded: bool = True) -> None:
    """Write what a board holds after its settings were loaded, and a cold record."""
    words = settings_words(settings_from(values), SITE, NETLIST)
    seal(words, ord("S"), 1, 1)
    files.write("settings.a", words)
    files.write("settings.b", words)
    words = installed_words(SITE, NETLIST)
    seal(words, ord("I"), 1, 1)
    files.write("installed.a", words)
    files.write("installed.b", words)
    if recorded:
        store = RecordStore(files)
        store.slots.store(store.words(cold_record(values)))


class Life(Drive):
    """A drive whose record, settings and journal live in flash. requests: of the console."""

    def __init__(self, files: "Any", values: "dict[str, int] | None" = None) -> None:
        self.files = files
        self.port = Port()
        self.passes = 0
        self.requests: list[int] = []
        self.restart = True  # whether a request is carried out
        Drive.__init__(self, values if values is not None else QUICK)

    def power_up(self, boot: int) -> None:
        """Start the board from its flash; boot: BOOT_WATCHDOG or 0."""
        self.autostore = False
        self.store = SettingsStore(self.files)
        flags = self.store.load() | (boot & BOOT_WATCHDOG)
        self.keeper = Keeper(self.files, self.store)
        self.kept = self.keeper.open()
        flags |= self.keeper.boot_flags
        self.flags = flags
        self.make = self._make
        Drive.power_up(self, flags)
        self.keeper.booted(3 if boot else 1, flags, VERSION)
        core: Any = self.core
        self.trace = Trace(core, self.keeper, self.port, GREETING)
        self.console = Console(core, self.keeper, self.store, self.port, self.files, self.trace)

    def _make(
        self, values: "dict[str, int]", kept: "tuple[int, ...] | None", boot: int
    ) -> Controller:
        return Controller(self.store.settings, kept, boot)

    def tick(self) -> int:
        """Run one pass as the loop does."""
        contacts = self.contacts()
        out = Drive.tick(self)
        self.edge_pass(contacts, out)
        return out

    def edge_pass(self, contacts: int, out: int) -> None:
        core: Any = self.core
        keeper = self.keeper
        keeper.watch(core)
        self.trace.step(contacts, out, self.supply)
        self.passes += 1
        if self.console.busy or not self.passes & 3:
            request = self.console.step()
            if request:
                self.requests.append(request)
                if self.restart:
                    self.power_up(0)
                return
        if keeper.due() and core.at_rest():
            self.write_all(core)

    def write_all(self, core: "Any") -> None:
        """Write everything that is due, then take the time anew."""
        stored = 0
        while self.keeper.due():
            stored |= self.keeper.write(core)
        if stored:
            core.stored(self.now)
        else:
            core.resync(self.now)

    def command(self, text: str, ms: int = 3000) -> "list[str]":
        """Type a command, wait, and return the answer's lines without check sums."""
        self.port.sent.clear()
        self.port.type(text.encode() + b"\r\n")
        self.run(ms)
        return [line[:58].decode().rstrip() for line in self.port.sent if line[0] != 0x47]

    def full(self, way: str, ms: int = 1500) -> None:
        """Travel from end to end."""
        self.ask(way)
        self.run(400)
        self.at("middle")
        self.run(ms)
        self.at("top" if way == "raise" else "bottom")
        self.run(200)
        self.settle()


def live(life: Life) -> None:
    """Play some weeks: travels, inching, faults, a watchdog boot, settings and learning."""
    life.play("at bottom; settle")
    life.full("raise")
    life.full("lower")
    life.play("ask raise; run 700; at middle; ask nothing; run 1200; ask lower; run 600")
    life.play("at bottom; run 200; settle")
    life.play("ask raise; run 700; open stop_ok; run 800; fault: stop_actuated; ask nothing")
    life.play("close stop_ok; run 500; press 2500; run 800; state: idle")
    life.play("close service_link; run 800; state: idle")
    life.command("change trip_ms 70")
    life.command("change jam_ms 300")
    life.command("keep")
    life.play("open service_link; at bottom; settle; run 500; state: idle")
    life.full("raise")
    life.play("ask lower; run 700; amps 15000; run 500; fault: current_trip; amps 5000")
    life.play("ask nothing; run 800; press 2500; at top; run 800; power_up 1; run 21500")
    life.play("fault: watchdog_boot; press 2500; run 1200; state: idle; at middle; run 300")
    # A serious fault, which has to survive power loss.
    life.play("open top_final; run 1500; fault: top_final_actuated; power_up 0; run 800")
    life.play("fault: top_final_actuated; close top_final; run 400; press 2500; at bottom; settle")
