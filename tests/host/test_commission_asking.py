"""What is typed at commissioning: numbers, words, the sheet, answers from a file, the keyboard."""

import io
import math
import random
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leafwinch_host.commissioning.asking import AskNumber, AskWords
from leafwinch_host.commissioning.keyboard import AnswerFile, Keyboard
from leafwinch_host.commissioning.results import FAIL, PASS
from leafwinch_host.commissioning.steps_before import BARRIER_MM, EARTH_OHM, judged_sheet
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.miswires import miswires
from leafwinch_wiring.netlist import load_netlist
from leafwinch_wiring.point_sheet import PointSheet, point_sheet
from tests.wiring.filling import filled_text, measured

HEIGHT = AskNumber("height", "Height", "mm", low=BARRIER_MM)


@pytest.mark.parametrize(
    ("answer", "verdict"),
    [("1100 mm", PASS), ("1.1 m", PASS), ("1099 mm", FAIL), ("110 cm", PASS), ("0 mm", FAIL)],
)
def test_a_number_may_have_any_unit_of_its_kind(answer: str, verdict: str) -> None:
    # ISO 14122-3 asks for 1100 mm (from memory).
    found = HEIGHT.judge(answer)
    assert found.verdict == verdict
    assert found.measured[0].unit == "mm"


@pytest.mark.parametrize("answer", ["", "1100", "high", "1100 V", "nan mm", "s", "none"])
def test_what_is_no_number_is_asked_for_again(answer: str) -> None:
    with pytest.raises(ValueError, match="allowed is a number with a unit"):
        HEIGHT.judge(answer)


@given(st.floats(-1e6, 1e6), st.floats(0, 1e3), st.floats(0, 1e3))
def test_a_number_passes_between_its_limits_only(value: float, low: float, more: float) -> None:
    ask = AskNumber("x", "X", "ohm", low=low, high=low + more)
    found = ask.judge(f"{value:.5f} ohm")
    kept = round(float(f"{value:.5f}"), 6)
    assert (found.verdict == PASS) == (low <= kept <= low + more)


def test_none_fails_where_a_place_was_to_be_found() -> None:
    ask = AskNumber("it operates at", "Place", "deg", 78.5, 79.5, none="it does not operate")
    found = ask.judge(" None ")
    assert (found.verdict, found.why) == (FAIL, "it does not operate")


def test_open_limits_are_said_in_words() -> None:
    assert HEIGHT.required() == "at least 1100 mm"
    assert AskNumber("e", "E", "ohm", high=EARTH_OHM).required() == "at most 0.3 ohm"
    assert AskNumber("e", "E", "ohm").required() == ""
    assert math.isinf(AskNumber("e", "E", "ohm").high)


def test_words_are_judged() -> None:
    lamp = AskWords("lamp", "Lamp", ("dark", "dim"), ("dim",), "the lamp is dead")
    assert lamp.judge(" DIM ").verdict == PASS
    assert lamp.judge("dark").why == "the lamp is dead"
    with pytest.raises(ValueError, match="allowed are dark, dim"):
        lamp.judge("red")
    with pytest.raises(ValueError, match="words are needed"):
        AskWords("name", "Name").judge("  ")


@pytest.fixture(scope="module")
def sheet() -> PointSheet:
    """A small sheet, quickly made."""
    return point_sheet(load_netlist("bare"), seconds=0.0)


def context(net: Any) -> Any:
    """Return what judging a sheet needs of a context."""
    return SimpleNamespace(net=net)


def test_a_sound_sheet_passes_and_a_wrong_one_names_the_mistake(
    sheet: PointSheet, tmp_path: Path
) -> None:
    net = load_netlist("bare")
    path = tmp_path / "filled.csv"
    path.write_text(filled_text(sheet, measured(net, sheet, None, random.Random(1))))
    found = judged_sheet(context(net), str(path))
    assert found.verdict == PASS, found.why
    assert len(str(found.measured[1].value)) == 64

    wrong = next(item for item in miswires(net) if not item.harmless and item.kind == "left-out")
    path.write_text(filled_text(sheet, measured(net, sheet, wrong, random.Random(1))))
    found = judged_sheet(context(net), str(path))
    assert found.verdict == FAIL
    assert "likeliest" in found.why


def test_a_sheet_with_a_row_left_out_fails(sheet: PointSheet, tmp_path: Path) -> None:
    net = load_netlist("bare")
    values = measured(net, sheet, None, random.Random(1))
    values[3] = ""
    path = tmp_path / "filled.csv"
    path.write_text(filled_text(sheet, values))
    found = judged_sheet(context(net), str(path))
    assert (found.verdict, found.why) == (FAIL, "1 rows of the sheet have no reading")


@pytest.mark.parametrize("data", [None, b"\xff\xfe", b"nothing\n", b"x" * (2 << 20)])
def test_a_sheet_that_is_none_is_one_sentence(data: bytes | None, tmp_path: Path) -> None:
    path = tmp_path / "filled.csv"
    if data is not None:
        path.write_bytes(data)
    with pytest.raises(BadInput) as raised:
        judged_sheet(context(load_netlist("bare")), str(path))
    assert str(path.name) in str(raised.value)


def test_answers_come_from_a_file_in_order(tmp_path: Path) -> None:
    path = tmp_path / "answers.txt"
    path.write_text("# remark\n\ns no meter\n1100 mm\n", encoding="utf-8")
    answers = AnswerFile(path)
    assert [answers.reply("a"), answers.reply("b"), answers.reply("c")] == [
        "",
        "s no meter",
        "1100 mm",
    ]
    assert answers.glance("d") is None
    with pytest.raises(BadInput, match="3 answers, but 'barrier:height' wants one more"):
        answers.reply("barrier:height")
    with pytest.raises(BadInput, match="can't be read"):
        AnswerFile(tmp_path / "missing")
    path.write_bytes(b"\xff")
    with pytest.raises(BadInput, match="no UTF-8 text"):
        AnswerFile(path)


def test_the_end_of_the_keyboard_leaves(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("s no time \n"))
    keyboard = Keyboard()
    assert keyboard.reply("people:begin") == "s no time"
    assert keyboard.reply("barrier:begin") == "q"
    assert keyboard.glance("prop:begin") is None
