"""A filled sheet that cannot be used gets one sentence that names the file and the line."""

import random
import re
from dataclasses import replace
from functools import lru_cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist
from leafwinch_wiring.point_sheet import PointSheet, point_sheet
from leafwinch_wiring.sheet_check import Predicted, diagnose
from leafwinch_wiring.sheet_file import (
    COLUMNS,
    MOST_ADDED,
    read_filled,
    row_to_add,
    write_csv,
)
from tests.wiring.filling import filled_text, measured

NAME = "bare-12v"


@lru_cache(maxsize=1)
def sheet() -> PointSheet:
    return point_sheet(load_netlist(NAME), seconds=0.0)


@lru_cache(maxsize=1)
def good_text() -> str:
    net = load_netlist(NAME)
    return filled_text(sheet(), measured(net, sheet(), None, random.Random(7)))


def line_of(text: str, start: str) -> int:
    return next(n for n, line in enumerate(text.splitlines(), 1) if line.startswith(start))


def with_cell(row: int, column: str, value: str) -> tuple[str, int]:
    """The good sheet with one cell replaced, and its line."""
    lines = good_text().splitlines()
    at = line_of(good_text(), f"{row};")
    cells = lines[at - 1].split(";")
    cells[COLUMNS.index(column)] = value
    lines[at - 1] = ";".join(cells)
    return "\n".join(lines), at


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        ("number", "x", "number 'x' is unknown"),
        ("number", "999", "number '999' is unknown; the sheet has 1 to"),
        ("number", "0", "number '0' is unknown"),
        ("number", "", "number '' is unknown"),
        ("from", "XX9:1", "terminal 'XX9:1' is not in netlist bare-12v"),
        ("to", "XS1:E", "terminal 'XS1:E' is not in netlist"),
        ("operate", "SF1 kicked", "'SF1 kicked' in 'operate' is not known"),
        ("measured", "about 3", "'about 3' in 'measured' is no reading"),
        ("measured", "-0.4", "is no reading"),
        ("measured", "nan", "is no reading"),
        ("measured", "1e3", "is no reading"),
        ("measured", "0.4 m", "is no reading"),
        ("remark", '"loose', "the quotes do not match"),
        ("remark", "a;b;c", "more than 7 columns found"),
        ("remark", "x" * 3000, "longer than 2000 characters"),
    ],
)
def test_a_wrong_cell_is_named_with_its_line(column: str, value: str, words: str) -> None:
    text, at = with_cell(3, column, value)
    with pytest.raises(BadInput) as caught:
        read_filled(text, "filled.csv", load_netlist(NAME))
    message = str(caught.value)
    assert message.startswith(f"filled.csv, line {at}: ")
    assert words in message
    assert "\n" not in message
    assert message.endswith(".")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (r"# hash: ....", "# hash: 0000", "make the sheet anew"),
        (r"# hash: .*\n", "", "the line '# hash:' is missing"),
        (r"# rows: .*", "# rows: many", "'# rows:' with the number of rows is needed"),
        (r"# rows: .*\n", "", "'# rows:' with the number of rows is needed"),
        (r"# netlist: ", "# hash: 1\n# netlist: ", "'# hash:' stands twice"),
        (r"number;from", "no;from", "no line with the columns number, from"),
        (r"\n1;", "\n2;", "number 2 stands on line 7 already"),
        (r"\n1;.*", "\n1;XS1:+", "2 columns found, needed are the 7 columns"),
        (r"\n1;[^;]*;[^;]*", "\n1;XS1:+;XS1:+", "are the same terminal XS1:+"),
    ],
)
def test_a_wrong_sheet_is_named_with_its_line(old: str, new: str, words: str) -> None:
    text = re.sub(old, new, good_text(), count=1)
    assert text != good_text()
    with pytest.raises(BadInput, match=re.escape(words)) as caught:
        read_filled(text, "filled.csv", load_netlist(NAME))
    assert re.match(r"filled\.csv, line \d+: [^\n]*\.$", str(caught.value))


@pytest.mark.parametrize("delimiter", list(";,\t"))
def test_a_row_added_below_reads_back_as_the_measurement_it_is(delimiter: str) -> None:
    net = load_netlist(NAME)
    what = sheet().rows[3].what
    filled = replace(read_filled(good_text(), "filled.csv", net), delimiter=delimiter)
    line = row_to_add(filled, what)
    head = good_text().split(COLUMNS[0])[0] + delimiter.join(COLUMNS)
    [row] = read_filled(f"{head}\n{line}\n", "filled.csv", net).rows
    assert row.number == len(sheet().rows) + 1
    assert (row.a, row.b, row.operated, row.acts) == (what.a, what.b, what.operated, what.acts)
    assert row.ohm is None


def test_rows_can_be_added_up_to_a_number() -> None:
    net = load_netlist(NAME)
    total = len(sheet().rows)
    line = row_to_add(read_filled(good_text(), "filled.csv", net), sheet().rows[0].what)
    end = line.partition(";")[2]
    last = f"{good_text()}{total + MOST_ADDED};{end}\n"
    assert read_filled(last, "filled.csv", net).rows[-1].number == total + MOST_ADDED
    with pytest.raises(BadInput, match=f"added to it go on up to {total + MOST_ADDED}"):
        read_filled(f"{good_text()}{total + MOST_ADDED + 1};{end}\n", "filled.csv", net)


def test_the_sheet_of_another_netlist_is_refused() -> None:
    with pytest.raises(BadInput, match="was made from netlist bare-12v with hash"):
        read_filled(good_text(), "filled.csv", load_netlist("bare"))


def test_an_empty_sheet_is_a_whole_sheet_not_measured() -> None:
    net = load_netlist(NAME)
    found = diagnose(net, read_filled(write_csv(sheet()), "filled.csv", net))
    assert len(found.not_measured) == len(sheet().rows)
    assert not found.complete_and_right


def read_or_refuse(text: str) -> None:
    """Read and judge a text; nothing but BadInput may come of it."""
    net = load_netlist(NAME)
    said = ""
    try:
        filled = read_filled(text, "filled.csv", net)
    except BadInput as bad:
        said = str(bad)
    if said:
        assert re.fullmatch(r"filled\.csv, line \d+: .*\.", said)
        assert said.isprintable()
        return
    found = diagnose(net, filled, Predicted(net, filled.rows))
    assert bool(found.likely) <= bool(found.wrong)


@given(st.text(max_size=400))
def test_any_text_is_read_or_refused(text: str) -> None:
    read_or_refuse(text)


@settings(max_examples=150)
@given(st.data())
def test_any_change_of_a_good_sheet_is_read_or_refused(data: st.DataObject) -> None:
    text = good_text()
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(at, min(len(text), at + 12)))
        piece = data.draw(st.one_of(st.text(max_size=6), st.sampled_from(list(';",\n\r\t\0#1k'))))
        text = text[:at] + piece + text[end:]
    read_or_refuse(text)


@given(st.lists(st.text(max_size=12), min_size=1, max_size=9))
def test_any_cells_in_a_row_are_read_or_refused(cells: list[str]) -> None:
    read_or_refuse(good_text().replace("\n1;", "\n" + ";".join(cells) + "\n1;", 1))
