"""The recorder: nothing lost, whatever cable, disk and board do; nothing sent."""

import errno
import random
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leafwinch.edge.lines import fixed
from leafwinch_host.board.serial_lines import JUNK_MAX, LineReader
from leafwinch_host.recording import storage as storage_module
from leafwinch_host.recording.panel import Levels, Progress, panel
from leafwinch_host.recording.recorded import read_recording
from leafwinch_host.recording.recorder import Recorder, at_a_fresh_line
from leafwinch_host.recording.storage import RealDisk, Storage
from leafwinch_host.recording.stream import Stream, escaped, unescaped
from leafwinch_host.screen import screen
from leafwinch_host.virtual_ports import PseudoTerminal
from leafwinch_wiring.errors import BadInput
from tests.host.command import assert_one_sentence, leafwinch
from tests.host.fake_board import Bus, Clock, FakeDisk, FakePort, recorder_on
from tests.host.long_recording import play
from tests.host.test_serial_lines import page_example
from tests.host.trace_lines import trace_line


def lines(first: int, count: int) -> bytes:
    return b"".join(trace_line(n, n * 10) for n in range(first, first + count))


def notes_in(data: bytes) -> list[str]:
    """Words of all notes, without their time."""
    return [line.split(" ", 2)[2] for line in data.decode("ascii").splitlines() if line[0] == "#"]


def sequences_in(data: bytes) -> list[int]:
    return [int(found, 16) for found in re.findall(rb" T ([0-9A-F]{4}) ", data)]


def test_a_line_is_kept_as_it_came_with_its_time() -> None:
    disk = FakeDisk()
    bus = Bus([{"one": FakePort([page_example()])}])
    recorder, storage = recorder_on(bus, "one", disk)
    recorder.step()
    storage.work()
    start, line = bytes(disk.data).splitlines()
    assert start == b"# 2025-05-01T08:00:00.000+00:00 start: port one"
    assert line == b"2025-05-01T08:00:00.000+00:00 " + page_example()[:-2]


def test_ten_minutes_in_odd_pieces_lose_no_line() -> None:
    # 8 hours: python -m tests.host.long_recording
    sent, tally, kept = play(1 / 6)
    assert sent == kept == tally.samples == 60_000
    assert (tally.missing, tally.bad, tally.restarts) == (0, 0, 0)


def test_bad_lines_are_kept_marked_and_can_be_had_back() -> None:
    bad = b"T 0001 \xff\x00\\ not a line"
    junk = b"\x1b[31mpanic"
    kept = Stream().feed(bad + b"\r\n" + junk + trace_line(1, 10) + b"\r\n")
    assert kept[0] == rb"!T 0001 \xff\x00\\ not a line"
    assert unescaped(kept[0][1:]) == bad
    assert unescaped(kept[1][1:]) == junk
    assert kept[2] == trace_line(1, 10)[:-2]
    assert kept[3] == b"!"


@given(st.binary(max_size=300))
def test_escaping_is_printable_and_reversible(data: bytes) -> None:
    assert unescaped(escaped(data)) == data
    assert re.fullmatch(rb"[ -~]*", escaped(data))


def test_missing_lines_and_restarts_are_noted() -> None:
    stream = Stream()
    kept = stream.feed(trace_line(5, 50) + trace_line(9, 90) + trace_line(0, 5))
    assert [line for line in kept if line[:1] == b"#"] == [
        b"# missing 3 trace lines, 0.04 s of the board's clock",
        b"# board restarted",
    ]
    assert (stream.tally.missing, stream.tally.restarts) == (3, 1)
    # Over the wraps of sequence and clock nothing is missing.
    stream = Stream()
    kept = stream.feed(trace_line(0xFFFF, (1 << 30) - 10) + trace_line(0, 0) + trace_line(1, 10))
    assert len(kept) == 3


pieces_of_stream = st.lists(
    st.one_of(
        st.binary(max_size=200),
        st.integers(0, 0xFFFF).map(lambda n: trace_line(n, n * 10)),
        st.just(bytes(fixed("G", "leafwinch"))),
        st.sampled_from([b"\r\n", b"\r", b"\n", b">>> ", b"x" * 5000]),
    ),
    max_size=40,
)


@given(pieces_of_stream, st.integers(1, 300))
@settings(max_examples=150)
def test_fuzzed_streams_never_crash_and_are_judged_as_the_asking_reader_judges(
    parts: list[bytes], size: int
) -> None:
    stream, reader = Stream(), LineReader()
    good = 0
    data = b"".join(parts)
    for at in range(0, len(data), size):
        kept = stream.feed(data[at : at + size])
        good += sum(line[:1] not in (b"!", b"#") for line in kept)
        assert all(re.fullmatch(rb"[ -~]*", line) for line in kept)
        reader.feed(data[at : at + size])
        assert len(stream._rest) <= JUNK_MAX
    assert good == stream.tally.lines == reader.counted.lines


def test_a_cable_pulled_a_hundred_times_is_noted_each_time() -> None:
    disk, clock = FakeDisk(), Clock()
    plugs: list[dict[str, FakePort] | None] = []
    for turn in range(101):
        # The last line of each is torn in the middle, like a cable.
        torn = trace_line(7, 7)[: 1 + turn % 63]
        plugs += [{"one": FakePort([lines(50 * turn, 50), torn])}, None]
    recorder, storage = recorder_on(Bus(plugs), "one", disk, clock)
    for _ in range(800):
        recorder.step()
        clock.passes(0.5)
        storage.work()
    data = bytes(disk.data)
    assert sequences_in(data) == list(range(50 * 101))
    notes = notes_in(data)
    assert sum(note.startswith("port lost: one") for note in notes) == 101
    assert sum(note.startswith("port back: one after ") for note in notes) == 100
    assert recorder.pulled == recorder.tally.bad == 101
    assert not recorder.connected


def test_a_board_that_comes_back_under_another_name_is_found_but_never_a_second_board() -> None:
    def run(after: dict[str, FakePort], beside: dict[str, FakePort]) -> list[str]:
        bus = Bus([{"one": FakePort([lines(0, 3)])} | beside, beside or None, beside | after])
        bus.plugs += [bus.plugs[-1]] * 3
        recorder, _ = recorder_on(bus, "one", FakeDisk())
        for _ in range(6):
            recorder.step()
        return bus.opened

    there = FakePort([lines(0, 9)])
    assert run({"two": FakePort([lines(3, 3)])}, {}) == ["one", "two"]
    assert run({}, {"other": there}) == ["one"]
    assert run({"two": FakePort([lines(3, 3)])}, {"other": there}) == ["one", "two"]
    assert run({"two": there, "three": there}, {}) == ["one"]


def test_a_pseudo_terminal_that_vanishes_and_comes_back(tmp_path: Path) -> None:
    name = tmp_path / "port"
    target = tmp_path / "x.log"
    ends: list[PseudoTerminal] = []

    def plug() -> PseudoTerminal:
        end = PseudoTerminal()
        ends.append(end)
        name.unlink(missing_ok=True)
        name.symlink_to(end.path)
        return end

    def records(count: int) -> None:
        # Opening a port throws away what waited in it, so a board speaks once it is open.
        while not recorder.connected:
            recorder.step()
        end.write(lines(count - 10, 10))
        until = time.monotonic() + 10
        while recorder.tally.lines < count and time.monotonic() < until:
            recorder.step()
        assert recorder.tally.lines == count

    end = plug()
    with Storage(RealDisk(target)) as storage:
        recorder = Recorder(str(name), storage, finds=list, waits=lambda _s: time.sleep(0.01))
        with recorder:
            for turn in range(20):
                records(10 * turn + 10)
                assert end.read() == b""  # nothing is ever sent
                end.close()
                end = plug()
                while recorder.connected:
                    recorder.step()
            records(210)
    end.close()
    assert recorder.pulled == 20
    assert sequences_in(target.read_bytes()) == list(range(210))


def test_a_full_disk_costs_nothing_while_there_is_room_in_memory() -> None:
    disk = FakeDisk(room=1000)
    bus = Bus([{"one": FakePort([lines(50 * n, 50) for n in range(10)])}])
    recorder, storage = recorder_on(bus, "one", disk)
    for _ in range(10):
        recorder.step()
        storage.work()
    assert storage.full
    assert len(disk.data) == 1000
    disk.room = 1 << 30
    assert storage.work()
    assert sequences_in(bytes(disk.data)) == list(range(500))
    assert notes_in(bytes(disk.data))[-1] == (
        "disk full since 2025-05-01T08:00:00.000+00:00, goes on, lost 0 lines"
    )


def test_lines_that_a_full_disk_costs_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(storage_module, "WAITING_MAX", 20_000)
    disk = FakeDisk(room=500)
    bus = Bus([{"one": FakePort([lines(50 * n, 50) for n in range(20)])}])
    recorder, storage = recorder_on(bus, "one", disk)
    for turn in range(19):
        recorder.step()
        storage.work()
        if turn == 15:
            disk.room = 1 << 30
    storage.close()
    kept = sequences_in(bytes(disk.data))
    assert storage.lost == 950 - len(kept) > 0
    assert f"lost {storage.lost} lines" in " ".join(notes_in(bytes(disk.data)))
    assert recorder.tally.lines == 950  # it went on counting
    assert disk.synced == len(disk.data)
    assert disk.closed


def test_a_disk_that_breaks_ends_it_in_one_sentence() -> None:
    disk = FakeDisk()
    storage = Storage(disk)
    bus = Bus([{"one": FakePort([lines(50 * n, 50) for n in range(9)])}])
    with storage:
        recorder = Recorder("one", storage, bus.opens, bus.finds, Clock(), bus.next)
        disk.broken = errno.EIO
        until = time.monotonic() + 10
        while not storage.error and time.monotonic() < until:
            time.sleep(0.01)
        with pytest.raises(BadInput, match=r"can't be written any more \(the disk broke\)"):
            recorder.step()


def test_what_came_is_synced_within_a_second() -> None:
    disk = FakeDisk()
    with Storage(disk) as storage:
        storage.take([b"x\n"])
        until = time.monotonic() + 1.0
        while not disk.synced and time.monotonic() < until:
            time.sleep(0.01)
        assert disk.synced == storage.synced_bytes == 2


RECORDS = """
import sys
from pathlib import Path
from leafwinch_host.recording.recorder import Recorder
from leafwinch_host.recording.storage import RealDisk, Storage
with Storage(RealDisk(Path(sys.argv[2]))) as storage, Recorder(sys.argv[1], storage) as recorder:
    while True:
        recorder.step()
        print(storage.synced_bytes, flush=True)
"""


def test_a_recorder_that_is_killed_leaves_what_was_synced(tmp_path: Path) -> None:
    chance = random.Random(7)
    target = tmp_path / "killed.log"
    before = 0
    for turn in range(3):
        end = PseudoTerminal()
        process = subprocess.Popen(
            [sys.executable, "-c", RECORDS, end.path, str(target)],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert process.stdout is not None
        synced = 0
        sent = lines(1000 * turn, 900)
        enough = 20_000 + chance.randrange(20_000)
        while synced < enough:
            end.write(sent[:640])
            sent = sent[640:]
            synced = int(process.stdout.readline())
        end.write(sent[: chance.randrange(300)])
        process.send_signal(signal.SIGKILL)
        process.wait()
        process.stdout.close()
        end.close()
        assert target.stat().st_size >= before + synced
        before = target.stat().st_size
    data = target.read_bytes()
    recorded = read_recording(target)
    assert len(recorded) == len(sequences_in(data)) > 600
    assert recorded.stretch[-1] == 0  # the numbers went on, and so did the clock
    # Cut at any byte it can still be read, and whole lines before the cut stay.
    ends = [place for place, byte in enumerate(data) if byte == 10]
    cut_file = tmp_path / "cut.log"
    for _ in range(40):
        cut = chance.randrange(200, len(data))
        cut_file.write_bytes(data[:cut])
        again = read_recording(cut_file)
        whole = data[: ends[sum(place < cut for place in ends) - 1] + 1]
        assert len(again) == len(sequences_in(whole))


def test_a_cut_recording_is_gone_on_with_on_a_new_line(tmp_path: Path) -> None:
    target = tmp_path / "x.log"
    for cut in (1, 2, 3, 10, 30, 60, 90):
        target.write_bytes(b"# 2025-05-01T08:00:00.000+00:00 start: port one"[:cut])
        bus = Bus([{"one": FakePort([lines(0, 3)])}])
        with Storage(RealDisk(target), threaded=False) as storage:
            recorder = Recorder("one", storage, bus.opens, bus.finds, Clock(), bus.next)
            recorder.step()
            recorder.close()
        recorded = read_recording(target)
        assert len(recorded) == 3
        assert recorded.counts.cut == 1
        assert [note.words[:3] for note in recorded.notes] == ["sta", "end"]


def test_another_file_is_never_appended_to(tmp_path: Path) -> None:
    target = tmp_path / "letter.txt"
    target.write_text("Dear neighbour,\n", encoding="ascii")
    with pytest.raises(BadInput, match="a file of another kind"):
        RealDisk(target)
    assert target.read_text(encoding="ascii") == "Dear neighbour,\n"
    with pytest.raises(BadInput, match="can't be written"):
        RealDisk(tmp_path / "absent" / "x.log")


def test_the_panel_tells_state_current_travel_and_trouble() -> None:
    raising = trace_line(1, 1000, state=2, ma=5100)
    later = trace_line(2, 3000, state=2, ma=5100)
    fault = trace_line(3, 3010, state=4, fault=26, reasons=0x070)
    bus = Bus([{"one": FakePort([raising, later, fault])}])
    recorder, storage = recorder_on(bus, "one", FakeDisk())
    progress = Progress()

    def shown() -> str:
        out = screen()
        with out.capture() as capture:
            out.print(panel(recorder, progress, Levels(trip_a=10.2)))
        return capture.get()

    assert "No sample yet" in shown()
    recorder.step()
    shown()
    recorder.step()
    text = shown()
    assert "raising for 2.0 s" in text
    assert "[" + "#" * 20 + "." * 20 + "] trip 10.2 A" in text
    recorder.step()
    assert "fault 26 current trip" in shown()
    recorder.step()
    storage.full = True
    text = shown()
    assert "Port one is lost" in text
    assert "The disk is full" in text


def test_log_needs_a_port_and_a_file_of_its_own(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    absent = str(tmp_path / "no-port")
    said = leafwinch(capsys, "log", "--port", absent, "-o", str(tmp_path / "x.log"))
    assert_one_sentence(said, "no-port")
    assert not (tmp_path / "x.log").exists()
    end = PseudoTerminal()
    arguments = ("log", "--port", end.path, "-o", str(tmp_path / "y.log"), "--seconds", "0.3")
    with speaking(end, lambda _turn: b"quite another device\r\n"):
        said = leafwinch(capsys, *arguments)
    assert_one_sentence(said, "not the speech of a leafwinch board")
    with speaking(end, lambda turn: lines(turn, 1)):
        said = leafwinch(capsys, *arguments)
    end.close()
    assert said.code == 0
    assert "lines recorded in" in said.out
    assert "; 0 trace lines missing" in " ".join(said.out.split())
    assert len(sequences_in((tmp_path / "y.log").read_bytes())) > 5


@contextmanager
def speaking(end: PseudoTerminal, says: Callable[[int], bytes]) -> Iterator[None]:
    """Let a board speak beside the test, 100 times a second."""
    over = threading.Event()

    def speak() -> None:
        turn = 0
        while not over.wait(0.01):
            if not end.waiting:
                end.write(says(turn))
                turn += 1
            end.write(b"")

    thread = threading.Thread(target=speak)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


class KeptPort:
    """A port with old lines in it, of which new ones follow one by one."""

    def __init__(self, old: bytes, new: bytes) -> None:
        self.old = old
        self.new = new
        self.reads = 0

    @property
    def in_waiting(self) -> int:
        return len(self.old)

    def read(self, size: int) -> bytes:
        self.reads += 1
        if self.old:
            piece, self.old = self.old[:size], self.old[size:]
        else:
            piece, _, self.new = self.new.partition(b"|")
        return piece


def test_what_was_kept_for_an_earlier_reader_is_no_part_of_the_recording() -> None:
    times = iter(0.1 * count for count in range(100))
    port = KeptPort(b"of an earlier time\r\nand half a li", b"ne\r\n|new line\r\n")
    assert at_a_fresh_line(port, lambda: next(times)) is port
    assert port.old == b""
    assert port.new == b"new line\r\n"


def test_a_silent_port_does_not_hold_up_the_recording() -> None:
    times = iter(0.1 * count for count in range(100))
    port = KeptPort(b"", b"")
    at_a_fresh_line(port, lambda: next(times))
    assert port.reads < 10
