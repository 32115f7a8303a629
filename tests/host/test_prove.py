"""`leafwinch prove`: exit codes, files, progress, and leaving on Ctrl-C."""

import json
import os
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

from leafwinch_host.commands import prove as command
from leafwinch_host.report import beside_bare
from leafwinch_sim.campaign import prove
from tests.host.command import leafwinch
from tests.host.report_page import read_page

Captured = pytest.CaptureFixture[str]
JSON_KEYS = {
    "verdict",
    "site",
    "wiring",
    "faults",
    "moments",
    "runs",
    "broken",
    "latent",
    "unpreventable",
    "undetected",
    "worst_overrun_mm",
    "worst_reaction_ms",
    "seed",
    "versions",
}


def only(monkeypatch: pytest.MonkeyPatch, *defects: str) -> None:
    """Let the command prove a few defects, since all of them take minutes."""
    monkeypatch.setattr(command, "prove", partial(prove, only=defects))
    bare = ("SF1.raise_1:welded",)
    monkeypatch.setattr(beside_bare, "prove", partial(prove, only=bare))


def test_holding_exits_with_zero_and_writes_both_files(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    only(monkeypatch, "BG1.path:welded", "SF0.path:welded")
    json_file, html_file = tmp_path / "proof.json", tmp_path / "proof.html"
    said = leafwinch(
        capsys,
        *("prove", "--site", "workshop-pit", "--workers", "1", "--seed", "3"),
        *("--json", str(json_file), "--html", str(html_file), "--keep", str(tmp_path)),
    )
    assert said.code == 0
    result = json.loads(json_file.read_text(encoding="utf-8"))
    assert result.keys() >= JSON_KEYS
    assert (result["verdict"], result["broken"], result["undetected"]) == ("holds", [], [])
    assert (result["faults"], result["seed"]) == (2, 3)
    assert result["moments"] >= 24
    assert result["runs"] == 2 * result["moments"]
    page = read_page(html_file.read_text(encoding="utf-8"))
    assert page.texts["verdict"].strip().startswith("Holds")
    assert f"{result['runs']}/{result['runs']}" in said.err.replace(" ", "")
    assert "never measured on a physical board" in " ".join(said.out.split())


def test_breaking_exits_with_one_and_prints_commands_that_break_again(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    only(monkeypatch, "BG1.path:welded", "bridge:W3.1-W3.2")
    said = leafwinch(
        capsys, "prove", "--site", "workshop-pit", "--wiring", "bare", "--workers", "1"
    )
    assert said.code == 1
    commands = [
        line.split("leafwinch ", 1)[1]
        for line in said.out.splitlines()
        if " leafwinch run " in line
    ]
    assert len(commands) >= 2
    for line in commands:
        # The command is the one a person pastes, so it must break by itself.
        again = leafwinch(capsys, *line.split())
        assert again.code == 1, line
        assert "BROKEN at" in again.out


def test_the_result_does_not_depend_on_the_number_of_workers(
    capsys: Captured, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    only(monkeypatch, "BG2.path:welded", "SF0.path:welded", "QA1.mirror:stuck-open")
    texts = []
    for workers in ("1", "2"):
        target = tmp_path / f"{workers}.json"
        keep = ("--keep", str(tmp_path / workers))
        arguments = ("prove", "--site", "boat-slip", "--workers", workers, "--json", str(target))
        assert leafwinch(capsys, *arguments, *keep).code in (0, 1)
        result = json.loads(target.read_text(encoding="utf-8"))
        assert result.pop("seconds") >= 0
        texts.append(json.dumps(result))
    assert texts[0] == texts[1]


def wait_for_workers(pid: int) -> None:
    """Wait until the program has started its workers; a fixed time where that can't be seen."""
    children = Path(f"/proc/{pid}/task/{pid}/children")
    if not children.exists():
        time.sleep(10)
        return
    for _ in range(600):
        if len(children.read_text(encoding="ascii").split()) >= 2:
            break
        time.sleep(0.1)
    time.sleep(1)


@pytest.mark.parametrize("whom", ["the program", "its whole process group"])
def test_interrupting_says_what_was_done_and_leaves_nothing(tmp_path: Path, whom: str) -> None:
    program = Path(sys.executable).with_name("leafwinch")
    target = tmp_path / "proof.json"
    running = subprocess.Popen(
        [
            program,
            *["prove", "--site", "workshop-pit", "--workers", "2", "--keep"],
            tmp_path,
            "--json",
            target,
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    wait_for_workers(running.pid)
    assert running.poll() is None, "all defects of a site take longer than this"
    kill = os.kill if whom == "the program" else os.killpg
    kill(running.pid, signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 130
    assert out == ""
    assert "Traceback" not in err
    assert "stopped from the keyboard" in err
    assert "no report was written" in " ".join(err.split())
    assert not target.exists()
    with pytest.raises(ProcessLookupError):
        # Signal 0 asks whether anybody of the group is left.
        os.killpg(running.pid, 0)
