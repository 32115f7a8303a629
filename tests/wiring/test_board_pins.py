"""The netlists' board terminals carry what the firmware reads and drives there."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from leafwinch.edge.pins import Board, esp32, pico
from leafwinch_wiring.board_pins import pin_table, terminal_pins
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist

WIRING = Path(__file__).resolve().parents[2] / "wiring"

INPUTS = '"I5", signal = "{}" }},\n  {{ terminal = "I6", signal = "{}" }}'


@pytest.mark.parametrize("make", [pico, esp32])
@pytest.mark.parametrize("name", ["reference", "reference-12v"])
def test_the_shipped_netlists_agree_with_both_boards(name: str, make: Callable[[], Board]) -> None:
    board = make()
    rows = terminal_pins(load_netlist(name), board)
    assert [row.terminal for row in rows[:17]] == [f"I{number}" for number in range(1, 18)]
    assert [row.pin for row in rows[:17]] == list(board.contacts)
    assert [row.terminal for row in rows[17:]] == ["LO", "RO", "DO", "LW", "LR", "BZ", "AP", "24"]
    pins = [row.pin for row in rows]
    assert len(set(pins)) == len(pins) == 25


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        (
            INPUTS.format("top_end", "bottom_end"),
            INPUTS.format("bottom_end", "top_end"),
            "KF1:I5 reads 'bottom_end' in the netlist, but the firmware reads 'top_end' there.",
        ),
        (
            'terminals = ["RI", "RO"], acts = "drive"',
            'terminals = ["RO", "RI"], acts = "drive"',
            "KF1 drives 'raise' at RO-RI, but the board has that driver at RI-RO.",
        ),
        (
            'terminals = ["AP", "AN"], ohm',
            'terminals = ["AP", "0V"], ohm',
            "KF1 has no load between AP and AN, where the firmware measures the motor current.",
        ),
    ],
)
def test_a_difference_is_named(tmp_path: Path, old: str, new: str, sentence: str) -> None:
    for path in WIRING.glob("*.toml"):
        text = path.read_text(encoding="utf-8")
        if path.name == "control-24v.toml":
            assert old in text
            text = text.replace(old, new)
        (tmp_path / path.name).write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match=re.escape(sentence)):
        terminal_pins(load_netlist(tmp_path / "reference.toml"), pico())


def test_a_netlist_without_a_board_has_no_pins() -> None:
    with pytest.raises(BadInput, match=r"^Netlist bare has 0 boards"):
        terminal_pins(load_netlist("bare"), pico())


def test_the_firmware_s_page_shows_the_pins_as_they_are() -> None:
    table = pin_table(load_netlist("reference"), (pico(), esp32()))
    assert table == pin_table(load_netlist("reference-12v"), (pico(), esp32()))
    page = (WIRING.parent / "firmware" / "README.md").read_text(encoding="utf-8")
    assert f"<!-- pins starts -->\n{table}\n<!-- pins ends -->" in page
