"""`leafwinch explore`: what it says and writes, its bound, and its refusals."""

import json
from pathlib import Path

import pytest

from leafwinch_host.commands import explore as command
from leafwinch_sim.explore.exploration import Exploration
from leafwinch_sim.explore.extents import TRAVELS
from tests.host.command import assert_one_sentence, leafwinch


def test_an_exploration_says_and_writes_what_it_found(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    target = tmp_path / "explore.json"
    said = leafwinch(
        capsys, "explore", "--site", "boat-slip", "--extent", "travels", "--json", str(target)
    )
    assert said.code == 0, said.err
    assert "travels holds" in said.out
    assert "thermal: currents lie far below the thermal base" in said.out
    content = json.loads(target.read_text(encoding="utf-8"))
    (row,) = content["explorations"]
    assert (content["site"], content["complete"], row["verdict"]) == ("boat-slip", True, "holds")
    assert row["states"] == sum(row["by_state"].values()) > 100
    assert row["settings"]["current_signed"] == 1
    assert set(content["faults_not_reached"]) & set(row["faults"]) == set()


def test_a_bound_is_said_and_counts_as_not_proven(capsys: pytest.CaptureFixture[str]) -> None:
    said = leafwinch(
        capsys, "explore", "--site", "workshop-pit", "--extent", "power", "--passes-max", "900"
    )
    assert said.code == 1
    assert "power stopped at its bound" in said.out


def test_an_unknown_extent_or_bound_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    said = leafwinch(capsys, "explore", "--site", "workshop-pit", "--extent", "everything")
    assert_one_sentence(said, "everything", "travels")
    said = leafwinch(capsys, "explore", "--site", "workshop-pit", "--passes-max", "0")
    assert_one_sentence(said, "--passes-max", "'0'")


def test_the_keyboard_stops_it_between_two_explorations(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    real = command.explored

    def stopped(*arguments: object) -> tuple[Exploration, float]:
        if arguments[0] is not TRAVELS:
            raise KeyboardInterrupt
        return real(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(command, "explored", stopped)
    target = tmp_path / "explore.json"
    said = leafwinch(capsys, "explore", "--site", "workshop-pit", "--json", str(target))
    assert said.code == 130
    assert "stopped from the keyboard during 'power'" in said.err
    content = json.loads(target.read_text(encoding="utf-8"))
    assert not content["complete"]
    assert [row["extent"]["name"] for row in content["explorations"]] == ["travels"]
