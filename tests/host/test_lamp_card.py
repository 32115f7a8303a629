"""The lamp card says what the lamps do, for every fault, on one sheet."""

from pathlib import Path

import pytest

from leafwinch.fault_texts import FAULTS
from leafwinch.states import HELD, IDLE, RAISING
from leafwinch_host.report.lamp_card import (
    BRIGHT,
    DIM,
    Run,
    buzzer_ms,
    codes,
    lamp_card,
    red_runs,
    white_runs,
)
from tests.host.command import assert_one_sentence, leafwinch


def flashes(runs: tuple[Run, ...]) -> tuple[int, int]:
    """Long and short flashes as a person would count them: the longer ones come first."""
    lit = [run.ms for run in runs if run.level == BRIGHT]
    longest = max(lit)
    return sum(ms == longest for ms in lit), sum(ms < longest for ms in lit)


@pytest.mark.parametrize("number", range(1, len(FAULTS) + 1))
def test_code_counts_group_and_item(number: int) -> None:
    assert flashes(red_runs(number)) == FAULTS[number - 1][2:4]


def test_no_two_faults_look_alike() -> None:
    assert len({red_runs(number) for number in range(1, len(FAULTS) + 1)}) == len(FAULTS)


def test_codes_list_every_fault_once_in_the_order_of_the_lamp() -> None:
    listed = codes()
    assert sorted(code.number for code in listed) == list(range(1, len(FAULTS) + 1))
    shown = [FAULTS[code.number - 1][2:4] for code in listed]
    assert shown == sorted(shown)


def test_white_patterns_differ_and_never_go_dark() -> None:
    ready, moving, locked = white_runs(IDLE), white_runs(RAISING), white_runs(HELD)
    assert [run.level for run in ready] == [DIM]
    assert [run.level for run in moving] == [BRIGHT]
    assert {run.level for run in locked} == {DIM, BRIGHT}
    assert all(400 <= run.ms <= 600 for run in locked[1:-1])


def test_buzzer_sounds_a_second() -> None:
    assert 900 <= buzzer_ms(1) <= 1100


def test_card_is_repeatable() -> None:
    first = lamp_card()
    assert first[:5] == b"%PDF-"
    assert first == lamp_card()


def test_card_is_one_sheet() -> None:
    # A picture or drawing of more than one sheet would be refused.
    assert lamp_card("png")[:8] == b"\x89PNG\r\n\x1a\n"
    assert lamp_card("svg").startswith(b"<svg")


def test_command_writes_the_card(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "card.pdf"
    said = leafwinch(capsys, "card", "-o", str(target))
    assert said.code == 0
    assert target.read_bytes() == lamp_card()


def test_command_refuses_another_kind_of_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = leafwinch(capsys, "card", "-o", str(tmp_path / "card.docx"))
    assert_one_sentence(said, "--output", ".docx", ".pdf or .svg or .png")
