"""`leafwinch healthy`: exit codes, files, and going on after an interruption."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.host.command import SITES, assert_one_sentence, changed, leafwinch
from tests.host.report_page import read_page

Captured = pytest.CaptureFixture[str]


def test_sound_cycles_exit_with_zero_and_are_drawn(capsys: Captured, tmp_path: Path) -> None:
    data, html = tmp_path / "h.json", tmp_path / "h.html"
    said = leafwinch(
        capsys,
        *("healthy", "--site", "boat-slip", "--cycles", "3", "--first", "7"),
        *("--json", str(data), "--html", str(html)),
    )
    assert said.code == 0, said.err
    result = json.loads(data.read_text(encoding="utf-8"))
    assert (result["verdict"], result["cycles"], result["first_seed"]) == ("holds", 3, 7)
    page = read_page(html.read_text(encoding="utf-8"))
    assert page.open_tags == []
    assert page.links == []
    assert page.texts["verdict"].strip().startswith("Holds: in 3 healthy cycles")
    figures = {row[0]: row for row in page.tables["figures"][1:]}
    for row in result["margins"]:
        assert figures[row["words"]][5] == f"{100 * row['worst']:.1f} %"
        assert row["fault"].replace("_", " ") in said.out
    worst = [float(row[5].removesuffix(" %")) for row in page.tables["figures"][1:]]
    assert worst == sorted(worst, reverse=True)


def test_a_trip_level_set_too_low_exits_with_one(capsys: Captured, tmp_path: Path) -> None:
    html = tmp_path / "h.html"
    said = leafwinch(
        capsys, "healthy", "--site", "boat-slip", "--cycles", "1", "--canary", "--html", str(html)
    )
    assert said.code == 1
    assert "current trip in 1" in " ".join(said.out.split())
    page = read_page(html.read_text(encoding="utf-8"))
    assert page.tables["wrong"][1][:2] == ["1", "current trip"]
    assert page.texts["verdict"].strip().startswith("Broken: 1 of 1")


def test_an_early_limit_set_too_long_exits_with_one(capsys: Captured, tmp_path: Path) -> None:
    pit = SITES / "workshop-pit.toml"
    site = changed(tmp_path, pit, "early_raise_ms = 24000", "early_raise_ms = 29090")
    said = leafwinch(capsys, "healthy", "--site", str(site), "--cycles", "1")
    assert said.code == 1, said.out
    assert "travel early" in said.out


def test_bad_input_is_one_sentence(capsys: Captured, tmp_path: Path) -> None:
    pit = ("healthy", "--site", "workshop-pit")
    assert_one_sentence(leafwinch(capsys, *pit, "--cycles", "0"), "--cycles", "0")
    assert_one_sentence(leafwinch(capsys, *pit, "--wiring", "bare"), "no controller")
    target = tmp_path / "h.json"
    target.with_name("h.json.cycles").write_text("nothing\n", encoding="utf-8")
    assert_one_sentence(leafwinch(capsys, *pit, "--json", str(target)), "line 1", "no cycle")


def test_interrupted_it_goes_on_where_it_stopped(capsys: Captured, tmp_path: Path) -> None:
    program = Path(sys.executable).with_name("leafwinch")
    target = tmp_path / "h.json"
    kept = target.with_name("h.json.cycles")
    arguments = ["healthy", "--site", "boat-slip", "--workers", "2", "--json", str(target)]
    running = subprocess.Popen(
        [program, *arguments, "--cycles", "5000"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        env={**os.environ, "LEAFWINCH_BUILD": "plain"},  # as the rest of this test
    )
    for _ in range(600):
        if kept.exists() and len(kept.read_text(encoding="utf-8").splitlines()) >= 2:
            break
        time.sleep(0.1)
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=60)
    assert running.returncode == 130
    assert "Traceback" not in err
    assert "stopped from the keyboard after" in " ".join(err.split())
    done = json.loads(target.read_text(encoding="utf-8"))["cycles"]
    assert 2 <= done < 5000
    said = leafwinch(capsys, *arguments, "--cycles", str(done))
    assert said.code == 0
    result = json.loads(target.read_text(encoding="utf-8"))
    assert (result["cycles"], result["complete"]) == (done, True)
