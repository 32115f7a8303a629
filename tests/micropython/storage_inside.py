"""Runs the edge's storage, trace and console inside MicroPython.

Called as: micropython storage_inside.py <project folder> <firmware folder> <job> <number>
Jobs: life (what a life leaves and says), locked (passes with the heap locked), cuts (a real
littlefs whose block device fails at every operation), wear (erases of a travel), console (heap
over many lines), heap (what the edge takes). Prints tab-separated lines, which the test judges.
"""

import gc
import sys
from array import array

sys.path.insert(0, sys.argv[1])
sys.path.insert(0, sys.argv[2])

import micropython

from leafwinch.numbers import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import Any

heap: "Any" = gc
NUMBER = int(sys.argv[4])
BLOCK = 4096
STEPS = 12


def life() -> None:
    """Live, and print every file's CRC and every line that is not a trace's."""
    from binascii import crc32

    from tests.edge.flash import Flash
    from tests.edge.life import QUICK, Life, commission, live

    flash = Flash()
    commission(flash, QUICK)
    lived = Life(flash)
    live(lived)
    lived.command("settings", 5000)
    lived.command("journal 100", 5000)
    lived.command("fault", 5000)
    for name in sorted(flash.contents):
        # Not the CRC of a whole file, which is one number for all that end with their own.
        print(name, crc32(flash.contents[name][:-5]), sep="\t")
    total = 0
    for line in lived.port.traced:
        total = crc32(line, total)
    for line in lived.port.sent:
        total = crc32(line, total)
    print("lines", total, sep="\t")


def locked() -> None:
    """Run passes in every state with the heap locked; only at rest may anything be written."""
    from tests.edge.flash import Flash
    from tests.edge.life import QUICK, Life, commission

    class Postponing(Life):
        """A life that writes nothing while postponed is True."""

        postponed = False

        def write_all(self, core: "Any") -> None:
            if not self.postponed:
                Life.write_all(self, core)

    flash = Flash()
    commission(flash, QUICK)
    drive = Postponing(flash)
    drive.port.muted = True
    drive.play("at bottom; settle; close service_link; run 22000; state: idle")
    drive.command("learn arm")
    core: Any = drive.core
    for script in (
        "run 1000; state: idle; obey",
        "run 1000; state: idle",
        "ask raise; run 150; state: raising",
        "run 150; state: raising",
        "at middle; run 200; state: raising",
        "at top; run 10",
        "ask nothing; run 1500; state: idle; ask lower; run 400; at middle; run 200",
        "open stop_ok; run 5",
        "run 900; state: fault",
        "supply 3000; run 300",
    ):
        drive.port.typed = bytearray()
        drive.play(script.replace("; obey", ""))
        state = core.state
        # A command is obeyed, and may allocate, once the travel is over.
        typed = bytearray()
        if "obey" in script:
            typed = bytearray(b"settings\n")  # the proof that the lock finds what allocates
            state = -1
        elif core.contactors.phase and "open" not in script:
            typed = bytearray(b"settings\n\xff\nload\n" * 9)
        drive.port.typed = typed
        drive.port.at = 0
        found = "ok"
        drive.postponed = True
        for index in range(60):
            # The reader stops now and then.
            drive.port.deaf = index % 7 == 3
            micropython.heap_lock()
            try:
                drive.tick()
            except MemoryError:
                found = "allocates"
            finally:
                micropython.heap_unlock()
        drive.postponed = False
        print(state, drive.port.at, found, sep="\t")


class Blocks:
    """A block device in memory whose supply may fail at any operation.

    left: programs and erases until it fails, or -1. Half of the failing program is done.
    """

    def __init__(self, blocks: int, data: "bytearray | None" = None) -> None:
        self.blocks = blocks
        self.data = data if data is not None else bytearray(b"\xff" * (blocks * BLOCK))
        self.left = -1
        self.operations = 0
        self.erases = 0
        self.failed = False

    def readblocks(self, block: int, buffer: bytearray, offset: int = 0) -> None:
        if self.failed:
            return
        at = block * BLOCK + offset
        buffer[:] = self.data[at : at + len(buffer)]

    def writeblocks(self, block: int, buffer: bytearray, offset: int = 0) -> None:
        at = block * BLOCK + offset
        size = len(buffer)
        if self.counted():
            size //= 2
        elif self.failed:
            return
        self.data[at : at + size] = memoryview(buffer)[:size]
        if self.failed:
            raise OSError(5)

    def counted(self) -> bool:
        """Count an operation; True in the one in which the supply fails."""
        if self.failed:
            return False
        self.operations += 1
        if self.left >= 0 and self.operations > self.left:
            self.failed = True
            return True
        return False

    def ioctl(self, operation: int, block: int) -> int:
        if operation == 4:
            return self.blocks
        if operation == 5:
            return BLOCK
        if operation == 6:
            if self.counted():
                raise OSError(5)
            if not self.failed:
                self.erases += 1
                self.data[block * BLOCK : (block + 1) * BLOCK] = b"\xff" * BLOCK
        return 0


class Mounted:
    """The files of a board on a mounted littlefs, as hardware.py has them."""

    def __init__(self, device: Blocks) -> None:
        import vfs  # type: ignore[import-not-found]

        self.system = vfs.VfsLfs2(device)

    def read(self, name: str) -> "bytes | None":
        try:
            with self.system.open(name, "rb") as file:
                content: bytes = file.read()
                return content
        except OSError as error:
            if error.args[0] != 2:
                raise
            return None

    def write(self, name: str, data: object) -> None:
        with self.system.open(name, "wb") as file:
            file.write(data)

    def append(self, name: str, data: object) -> None:
        with self.system.open(name, "ab") as file:
            file.write(data)

    def remove(self, name: str) -> None:
        self.system.remove(name)

    def size(self, name: str) -> int:
        try:
            size: int = self.system.stat(name)[6]
        except OSError:
            return -1
        return size

    def part(self, name: str, offset: int, buffer: bytearray) -> int:
        try:
            with self.system.open(name, "rb") as file:
                file.seek(offset)
                count: int = file.readinto(buffer)
                return count
        except OSError as error:
            if error.args[0] != 2:
                raise
            return 0

    def program(self) -> "list[str]":
        return []


def commissioned(blocks: int) -> Blocks:
    """Return a formatted device with the files of a board."""
    import vfs

    from tests.edge.life import QUICK, commission

    device = Blocks(blocks)
    vfs.VfsLfs2.mkfs(device)
    commission(Mounted(device), QUICK)
    device.operations = 0
    device.erases = 0
    return device


def work(files: "Any", done: "list[int]") -> None:
    """Write what a few travels, a change of settings and a fault write; done: steps finished."""
    from leafwinch.edge.fault_trace import FaultTrace
    from leafwinch.edge.journal import Journal
    from leafwinch.edge.keeper import Keeper
    from leafwinch.edge.settings_store import SettingsStore
    from tests.edge.life import QUICK
    from tests.firmware.drive import cold_record

    store = SettingsStore(files)
    store.load()
    keeper = Keeper(files, store)
    keeper.open()
    for step in range(STEPS):
        record = list(cold_record(QUICK))
        record[7] = 100 + step
        words = keeper.records.words(tuple(record))
        keeper.records.slots.store(words)
        done[0] = step + 1
        journal: Journal = keeper.journal
        journal.note(5, 1, step, step)
        journal.write()
        done[1] = step + 1
    store.settings.trip_ms = 70
    words = store.words(store.settings)
    store.slots.store(words)
    done[2] = 1
    store.slots.repeat(words)
    trace: FaultTrace = keeper.fault_trace
    for number in range(50):
        trace.sample(number, number)
    trace.freeze(3, 1, 1)
    trace.slots.store(trace.words)
    done[3] = 1


def judged(files: "Any", done: "list[int]") -> str:
    """Compare what a board finds with what was done; one step more may be there."""
    from leafwinch.edge.counters import new_counters
    from leafwinch.edge.fault_trace import FaultTrace, samples_of
    from leafwinch.edge.journal import Journal
    from leafwinch.edge.record_store import RecordStore
    from leafwinch.edge.settings_store import SettingsStore

    store = SettingsStore(files)
    if store.load():
        return "settings bad"
    if store.settings.trip_ms not in ((70,) if done[2] else (60, 70)):
        return "settings " + str(store.settings.trip_ms)
    kept = RecordStore(files).load()
    if kept is None:
        return "record lost"
    if kept[7] - 100 not in (done[0] - 1, done[0]) and not (kept[7] == 0 and not done[0]):
        return "record " + str(kept[7]) + " after " + str(done[0])
    journal = Journal(files, new_counters())
    journal.open()
    events = [event[5] for event in journal.newest(100)]
    if events[::-1] != list(range(len(events))):
        return "journal " + str(events)
    if len(events) not in (done[1], done[1] + 1):
        return "journal of " + str(len(events)) + " after " + str(done[1])
    words = FaultTrace(files).slots.load()
    if words is None:
        return "fault lost" if done[3] else "ok"
    if [a for a, _ in samples_of(words)] != list(range(50)):
        return "fault damaged"
    return "ok"


def cuts() -> None:
    """Fail at every NUMBERth operation of the work, mount again and judge."""
    first = commissioned(64)
    image = bytes(first.data)
    done = [0, 0, 0, 0]
    work(Mounted(first), done)
    print("operations", first.operations, str(done), judged(Mounted(first), done), sep="\t")
    wrong = 0
    tried = 0
    for left in range(0, first.operations, NUMBER):
        device = Blocks(64, bytearray(image))
        device.left = left
        done = [0, 0, 0, 0]
        failed = False
        try:
            work(Mounted(device), done)
        except OSError:
            failed = True
        if not failed:
            print("cut", left, str(done), "no failure", sep="\t")
        again = Blocks(64, device.data)
        found = judged(Mounted(again), done)
        tried += 1
        if found != "ok":
            wrong += 1
            print("cut", left, str(done), found, sep="\t")
        # The work can be done in full after it.
        done = [0, 0, 0, 0]
        work(Mounted(again), done)
        if done != [STEPS, STEPS, 1, 1]:
            print("cut", left, str(done), "does not go on", sep="\t")
        device.data = bytearray()
        heap.collect()
    print("cuts", tried, wrong, "done", sep="\t")


def wear() -> None:
    """Count the erases of NUMBER travels, each with its record and two events."""
    from leafwinch.edge.keeper import Keeper
    from leafwinch.edge.settings_store import SettingsStore
    from tests.edge.life import QUICK
    from tests.firmware.drive import cold_record

    device = commissioned(96)
    files = Mounted(device)
    store = SettingsStore(files)
    store.load()
    keeper = Keeper(files, store)
    keeper.open()
    words = keeper.records.words(cold_record(QUICK))
    for number in range(NUMBER):
        keeper.records.slots.store(words)
        keeper.journal.note(5, 2, 1, number)
        keeper.journal.note(4, 7)
        while keeper.journal.waiting:
            keeper.journal.write()
    print("erases", NUMBER, device.erases, device.operations, sep="\t")


def console() -> None:
    """Give the console NUMBER lines of anything; the heap may not grow."""
    from tests.edge.flash import Flash
    from tests.edge.life import QUICK, Life, commission

    flash = Flash()
    commission(flash, QUICK)
    drive = Life(flash)
    drive.restart = False
    drive.port.muted = True
    drive.play("at bottom; settle; close service_link; run 22000; state: idle")
    text = b"settings;journal 5;change trip_ms 70;keep now;learn;counters;discard;files;xyz;\x03;"
    words = (text + b"fault;load it;setting x").split(b";")
    before = 0
    seed = 1
    for number in range(NUMBER + 100):
        seed = (seed * 1103 + 12345) & 0xFFFFF
        line = bytearray(words[seed % len(words)])
        if seed & 0x1000:
            line[seed % len(line)] = seed >> 4 & 0xFF
        drive.port.typed = line + b"\n"
        drive.port.at = 0
        for _ in range(200):
            drive.console.step()
            if drive.port.at > len(line) and not drive.console.busy:
                break
        drive.keeper.want = 0
        drive.keeper.journal.waiting = 0
        if number % 50 == 0:
            drive.port.typed = bytearray()
            heap.collect()
            if number == 100:
                before = heap.mem_alloc()
            elif number > 100 and heap.mem_alloc() > before:
                print("grown", number, heap.mem_alloc() - before, sep="\t")
    print("console", NUMBER, drive.core.state, len(drive.requests), sep="\t")


def heap_taken() -> None:
    """Print what core, edge and objects take of the heap."""
    import leafwinch.controller
    from tests.edge.flash import Flash, Port

    heap.collect()
    core = heap.mem_alloc()
    from leafwinch.edge.console import Console
    from leafwinch.edge.keeper import Keeper
    from leafwinch.edge.settings_store import SettingsStore
    from leafwinch.edge.trace import Trace

    heap.collect()
    modules = heap.mem_alloc() - core
    flash: Any = Flash()
    port: Any = Port()
    store = SettingsStore(flash)
    controller = leafwinch.controller.Controller(store.settings)
    heap.collect()
    before = heap.mem_alloc()
    keeper = Keeper(flash, store)
    keeper.open()
    trace = Trace(controller, keeper, port, "x")
    kept = Console(controller, keeper, store, port, flash, trace)
    heap.collect()
    print("heap", modules, heap.mem_alloc() - before, kept.busy, sep="\t")


JOBS = {
    "life": life, "locked": locked, "cuts": cuts, "wear": wear, "console": console,
    "heap": heap_taken,
}  # fmt: skip
array("i", [0])
JOBS[sys.argv[3]]()
