"""`leafwinch run`: exit codes, what it says, and the files it writes."""

import json
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from leafwinch.requirement_limits import REQUIREMENTS
from leafwinch.settings_schema import settings_from
from leafwinch.states import STATE_NAMES
from leafwinch_host.cli import main
from leafwinch_sim.scripts import shipped_scripts
from leafwinch_sim.site import load_site, shipped_sites
from leafwinch_wiring.netlist import load_netlist
from tests.host.command import Said, leafwinch

Captured = pytest.CaptureFixture[str]
JSON_KEYS = {
    "state",
    "fault",
    "requirements",
    "travel_s",
    "peak_rope_n",
    "peak_current_a",
    "overrun_mm",
    "interpreter",
    "hash",
}


def run(capsys: Captured, folder: Path, *arguments: str) -> tuple[Said, dict[str, Any]]:
    """Run a full cycle at the workshop pit and read its JSON back."""
    target = folder / "run.json"
    said = leafwinch(
        capsys,
        *("run", "--site", "workshop-pit", "--script", "full-cycle", "--json", str(target)),
        *arguments,
    )
    return said, json.loads(target.read_text(encoding="utf-8"))


def test_a_healthy_cycle_holds(capsys: Captured, tmp_path: Path) -> None:
    said, result = run(capsys, tmp_path)
    assert said.code == 0
    assert said.err == ""
    assert result.keys() >= JSON_KEYS
    assert result["state"] == "idle"
    assert result["fault"] is None
    assert set(result["requirements"].values()) == {"holds"}
    assert set(result["requirements"]) <= {name for name, _, _ in REQUIREMENTS}
    site = load_site("workshop-pit")
    settings = settings_from(site.settings)
    assert 40 < result["travel_s"] < (settings.budget_raise_ms + settings.budget_lower_ms) / 1000
    assert 500 < result["peak_rope_n"] < site.rope.breaking_force / 5
    assert 1 < result["peak_current_a"] < settings.inrush_trip_ma / 1000
    assert 0 < result["overrun_mm"] < 100
    assert result["interpreter"] == "cpython"
    assert result["netlist"] == load_netlist(site.wiring).content_hash


def test_the_summary_says_what_the_json_says(capsys: Captured, tmp_path: Path) -> None:
    said, result = run(capsys, tmp_path)
    words = " ".join(said.out.split())
    assert f"It ended in {result['state']}:" in words
    assert "No fault." in words
    assert f"{result['travel_s']:.1f} s with the motor fed" in words
    assert f"{result['peak_rope_n']:.0f} N" in words
    assert f"{result['overrun_mm']:.1f} mm" in words
    assert words.count(" holds") == len(result["requirements"])
    assert "never measured on a physical board" in words
    assert "licensed electrician" in words


@pytest.mark.parametrize("site", shipped_sites())
@pytest.mark.parametrize("script", shipped_scripts())
def test_every_script_holds_on_every_site(capsys: Captured, site: str, script: str) -> None:
    said = leafwinch(capsys, "run", "--site", site, "--script", script)
    assert (said.code, said.err) == (0, ""), said.out


def test_a_defect_is_named_with_cause_and_remedy(capsys: Captured, tmp_path: Path) -> None:
    said, result = run(capsys, tmp_path, "--defect", "obstacle_above", "--at", "12")
    assert result["state"] == "fault"
    assert result["fault"]
    assert result["fault"].replace("_", " ") in said.out
    assert "Look at:" in said.out
    assert "Lamp code" in said.out
    assert result["defects"] == [{"defect": "obstacle_above", "at_s": 12.0}]


def test_the_bare_way_breaks_with_exit_code_one(capsys: Captured, tmp_path: Path) -> None:
    # A welded limit is the plainest way to drive the usual bare circuit past its end.
    said, result = run(
        capsys, tmp_path, "--wiring", "bare", "--defect", "top_end_cam_lost", "--at", "5"
    )
    assert said.code == 1
    broken = {name: at for name, at in result["requirements"].items() if at != "holds"}
    assert "R2" in broken
    assert 5 < broken["R2"] < 120
    assert "BROKEN at" in said.out


def test_two_runs_agree_to_the_last_bit_and_seeds_differ(capsys: Captured, tmp_path: Path) -> None:
    _, first = run(capsys, tmp_path)
    _, again = run(capsys, tmp_path)
    _, other = run(capsys, tmp_path, "--seed", "2")
    assert first == again
    assert first["hash"] != other["hash"]


def test_plot_and_trace_are_written(capsys: Captured, tmp_path: Path) -> None:
    svg, png, trace = tmp_path / "run.svg", tmp_path / "run.png", tmp_path / "run.csv"
    run(capsys, tmp_path, "--plot", str(svg), "--trace", str(trace))
    run(capsys, tmp_path, "--plot", str(png))
    words = "".join(ET.parse(svg).getroot().itertext())
    assert "workshop-pit" in words
    assert "trip" in words
    with Image.open(png) as picture:
        assert picture.size > (1200, 800)
        assert len(picture.convert("RGB").getcolors(10**6) or ()) > 200
    lines = trace.read_text(encoding="utf-8").splitlines()
    comments = [line for line in lines if line.startswith("#")]
    assert "# site: workshop-pit" in comments
    header = lines[len(comments)].split(",")
    rows = [dict(zip(header, line.split(","), strict=True)) for line in lines[len(comments) + 1 :]]
    assert len(rows) > 8000
    assert [int(row["t_ms"]) for row in rows[:3]] == [5, 10, 15]
    states = {STATE_NAMES[int(row["state"])] for row in rows}
    assert {"idle", "raising", "lowering", "held"} <= states
    assert max(float(row["angle_deg"]) for row in rows) > 75
    # The cut-off chain is live, and an end opens at the top and at the bottom.
    assert {row["contacts.top_end"] for row in rows} == {"0", "1"}
    assert {row["contacts.bottom_end"] for row in rows} == {"0", "1"}


def test_a_site_file_is_as_good_as_a_name(capsys: Captured, tmp_path: Path) -> None:
    from tests.host.command import SITES

    copy = tmp_path / "copy.toml"
    copy.write_bytes((SITES / "boat-slip.toml").read_bytes())
    by_file = leafwinch(capsys, "run", "--site", str(copy), "--script", "full-cycle")
    by_name = leafwinch(capsys, "run", "--site", "boat-slip", "--script", "full-cycle")
    assert by_file == by_name


def test_interrupting_leaves_with_130(capsys: Captured, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("leafwinch_host.commands.run.run_script", interrupted)
    said = leafwinch(capsys, "run", "--site", "workshop-pit", "--script", "full-cycle")
    assert said.code == 130
    assert said.err.count("\n") == 1


def test_without_a_command_the_help_is_shown(capsys: Captured) -> None:
    said = leafwinch(capsys)
    assert said.code == 2
    for command in ("run", "prove", "sites"):
        assert command in said.out


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_help_and_version_exit_with_zero(capsys: Captured, option: str) -> None:
    with pytest.raises(SystemExit) as left:
        main([option])
    assert left.value.code == 0
    assert "leafwinch" in capsys.readouterr().out
