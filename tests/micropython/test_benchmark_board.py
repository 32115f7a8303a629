"""The figures of `make benchmark` for a board: counted, timed, scaled, and put in words."""

import json
from typing import Any

import pytest

from leafwinch_host import benchmark_board
from leafwinch_host.benchmark_board import CALL_US, IFS_US, Desktop, estimate_ms
from leafwinch_host.firmware_build.build import HOT
from leafwinch_wiring.errors import BadInput

DESKTOP = Desktop(call_us=0.05, ifs_us=0.25)
# What a pass may call of functions written in Python.
CALLS_MOST = {"core": 16, "core and edge": 28}


@pytest.fixture(scope="module")
def found() -> dict[str, Any]:
    return benchmark_board.measure()


def test_calls_cost_what_calls_cost_and_the_rest_is_scaled() -> None:
    assert estimate_ms(0.5, 10, DESKTOP) == pytest.approx(10 * CALL_US / 1000)
    assert estimate_ms(0.25, 0, DESKTOP) == pytest.approx(IFS_US / 1000)
    assert estimate_ms(1.0, 10, DESKTOP) == pytest.approx((10 * CALL_US + 2 * IFS_US) / 1000)
    # A measurement that is shorter than its calls cannot make the rest negative.
    assert estimate_ms(0.1, 10, DESKTOP) == pytest.approx(10 * CALL_US / 1000)


def test_every_part_is_measured_in_every_state(found: dict[str, Any]) -> None:
    rows = {(row["part"], row["what"]): row for row in found["passes"]}
    assert set(rows) == {(part, what) for part in CALLS_MOST for what in benchmark_board.WHAT}
    for (part, what), row in rows.items():
        assert 5 <= row["calls"] <= row["calls_most"] <= CALLS_MOST[part], (part, what)
        for kind in benchmark_board.KINDS:
            assert row["bytes"][kind] == 0, (part, what)
            assert row["desktop_us"][kind] > 0
            assert row["board_ms"][kind] > row["calls"] * CALL_US / 1000 / 3
    for what in benchmark_board.WHAT:
        assert rows["core", what]["calls"] < rows["core and edge", what]["calls"]
    json.dumps(found)


def test_heap_and_machine_code_are_told(found: dict[str, Any]) -> None:
    core, whole = (found["heap_bytes"][part] for part in CALLS_MOST)
    for kind in benchmark_board.KINDS:
        assert 20_000 < core[kind] < whole[kind] < 110_000
    assert core["hot"] < core["plain"]  # machine code lies outside the desktop's heap
    assert 1000 * len(HOT) < found["machine_code_bytes"] < 100_000


def test_the_words_name_what_is_not_in_the_figures(
    found: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    benchmark_board.show(found)
    said = " ".join(capsys.readouterr().out.split())
    assert "Never measured on a board." in said
    assert "interrupts of the sampling" in said
    assert "core and edge raising" in said


def test_without_a_micropython_it_says_so(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def absent() -> dict[str, Any]:
        raise BadInput("There is none.")

    monkeypatch.setattr(benchmark_board, "measure", absent)
    assert benchmark_board.main() == 2
    assert capsys.readouterr().err == "Not measured: There is none.\n"
