"""Recordings read back: every column, cuts, restarts, gaps, travels and faults."""

import random
from collections.abc import Iterator
from dataclasses import fields
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from leafwinch.states import LOWERING, RAISING
from leafwinch_host.board.serial_lines import Line, Sample, sample_of
from leafwinch_host.recording.cycles import faults_of, travels_of
from leafwinch_host.recording.decode import codes_of, times_of
from leafwinch_host.recording.happenings import happenings
from leafwinch_host.recording.recorded import Recorded, read_recording
from leafwinch_sim.run import run_script
from leafwinch_sim.scripts import load_script
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput
from tests.host.test_serial_lines import page_example
from tests.host.trace_lines import (
    BEGUN,
    changed_line,
    lines_of_run,
    recording_of,
    trace_line,
    written,
)

NAMES = {"t_ms": "clock", "held_reasons": "held"}  # where Sample calls a column otherwise


@pytest.fixture(scope="module")
def cycle() -> list[tuple[int, bytes]]:
    return lines_of_run()


@pytest.fixture(scope="module")
def day() -> list[tuple[int, bytes]]:
    return lines_of_run(script="every-function")


@pytest.fixture
def target(tmp_path: Path) -> Path:
    return tmp_path / "x.log"


def assert_columns(recorded: Recorded, lines: list[bytes]) -> None:
    """Every column is what the reader that asks a board reads of each line."""
    samples = [sample_of(Line("T", line[:58].decode("ascii"))) for line in lines]
    for part in fields(Sample):
        column = recorded[NAMES.get(part.name, part.name)].tolist()
        assert column == [getattr(sample, part.name) for sample in samples], part.name


def test_the_example_of_the_page_gives_its_columns(target: Path) -> None:
    recorded = read_recording(written(target, [(0, page_example())]))
    assert recorded["contacts"].tolist() == [0x73F6]
    assert recorded["current_ma"].tolist() == [5100]
    assert recorded.clock_ms.tolist() == [0x2039]
    assert_columns(recorded, [page_example()])


def test_all_columns_of_a_working_day(day: list[tuple[int, bytes]], target: Path) -> None:
    recorded = read_recording(written(target, day))
    assert_columns(recorded, [line for _, line in day if line[:1] == b"T"])
    assert recorded.counts.others > 0  # greetings
    assert (recorded.utc_ms[0], recorded.utc_ms[-1]) == tuple(
        round(BEGUN.timestamp() * 1000) + t_ms
        for t_ms in (day[0][0], [t for t, line in day if line[:1] == b"T"][-1])
    )


def test_the_check_sum_of_many_rows_is_that_of_the_catalogue() -> None:
    # CRC-16/IBM-3740 of "123456789" is 0x29B1 (catalogue of parametrised CRC algorithms,
    # from memory); a row of two equal ones checks the same way twice.
    rows = np.frombuffer(b"123456789" * 2, dtype=np.uint8).reshape(2, 9)
    assert codes_of(rows).tolist() == [0x29B1, 0x29B1]


@given(st.datetimes(datetime(2001, 1, 1), datetime(2099, 12, 31)))  # noqa: DTZ001 - made aware below
def test_stamps_are_read_as_the_standard_library_reads_them(moment: datetime) -> None:
    moment = moment.replace(tzinfo=UTC, microsecond=moment.microsecond // 1000 * 1000)
    text = moment.isoformat(timespec="milliseconds").encode("ascii")
    ms, good = times_of(np.frombuffer(text, dtype=np.uint8)[None, :])
    assert good.all()
    assert ms[0] == round(moment.timestamp() * 1000)


@pytest.mark.parametrize("bad", [b"2025-02-30", b"2025-13-01", b"2025/05/01", b"20x5-05-01"])
def test_days_that_are_none_are_refused(bad: bytes, target: Path) -> None:
    data = recording_of([(n * 10, trace_line(n, n * 10)) for n in range(3)])
    target.write_bytes(data.replace(b"2025-05-01", bad, 2).replace(bad, b"2025-05-01", 1))
    with pytest.raises(BadInput, match=r"x\.log, line 2: found "):
        read_recording(target)


def test_a_recording_cut_at_any_byte_can_be_read(
    cycle: list[tuple[int, bytes]], target: Path
) -> None:
    data = recording_of(cycle[:12])
    ends = [place + 1 for place, byte in enumerate(data) if byte == 10]
    for cut in range(ends[0], len(data) + 1):
        target.write_bytes(data[:cut])
        recorded = read_recording(target)
        whole = sum(end <= cut for end in ends)
        assert len(recorded) + recorded.counts.others == whole
        assert recorded.counts.cut == (0 if cut in ends else 1)
    target.write_bytes(data + b"\0" * 512)  # as file systems leave it after a lost supply
    assert read_recording(target).counts.cut == 1


def test_blocks_of_any_length_give_the_same(
    day: list[tuple[int, bytes]], target: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = read_recording(written(target, day))
    for block in (1000, 4096):
        monkeypatch.setattr("leafwinch_host.recording.recorded.BLOCK", block)
        parts = read_recording(target)
        assert parts.gaps == whole.gaps
        assert all((parts[name] == whole[name]).all() for name in whole.columns)


@pytest.mark.parametrize(
    ("what", "line"),
    [
        ("nothing", b""),
        ("another text", b"Dear neighbour,"),
        ("no check sum", b"2025-05-01T08:00:00.020+00:00 " + trace_line(2, 20)[:58]),
        ("a changed digit", b"2025-05-01T08:00:00.020+00:00 " + trace_line(2, 20)[:40] + b"9" * 22),
        ("another zone", b"2025-05-01T08:00:00.020+02:00 " + trace_line(2, 20)[:62]),
        ("half a stamp", b"2025-05-01 " + trace_line(2, 20)[:62]),
        ("not ASCII", "2025-05-01T08:00:00.020+00:00 ü".encode()),
    ],
)
def test_a_strange_line_is_named(what: str, line: bytes, target: Path) -> None:
    good = recording_of([(0, trace_line(0, 0)), (10, trace_line(1, 10))])
    target.write_bytes(good + line + b"\n" + good)
    with pytest.raises(BadInput, match=r"x\.log, line 3: found '.*', which is no line"):
        read_recording(target)


@pytest.fixture(scope="module")
def fuzzed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("fuzzed") / "x.log"


@given(data=st.binary(max_size=400))
def test_fuzzed_files_are_read_or_refused(fuzzed: Path, data: bytes) -> None:
    good = recording_of([(0, trace_line(0, 0)), (10, trace_line(1, 10))])
    data = data.replace(b"!cut", b"")  # what a recorder puts behind a line that was cut off
    fuzzed.write_bytes(good + data)
    if b"\n" not in data:
        assert len(read_recording(fuzzed)) == 2
        return
    with pytest.raises(BadInput, match=r"x\.log, line \d+: found '.*', which is no line"):
        read_recording(fuzzed)


@given(
    st.integers(0, 57),
    st.binary(min_size=1, max_size=4),
    st.sampled_from([b"", b"0", b"9", b"F", b"+", b"-", b" "]),
)
def test_whatever_the_recorder_takes_for_good_can_be_read_back(
    fuzzed: Path, at: int, junk: bytes, likely: bytes
) -> None:
    line = changed_line(trace_line(1, 10), at, (likely or junk)[: 58 - at])
    fuzzed.write_bytes(recording_of([(0, trace_line(0, 0)), (10, line)]))
    recorded = read_recording(fuzzed)
    assert len(recorded) + recorded.counts.bad + recorded.counts.others >= 2


def test_files_without_samples_or_readers_are_refused(target: Path) -> None:
    target.write_bytes(b"")
    with pytest.raises(BadInput, match="no trace line"):
        read_recording(target)
    with pytest.raises(BadInput, match="can't be read"):
        read_recording(target.with_name("absent.log"))


def rows(*given_rows: tuple[int, int, int]) -> Iterator[tuple[int, bytes]]:
    """(ms of this machine, sequence, board's ms) as lines."""
    for at_ms, sequence, t_ms in given_rows:
        yield at_ms, trace_line(sequence, t_ms)


def test_wraps_are_undone_and_are_no_gap(target: Path) -> None:
    top = 1 << 30
    recorded = read_recording(
        written(target, rows((0, 0xFFFF, top - 20), (10, 0, top - 10), (20, 1, 0), (30, 2, 10)))
    )
    assert recorded.clock_ms.tolist() == [top - 20, top - 10, top, top + 10]
    assert recorded.gaps == []
    assert recorded.stretch.tolist() == [0, 0, 0, 0]


def test_gaps_say_how_many_lines_and_how_long(target: Path) -> None:
    recorded = read_recording(written(target, rows((0, 1, 10), (10, 2, 20), (60, 7, 70))))
    (gap,) = recorded.gaps
    assert (gap.row, gap.why, gap.missing, gap.seconds) == (2, "missing", 4, 0.05)
    assert recorded.at_ms.tolist() == [0, 10, 60]


@pytest.mark.parametrize(
    "after",
    [
        (3000, 0, 500),  # the clock went back
        (3000, 0, 25_000),  # it went on, but by fewer ms than the sequence has lines
        (90_000, 4, 20_500),  # both went on, but the machine's clock says another time
    ],
)
def test_a_restart_begins_a_new_stretch(after: tuple[int, int, int], target: Path) -> None:
    recorded = read_recording(written(target, rows((0, 1, 20_000), (10, 2, 20_010), after)))
    assert recorded.stretch.tolist() == [0, 0, 1]
    assert recorded.gaps[0].why == "restarted"
    assert recorded.clock_ms[2] == after[2]
    assert recorded.at_ms[2] == after[0]


def test_a_pulled_cable_is_told_from_missing_lines(target: Path) -> None:
    first = recording_of(rows((0, 1, 10)))
    note = b"# 2025-05-01T08:00:00.500+00:00 port lost: one (gone)\n"
    target.write_bytes(first + note + recording_of(rows((2000, 101, 2010))))
    recorded = read_recording(target)
    assert (recorded.gaps[0].why, recorded.gaps[0].missing) == ("port lost", 99)
    assert recorded.notes[0].words == "port lost: one (gone)"
    assert any("the cable was pulled" in event.words for event in happenings(recorded))


def test_travels_are_those_of_the_bench(cycle: list[tuple[int, bytes]], target: Path) -> None:
    result = run_script(load_site("workshop-pit"), load_script("full-cycle"))
    state = np.asarray(result.trace["state"])
    up, down = travels_of(read_recording(written(target, cycle)))
    for travel, way in ((up, RAISING), (down, LOWERING)):
        assert travel.way == way
        assert travel.full
        assert travel.whole
        assert travel.seconds == pytest.approx(0.005 * (state == way).sum(), abs=0.02)
    assert "full raising for 29." in up.words
    assert "the top end was reached" in up.words
    assert "the bottom end was reached" in down.words
    assert up.peak_a == pytest.approx(max(result.trace["current_ma"]) / 1000, abs=0.3)
    assert up.running_peak_a < up.peak_a
    assert up.median_a == pytest.approx(down.median_a, rel=0.2)


def test_a_travel_with_a_gap_or_cut_off_is_not_full(
    cycle: list[tuple[int, bytes]], target: Path
) -> None:
    holed = [pair for number, pair in enumerate(cycle) if not 1000 < number < 1010]
    up, down = travels_of(read_recording(written(target, holed)))
    assert (up.full, up.whole, down.full) == (False, False, True)
    (up,) = travels_of(read_recording(written(target, cycle[:2000])))
    assert (up.full, up.whole, up.ended) == (False, False, 0)
    assert "was not recorded" in up.words
    up, down = travels_of(read_recording(written(target, cycle[500:])))
    assert (up.full, up.whole, up.ended) == (False, False, 2)


def test_faults_and_events_of_a_working_day_are_the_benchs(
    day: list[tuple[int, bytes]], target: Path
) -> None:
    result = run_script(load_site("workshop-pit"), load_script("every-function"))
    recorded = read_recording(written(target, day))
    numbers = [fault.number for fault in faults_of(recorded) if not fault.before]
    assert numbers == result.faults
    assert recorded.stretch[-1] == 2  # the script switches the supply off twice
    told = [event.words for event in happenings(recorded)]
    assert sum("begins" in words for words in told) == sum(
        text.endswith(" begins") for _, text in result.events
    )


def test_a_fault_that_this_version_does_not_know_is_told_all_the_same(target: Path) -> None:
    line = changed_line(trace_line(1, 10, state=4), 27, b"98")
    recorded = read_recording(written(target, [(0, trace_line(0, 0)), (10, line)]))
    assert any("fault 98, unknown here" in event.words for event in happenings(recorded))


def test_random_order_of_lines_is_read_without_an_error(
    cycle: list[tuple[int, bytes]], target: Path
) -> None:
    shuffled = cycle[:300]
    random.Random(3).shuffle(shuffled)
    recorded = read_recording(written(target, shuffled))
    assert (np.diff(recorded.at_ms) >= 0).all()
    happenings(recorded)
