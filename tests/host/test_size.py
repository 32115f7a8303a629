"""`leafwinch size` and the settings it writes: exit codes, files, refusals."""

import json
from pathlib import Path

import pytest

from leafwinch.settings_schema import SCHEMA, settings_from
from leafwinch_sim.settings_file import site_with_settings
from leafwinch_sim.site import load_site, shipped_sites
from leafwinch_wiring.errors import BadInput
from tests.host.command import SITES, assert_one_sentence, leafwinch

Captured = pytest.CaptureFixture[str]


@pytest.mark.parametrize("name", shipped_sites())
def test_a_demo_site_is_a_yes_with_conditions(name: str, capsys: Captured, tmp_path: Path) -> None:
    target, sized = tmp_path / "size.json", tmp_path / "sized.toml"
    said = leafwinch(
        capsys, "size", "--site", name, "--json", str(target), "--settings", str(sized)
    )
    assert said.code == 0
    assert said.err == ""
    data = json.loads(target.read_text("utf-8"))
    words = " ".join(said.out.split())
    assert data["verdict"] == "with conditions"
    for finding in data["findings"]:
        for part in ("what", "why", "change"):
            assert " ".join(finding[part].split()) in words
    for place in data["end_places"]:
        assert place["part"] in words
    assert "licensed electrician" in words
    site = site_with_settings(load_site(name), sized)
    assert site.settings == data["settings"]
    settings_from(site.settings)


def test_a_no_has_exit_code_1(capsys: Captured, tmp_path: Path) -> None:
    path = tmp_path / "weak.toml"
    text = (SITES / "workshop-pit.toml").read_text("utf-8")
    path.write_text(text.replace('line_pull = "1226 N"', 'line_pull = "500 N"'), "utf-8")
    said = leafwinch(capsys, "size", "--site", str(path))
    assert said.code == 1
    assert "winch_too_weak" in said.out
    assert "Do not build it so." in said.out


def test_every_line_of_the_settings_file_says_why(capsys: Captured, tmp_path: Path) -> None:
    sized = tmp_path / "sized.toml"
    leafwinch(capsys, "size", "--site", "workshop-pit", "--settings", str(sized))
    lines = sized.read_text("utf-8").splitlines()
    values = [index for index, line in enumerate(lines) if " = " in line and line[0] != "#"]
    assert len(values) == len(SCHEMA) + 1
    for index in values[1:]:
        assert lines[index - 1].startswith("# ")
        assert ": " in lines[index - 1]


def test_run_and_prove_take_the_sized_settings(capsys: Captured, tmp_path: Path) -> None:
    sized = tmp_path / "my sized.toml"
    leafwinch(capsys, "size", "--site", "workshop-pit", "--settings", str(sized))
    result = tmp_path / "healthy.json"
    said = leafwinch(
        capsys,
        *("healthy", "--site", "workshop-pit", "--settings", str(sized), "--cycles", "2"),
        *("--json", str(result)),
    )
    assert said.code == 0
    played = tmp_path / "run.json"
    said = leafwinch(
        capsys,
        *("run", "--site", "workshop-pit", "--settings", str(sized), "--script", "full-cycle"),
        *("--json", str(played)),
    )
    assert said.code == 0
    assert "running trip 2.5 A" in said.out


def test_wrong_settings_files_are_refused(capsys: Captured, tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"

    def refuse(text: str, *named: str) -> None:
        path.write_text(text, "utf-8")
        with pytest.raises(BadInput) as caught:
            site_with_settings(load_site("workshop-pit"), path)
        for words in named:
            assert words in str(caught.value)
        said = leafwinch(
            capsys,
            *("run", "--site", "workshop-pit", "--script", "full-cycle"),
            *("--settings", str(path)),
        )
        assert_one_sentence(said, str(path))

    refuse("", "empty")
    refuse("[settings]\n", "site", "workshop-pit")
    refuse('site = "boat-slip"\n[settings]\n', "boat-slip", "workshop-pit")
    refuse('site = "workshop-pit"\n', "settings")
    refuse('site = "workshop-pit"\nhat = 1\n[settings]\n', "hat")
    refuse('site = "workshop-pit"\n[settings]\ntrip_ma = "4 A"\n', "trip_ma")
    refuse('site = "workshop-pit"\n[settings]\ntrip_ma = 4\n', "trip_ma", "4")
    refuse('site = "workshop-pit"\n[settings]\nhat = 4\n', "hat")
    refuse('site = "workshop-pit"\n[settings\n', "TOML")
    path.unlink()
    with pytest.raises(BadInput, match="no such file"):
        site_with_settings(load_site("workshop-pit"), path)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("--site", "nowhere"), "nowhere"),
        (("--site", "workshop-pit", "--wiring", "bare"), "no controller"),
        (("--site", "workshop-pit", "--seed", "-1"), "-1"),
        (("--site", "workshop-pit", "--json", "/nowhere/x.json"), "/nowhere"),
        ((), "--site"),
    ],
)
def test_bad_input(capsys: Captured, arguments: tuple[str, ...], named: str) -> None:
    assert_one_sentence(leafwinch(capsys, "size", *arguments), named)


def test_lines_that_repeat_a_run_name_the_file(capsys: Captured, tmp_path: Path) -> None:
    path = tmp_path / "my pit.toml"
    path.write_text((SITES / "workshop-pit.toml").read_text("utf-8"), "utf-8")
    assert load_site(path).options == f"--site '{path}'"
    assert load_site("workshop-pit").options == "--site workshop-pit"
