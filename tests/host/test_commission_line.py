"""The line of a commissioning: its trace file, restarts, lost ports."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from leafwinch_host.board.serial_lines import Line, Listener, Sample, checked
from leafwinch_host.commissioning.line import CommissionLine, TraceFile
from leafwinch_host.recording.recorded import read_recording
from leafwinch_wiring.errors import BadInput
from tests.host.commission_streams import Stream


def text_of(row: Sample) -> str:
    """Return a sample as the board writes it."""
    return (
        f"T {row.sequence:04X} {row.t_ms:08X} {row.contacts:05X} {row.outputs:02X} {row.state:X} "
        f"{row.fault:02d} {row.held_reasons:04X} {row.refused:X}{row.ended:X}{row.warning:X} "
        f"{row.current_ma:+07d} {row.supply_mv:05d} {row.late:02X} {row.dropped:02X}"
    )


class FakeLink:
    """Hands on what it is given, a sample a reading; 'lost' stands for a pulled cable."""

    name = "fake"

    def __init__(self, coming: list[Sample | str], listener: Listener) -> None:
        self.coming = coming
        self.listener = listener

    def read(self) -> list[Line]:
        if not self.coming:
            return []
        next_one = self.coming.pop(0)
        if isinstance(next_one, str):
            raise BadInput("Port fake was lost: no such device.")
        line = Line("T", text_of(next_one))
        self.listener(line)
        return [line]

    def close(self) -> None:
        """Nothing is to be closed."""


class Clock:
    """A clock that goes on a tenth of a second with each look."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        self.now += 0.1
        return self.now


def line_on(
    path: Path, coming: list[Sample | str], open_link: Callable[[Listener], FakeLink] | None = None
) -> CommissionLine:
    return CommissionLine(
        open_link or (lambda listener: FakeLink(coming, listener)),  # type: ignore[arg-type]
        TraceFile(path),
        Clock(),
        lambda _seconds: None,
    )


ROWS = Stream().wait(1000, 50).rows


def test_the_trace_is_a_recording_with_notes(tmp_path: Path) -> None:
    path = tmp_path / "trace.log"
    line = line_on(path, [*ROWS])
    line.trace.note("step stop begins: na\u00efve\nwords")
    seen = [row for _ in ROWS for row in line.read()]
    line.trace.close()
    line.trace.close()
    assert seen == ROWS
    recorded = read_recording(path)
    assert len(recorded) == len(ROWS)
    assert recorded.counts.notes == 1
    for raw in path.read_bytes().splitlines()[1:]:
        assert checked(raw.split(b" ", 1)[1]) is not None


def test_a_line_that_a_crash_cut_is_marked(tmp_path: Path) -> None:
    path = tmp_path / "trace.log"
    line = line_on(path, [*ROWS])
    line.read()
    line.trace.close()
    path.write_bytes(path.read_bytes()[:-30])
    line = line_on(path, [*ROWS])
    line.read()
    line.trace.close()
    recorded = read_recording(path)
    assert (recorded.counts.cut, len(recorded)) == (1, 1)


def test_a_lost_port_is_opened_again(tmp_path: Path) -> None:
    line = line_on(tmp_path / "trace.log", [ROWS[0], "lost", ROWS[1]])
    assert [row for _ in range(3) for row in line.read()] == ROWS[:2]
    line.trace.close()
    notes = (tmp_path / "trace.log").read_text(encoding="ascii")
    assert "port lost" in notes
    assert "port back" in notes


def test_a_port_that_stays_away_is_one_sentence(tmp_path: Path) -> None:
    first = True

    def open_once(listener: Listener) -> FakeLink:
        nonlocal first
        if not first:
            raise BadInput("Port fake can't be opened: no such device.")
        first = False
        return FakeLink(["lost"], listener)

    line = line_on(tmp_path / "trace.log", [], open_once)
    with pytest.raises(BadInput, match="can't be opened"):
        line.read()
    line.trace.close()


def test_a_restart_is_told_by_the_boards_clock(tmp_path: Path) -> None:
    again = [replace(row, t_ms=20 + 50 * n) for n, row in enumerate(ROWS[:2])]
    line = line_on(tmp_path / "trace.log", [*ROWS, "lost", *again])
    before_ms = line.time_ms()
    line.wait_restart(before_ms)
    line.trace.close()
    line = line_on(tmp_path / "trace.log", [*ROWS])
    with pytest.raises(BadInput, match="did not come back"):
        line.wait_restart(ROWS[0].t_ms)
    with pytest.raises(BadInput, match="stopped coming"):
        line.time_ms()
    line.trace.close()


def test_silence_is_counted(tmp_path: Path) -> None:
    line = line_on(tmp_path / "trace.log", [ROWS[0]])
    line.read()
    assert line.silent_s() < 1
    for _ in range(40):
        line.read()
        line.silent_s()
    assert line.silent_s() > 3
    line.forget()
    assert line.silent_s() < 1
    line.trace.close()


def test_a_trace_that_cant_be_written_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="can't be written"):
        TraceFile(tmp_path / "missing" / "trace.log")


def test_lines_that_were_kept_while_nobody_read_are_dropped(tmp_path: Path) -> None:
    """The system keeps lines for a reader that waits for a person; they are no gap."""

    class Kept(FakeLink):
        """Hands on all that is old at once, then what is new."""

        def read(self) -> list[Line]:
            many = [FakeLink.read(self) for _ in range(min(8, len(self.coming)))]
            return [line for lines in many for line in lines]

    late = [replace(row, t_ms=row.t_ms + 60_000) for row in ROWS[:1]]
    coming: list[Sample | str] = [*ROWS[:16], *late]
    line = line_on(tmp_path / "trace.log", coming, lambda listener: Kept(coming, listener))
    line.forget()
    coming += [replace(late[0], t_ms=late[0].t_ms + 50)]
    assert [row.t_ms for row in line.read()] == [late[0].t_ms + 50]
    line.trace.close()


def test_a_cable_that_is_pulled_while_nobody_looks_is_found_again(tmp_path: Path) -> None:
    kept: list[list[Sample | str]] = [["lost"], [ROWS[0]]]
    links = iter(kept)
    line = line_on(tmp_path / "trace.log", [], lambda listener: FakeLink(next(links), listener))
    line.idle()
    line.idle()
    assert not line.away
    line.trace.close()
    notes = (tmp_path / "trace.log").read_text(encoding="ascii")
    assert "port away" in notes
    assert "port back" in notes
