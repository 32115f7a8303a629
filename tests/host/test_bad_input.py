"""Whatever a person gets wrong is answered with one clear sentence and exit code 2."""

import os
import random
import subprocess
import sys
from pathlib import Path

import pytest

from tests.host.command import NETLISTS, SCRIPTS, SITES, assert_one_sentence, changed, leafwinch

Captured = pytest.CaptureFixture[str]
PIT = SITES / "workshop-pit.toml"
CYCLE = SCRIPTS / "full-cycle.toml"
REFERENCE = NETLISTS / "reference.toml"

# (old, new, words that the sentence must contain)
SITE_MISTAKES = {
    "key missing": ('end_mass = "4 kg"', "", ("deck.end_mass", "missing")),
    "key unknown": ('board = "pico"', 'board = "pico"\ncolour = "red"', ("colour", "not known")),
    "unit wrong": ('length = "1.25 m"', 'length = "1.25 kg"', ("leaf_a.length", "1.25 kg")),
    "unit absent": ('length = "1.25 m"', "length = 1.25", ("leaf_a.length", "1.25")),
    "unit unknown": ('length = "1.25 m"', 'length = "1.25 paces"', ("leaf_a.length", "paces")),
    "number absurd": ('length = "1.25 m"', 'length = "-2 m"', ("leaf_a.length",)),
    "number not finite": ('length = "1.25 m"', 'length = "1e999 m"', ("leaf_a.length",)),
    "wall beyond reach": ('wall = "88 deg"', 'wall = "83 deg"', ("buffer.place", "buffer.wall")),
    "centre outside leaf": ('centre = "0.625 m"', 'centre = "1.6 m"', ("centre", "1.6")),
    "leaf B too short": (
        '[deck.leaf_b]                 # runs on the wheels\nlength = "1.25 m"',
        '[deck.leaf_b]\nlength = "0.7 m"',
        ("buffer.wall", "fold"),
    ),
    "final before end": ('at = "82 deg"', 'at = "70 deg"', ("top_final", "top_end")),
    "bottom final can't feel": (
        'senses = "drum_turns"\noperates = "below"\nat = "3.6 turn"',
        'senses = "leaf_angle"\noperates = "below"\nat = "0.1 deg"',
        ("bottom_final", "drum_turns"),
    ),
    "not TOML": ("[deck]", "[deck", ("TOML", "line")),
    "setting unknown": ("[settings]", "[settings]\npause_minutes = 3", ("pause_minutes",)),
    "setting out of range": (
        "leave_top_ms = ",
        "leave_top_ms = 7 # ",
        ("leave_top_ms is 7", "500"),
    ),
    "settings contradict": ("run_max_ma = ", "run_max_ma = 499999 # ", ("run_max_ma", "trip_ma")),
}

SCRIPT_MISTAKES = {
    "asks both ways": ('do = "raise"', 'do = "raise lower"', ("step 2", "both ways")),
    "verb unknown": ('do = "raise"', 'do = "fly"', ("step 2", "fly")),
    "object unknown": ('do = "raise"', 'do = "press doorbell"', ("step 2", "doorbell")),
    "key unknown": ('do = "raise"', 'do = "raise"\nspeed = "fast"', ("step 2", "speed")),
    "unit wrong": ('at_most = "60 s"', 'at_most = "60 m"', ("step 2", "60 m")),
    "condition unknown": ('until = "top_end"', 'until = "dawn"', ("step 2", "dawn")),
    "key missing": ('do = "raise"\n', "", ("step 2", "'do'")),
}

NETLIST_MISTAKES = {
    "part kind unknown": ('kind = "motor"', 'kind = "teapot"', ("teapot",)),
    "key unknown": ('drive = "capacitor_run"', 'drive = "capacitor_run"\nmood = 1', ("mood",)),
    "key missing": ('drive = "capacitor_run"\n', "", ("drive", "missing")),
}


def run_site(capsys: Captured, site: Path) -> object:
    return leafwinch(capsys, "run", "--site", str(site), "--script", "full-cycle")


@pytest.mark.parametrize("mistake", SITE_MISTAKES)
@pytest.mark.parametrize("command", ["run", "prove"])
def test_site(capsys: Captured, tmp_path: Path, mistake: str, command: str) -> None:
    old, new, words = SITE_MISTAKES[mistake]
    site = changed(tmp_path, PIT, old, new)
    extra = ("--script", "full-cycle") if command == "run" else ()
    said = leafwinch(capsys, command, "--site", str(site), *extra)
    # Settings are named by the site; everything else by the file.
    assert_one_sentence(said, "workshop-pit", *words)


@pytest.mark.parametrize("mistake", SCRIPT_MISTAKES)
def test_script(capsys: Captured, tmp_path: Path, mistake: str) -> None:
    old, new, words = SCRIPT_MISTAKES[mistake]
    script = changed(tmp_path, CYCLE, old, new)
    said = leafwinch(capsys, "run", "--site", "workshop-pit", "--script", str(script))
    assert_one_sentence(said, str(script), *words)


@pytest.mark.parametrize("mistake", NETLIST_MISTAKES)
@pytest.mark.parametrize("command", ["run", "prove"])
def test_netlist(capsys: Captured, tmp_path: Path, mistake: str, command: str) -> None:
    old, new, words = NETLIST_MISTAKES[mistake]
    netlist = with_neighbours(tmp_path, old, new)
    extra = ("--script", "full-cycle") if command == "run" else ()
    said = leafwinch(capsys, command, "--site", "workshop-pit", "--wiring", str(netlist), *extra)
    assert_one_sentence(said, "reference.toml", *words)


def with_neighbours(folder: Path, old: str, new: str) -> Path:
    """Copy every netlist, since one may include another, and change the reference."""
    for path in NETLISTS.glob("*.toml"):
        (folder / path.name).write_bytes(path.read_bytes())
    return changed(folder, REFERENCE, old, new)


def test_netlist_with_a_node_used_once(capsys: Captured, tmp_path: Path) -> None:
    netlist = with_neighbours(tmp_path, "[[part]]", "[[part]]")
    text = netlist.read_text(encoding="utf-8")
    lines = text.splitlines(keepends=True)
    first = next(i for i, line in enumerate(lines) if line.strip().startswith('["'))
    terminals = lines[first].split('"')[1], lines[first].split('"')[3]
    del lines[first]
    netlist.write_text("".join(lines), encoding="utf-8")
    said = leafwinch(
        capsys,
        *("run", "--site", "workshop-pit", "--script", "full-cycle", "--wiring", str(netlist)),
    )
    assert_one_sentence(said, "reference.toml")
    assert any(terminal in said.err for terminal in terminals)


RUBBISH = {
    "binary": random.Random(7).randbytes(4096),
    "zeros": bytes(2000),
    "empty": b"",
    "blank": b" \n\n\t\n",
    "a picture": b"\x89PNG\r\n\x1a\n" + random.Random(8).randbytes(600),
    "valid TOML of something else": b'[tool]\nname = "other"\n',
    "deep nesting": b"a = " + b"[" * 5000,
}


@pytest.mark.parametrize("option", ["--site", "--script", "--wiring"])
@pytest.mark.parametrize("rubbish", RUBBISH)
def test_rubbish(capsys: Captured, tmp_path: Path, option: str, rubbish: str) -> None:
    path = tmp_path / "thing.toml"
    path.write_bytes(RUBBISH[rubbish])
    chosen = {"--site": "workshop-pit", "--script": "full-cycle", option: str(path)}
    arguments = [word for pair in chosen.items() for word in pair]
    said = leafwinch(capsys, "run", *arguments)
    assert_one_sentence(said, "thing.toml")


@pytest.mark.parametrize("option", ["--site", "--script", "--wiring"])
@pytest.mark.parametrize("name", ["nowhere.toml", "no-such-name", "", ".", "../", "a\nb"])
def test_absent(capsys: Captured, option: str, name: str) -> None:
    chosen = {"--site": "workshop-pit", "--script": "full-cycle", option: name}
    arguments = [f"{key}={value}" for key, value in chosen.items()]
    assert_one_sentence(leafwinch(capsys, "run", *arguments))


RUN = ("run", "--site", "workshop-pit", "--script", "full-cycle")
OPTION_MISTAKES = {
    "command unknown": (("fly",), ("fly",)),
    "option unknown": ((*RUN, "--speed", "9"), ("--speed",)),
    "option shortened": ((*RUN, "--inter", "cpython"), ("--inter",)),
    "site missing": (("run", "--script", "full-cycle"), ("--site",)),
    "script missing": (("run", "--site", "workshop-pit"), ("--script",)),
    "value missing": ((*RUN, "--seed"), ("--seed",)),
    "seed not whole": ((*RUN, "--seed", "1.5"), ("--seed", "1.5")),
    "seed negative": ((*RUN, "--seed", "-1"), ("--seed",)),
    "time negative": ((*RUN, "--defect", "rope_parted", "--at=-1"), ("--at",)),
    "time not a number": ((*RUN, "--defect", "rope_parted", "--at", "nan"), ("--at", "nan")),
    "time without defect": ((*RUN, "--at", "3"), ("--at", "--defect")),
    "defect unknown": (
        (*RUN, "--defect", "rope_partd", "--at", "3"),
        ("rope_partd", "rope_parted"),
    ),
    "interpreter unknown": ((*RUN, "--interpreter", "abacus"), ("abacus", "micropython")),
    "wiring of another motor": (
        (*RUN, "--wiring", "reference-12v"),
        ("capacitor", "reference-12v"),
    ),
    "plot ending": ((*RUN, "--plot", "run.gif"), ("run.gif", ".svg", ".png")),
    "plot folder": ((*RUN, "--plot", "no/such/run.svg"), ("no/such",)),
    "json is a folder": ((*RUN, "--json", "."), ("folder",)),
    "workers none": (("prove", "--site", "workshop-pit", "--workers", "0"), ("--workers",)),
    "html folder": (("prove", "--site", "workshop-pit", "--html", "no/r.html"), ("'no'",)),
    "defects of nothing": (("sites", "--defects", "nowhere"), ("nowhere", "workshop-pit")),
}


@pytest.mark.parametrize("mistake", OPTION_MISTAKES)
def test_options(capsys: Captured, mistake: str) -> None:
    arguments, words = OPTION_MISTAKES[mistake]
    assert_one_sentence(leafwinch(capsys, *arguments), *words)


def test_no_run_is_wasted_on_a_file_that_can_not_be_written(
    capsys: Captured, tmp_path: Path
) -> None:
    # The folder is asked about first, so nothing was simulated and nothing printed.
    said = leafwinch(capsys, *RUN, "--json", str(tmp_path / "absent" / "run.json"))
    assert_one_sentence(said, "absent")


def test_the_installed_command_refuses_without_a_traceback() -> None:
    command = Path(sys.executable).with_name("leafwinch")
    done = subprocess.run(
        [command, *RUN, "--defect", "nonsense"],
        capture_output=True,
        text=True,
        timeout=60,
        env={**os.environ, "COLUMNS": "80"},
        check=False,
    )
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "nonsense" in done.stderr
