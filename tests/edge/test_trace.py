"""The trace line: read by the table of firmware/README.md, and never waiting for a reader."""

import binascii
import itertools
import re
from array import array
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leafwinch.edge.answers import COUNTER_NAMES
from leafwinch.edge.counters import COUNTERS, DROPPED_LINES, LATE_PASSES
from leafwinch.edge.fault_trace import SAMPLES, samples_of
from leafwinch.edge.lines import fill, fixed
from leafwinch.edge.trace import FIELDS, LAYOUT
from leafwinch.numbers import TICKS_MASK
from leafwinch.signals import OUT_RAISE
from tests.edge.flash import Flash
from tests.edge.life import QUICK, Life, commission
from tests.edge.views import fault_view

README = Path(__file__).resolve().parents[2] / "firmware" / "README.md"


def part(name: str) -> str:
    """The text between two marks of the page."""
    text = README.read_text(encoding="utf-8")
    return text.split(f"<!-- {name} starts -->")[1].split(f"<!-- {name} ends -->")[0]


def rows(name: str) -> list[list[str]]:
    lines = part(name).strip().splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


COLUMNS = [(int(row[0]), int(row[1]), row[2]) for row in rows("trace")]


def read(line: bytes) -> list[int]:
    """Read a trace line by nothing but the page's table."""
    assert len(line) == 64
    assert line[62:] == b"\r\n"
    assert int(line[58:62], 16) == binascii.crc_hqx(line[:58], 0xFFFF)
    assert line[:2] == b"T "
    fields = []
    for start, width, form in COLUMNS:
        text = line[start : start + width].decode()
        pattern = {"hex": r"[0-9A-F]+", "dec": r"\d+", "signed": r"[+-]\d+"}[form]
        assert re.fullmatch(pattern, text), text
        fields.append(int(text, 16 if form == "hex" else 10))
        assert start + width == 58 or line[start + width] == 0x20
    return fields


def new_life() -> Life:
    flash = Flash()
    commission(flash, QUICK)
    return Life(flash)


def test_the_page_s_example_reads_and_its_crc_is_right() -> None:
    example = part("example").strip().strip("`").strip()
    fields = read(example.encode() + b"\r\n")
    assert fields == [0x1BB, 0x2039, 0x73F6, 3, 2, 0, 0, 0x010, 5100, 24000, 0, 0]


def test_the_table_tells_the_layout() -> None:
    kinds = {"hex": 0, "dec": 0x10, "signed": 0x20}
    assert [width | kinds[form] for _, width, form in COLUMNS] == list(LAYOUT)
    assert len(COLUMNS) == FIELDS
    assert COLUMNS[0][0] == 2
    assert COLUMNS[-1][0] + COLUMNS[-1][1] == 58


def test_the_page_lists_the_counters() -> None:
    assert re.findall(r"`(\w+)`", part("counters")) == list(COUNTER_NAMES)
    assert len(COUNTER_NAMES) == COUNTERS


@given(st.data())
def test_any_values_are_read_back(data: st.DataObject) -> None:
    values = []
    for _, width, form in COLUMNS:
        if form == "signed":
            values.append(data.draw(st.integers(-999_999, 999_999)))
        else:
            highest = 16**width if form == "hex" else 10**width
            values.append(data.draw(st.integers(0, min(highest, 1 << 30) - 1)))
    line = bytearray(b"T " + 62 * b"?")
    assert fill(line, array("i", values), LAYOUT, FIELDS) == 59
    text = bytes(line[:58])
    assert read(text + b"%04X\r\n" % binascii.crc_hqx(text, 0xFFFF)) == values


def test_lines_tell_what_the_core_does() -> None:
    life = new_life()
    life.play("at bottom; settle; state: idle")
    life.port.traced.clear()
    life.run(1000)
    assert len(life.port.traced) == 20
    life.port.traced.clear()
    life.play("amps -5100; ask raise; run 600")
    lines = [read(line) for line in life.port.traced]
    moving = [row for row in lines if row[4] == 2]
    assert len(moving) in (59, 60)
    assert moving[-1][3] & OUT_RAISE
    assert moving[-1][8] == -5100
    assert moving[-1][9] == 24000
    assert moving[-1][1] in ((life.now - 10) & TICKS_MASK, (life.now - 15) & TICKS_MASK)
    sequences = [row[0] for row in lines]
    assert sequences == list(range(sequences[0], sequences[0] + len(lines)))
    times = [row[1] for row in moving]
    assert {b - a for a, b in itertools.pairwise(times)} == {10}


def test_a_greeting_at_power_up_and_every_ten_seconds_at_rest() -> None:
    life = new_life()
    life.run(31_000)
    greetings = [line for line in life.port.sent if line[:1] == b"G"]
    assert len(greetings) == 4
    assert greetings[0][:58].decode().rstrip() == "G leafwinch 0.1.0 desk"
    assert binascii.crc_hqx(greetings[0][:58], 0xFFFF) == int(greetings[0][58:62], 16)


def test_a_reader_stopped_for_a_minute_while_moving_changes_nothing() -> None:
    outputs: list[list[int]] = []
    lives = [new_life(), new_life()]
    for life in lives:
        life.play("at bottom; settle; state: idle")
    lives[1].port.deaf = True
    dropped = lives[1].keeper.counters[DROPPED_LINES]
    for life in lives:
        seen = []
        # Inching up and down for a minute: the budget comes back.
        for _ in range(30):
            life.ask("raise")
            for _ in range(100):
                seen.append(life.tick())
            life.at("middle")
            for _ in range(100):
                seen.append(life.tick())
            life.ask("nothing")
            for _ in range(60):
                seen.append(life.tick())
            life.at("bottom")
            for _ in range(140):
                seen.append(life.tick())
        outputs.append(seen)
    assert outputs[0] == outputs[1]
    assert sum(1 for out in outputs[1] if out & OUT_RAISE) > 3000
    assert not lives[1].port.traced[-1:] or lives[1].keeper.counters[DROPPED_LINES] > dropped + 3000
    assert lives[1].keeper.counters[LATE_PASSES] == 0
    # Once somebody reads again the lines go on, with the gap in their sequence.
    last = read(lives[1].port.traced[-1])
    lives[1].port.deaf = False
    lives[1].run(200)
    first = read(lives[1].port.traced[-4])
    assert (first[0] - last[0]) & 0xFFFF > 3000
    assert first[11] == lives[1].keeper.counters[DROPPED_LINES] & 0xFF


def test_four_seconds_before_a_fault_are_kept() -> None:
    life = new_life()
    life.play("at bottom; settle; run 25000; ask raise; run 700; amps 15000; run 1000")
    life.play("fault: current_trip")
    (fault, boot, _), samples = fault_view(life.files)
    assert fault == 26
    assert boot == 1
    assert len(samples) == SAMPLES
    states = [signals >> 23 for signals, _ in samples]
    # Idle for long, then raising; the trip and 40 ms in which the cause was sought.
    assert states[0] == 1
    assert states.count(2) == pytest.approx(75, abs=2)
    currents = [(values & 0xFFFFF) - (1 << 19) for _, values in samples]
    assert currents[-1] in (15000, 0)
    assert max(currents) == 15000
    assert {values >> 20 for _, values in samples} == {24000 >> 7}


def test_a_trace_shorter_than_four_seconds_begins_with_its_first_sample() -> None:
    life = new_life()
    life.play("at bottom; run 500; open top_final; run 1000; fault: top_final_actuated")
    _, samples = fault_view(life.files)
    assert 40 < len(samples) < SAMPLES
    assert [signals >> 23 for signals, _ in samples[:10]] == [0] * 10
    words: Any = life.keeper.fault_trace.slots.load()
    assert list(samples_of(words)) == list(samples)


def test_what_does_not_fit_is_cut_and_what_is_not_ascii_is_marked() -> None:
    line = fixed("A", "ß" + 100 * "x")
    assert len(line) == 64
    assert line[:4] == b"A ?x"
    assert line[57:58] == b"x"
