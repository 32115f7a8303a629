"""`leafwinch replay`: exit codes, what it says, and the files it writes."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from leafwinch_sim.scenario import Scenario, scenario_text
from leafwinch_sim.scripts import Step
from tests.host.command import assert_one_sentence, leafwinch

HOLDS = Scenario(
    name="slipped",
    summary="the control's contact welds in motion",
    seed=4,
    mend_at_end=False,
    acts=(
        Step("wait", "", 2000, "idle", ""),
        Step("raise", "", 1500, "", ""),
        Step("break", "SF1.raise_no:welded", 500, "", ""),
        Step("release", "", 1000, "", ""),
    ),
)
BREAKS = replace(
    HOLDS,
    wiring="bare",
    acts=(Step("break", "SF1.raise_1:welded", 0, "", ""), *HOLDS.acts[1:2], *HOLDS.acts[3:]),
)


def written(folder: Path, scenario: Scenario) -> str:
    path = folder / "mine.toml"
    path.write_text(scenario_text(scenario), encoding="utf-8")
    return str(path)


def test_a_scenario_that_holds(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    names = {option: tmp_path / f"it.{option}" for option in ("png", "csv", "json")}
    said = leafwinch(
        capsys,
        *("replay", written(tmp_path, HOLDS), "--plot", str(names["png"])),
        *("--trace", str(names["csv"]), "--json", str(names["json"])),
    )
    assert said.code == 0
    assert said.err == ""
    assert "the control's contact welds in motion" in said.out
    assert "act 4: release for 1 s" in said.out
    result = json.loads(names["json"].read_text(encoding="utf-8"))
    assert result["fault"] == "raise_contact_stuck"
    assert [row["defect"] for row in result["defects"]] == ["SF1.raise_no:welded"]
    assert set(result["requirements"].values()) == {"holds"}
    lines = names["csv"].read_text(encoding="utf-8").splitlines()
    header = next(number for number, line in enumerate(lines) if line.startswith("t_ms"))
    last_ms = int(lines[-1].split(",")[0])
    assert last_ms == 5 * (len(lines) - 1 - header)
    assert "# defects: SF1.raise_no:welded at" in "\n".join(lines[:header])
    with Image.open(names["png"]) as picture:
        assert picture.width > 800


def test_a_scenario_that_breaks(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    said = leafwinch(capsys, "replay", written(tmp_path, BREAKS))
    assert said.code == 1
    assert "R1 broken: the motor was fed" in said.out
    assert "BROKEN" in said.out


def test_bad_input_gets_one_sentence(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert_one_sentence(leafwinch(capsys, "replay", str(tmp_path / "none.toml")), "none.toml")
    path = tmp_path / "bad.toml"
    path.write_text('site = "workshop-pit"\n[[act]]\ndo = "fly"\n', encoding="utf-8")
    assert_one_sentence(leafwinch(capsys, "replay", str(path)), "bad.toml", "act 1", "fly")
    good = written(tmp_path, HOLDS)
    assert_one_sentence(leafwinch(capsys, "replay", good, "--plot", "x.gif"), "x.gif", ".png")
    unknown = written(tmp_path, replace(HOLDS, acts=(Step("break", "nothing", 0, "", ""),)))
    assert_one_sentence(leafwinch(capsys, "replay", unknown), "nothing", "workshop-pit")


def test_a_line_that_a_proof_printed(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    line = "leafwinch run --site workshop-pit --wiring bare --script full-cycle --seed 3"
    target = tmp_path / "it.json"
    defect = "--defect SF1.raise_1:welded --at 1"
    said = leafwinch(capsys, "replay", f"{line} {defect}", "--json", str(target))
    assert said.code == 1
    assert json.loads(target.read_text(encoding="utf-8"))["requirements"]["R1"] != "holds"
    assert_one_sentence(leafwinch(capsys, "replay", f"{line} --speed 3"), "--speed")
    assert_one_sentence(leafwinch(capsys, "replay", f"{line} 'odd"), "The line is not a command")
