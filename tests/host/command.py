"""Runs the command line inside the test and keeps what it said."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from leafwinch_host.cli import main
from leafwinch_sim import site as site_module
from leafwinch_wiring.reader import SHIPPED_FOLDER

SITES = Path(site_module.__file__).parent / "sites"
SCRIPTS = Path(site_module.__file__).parent / "scripts"
NETLISTS = SHIPPED_FOLDER


@dataclass(frozen=True, slots=True)
class Said:
    """Exit code, standard output and standard error of one command."""

    code: int
    out: str
    err: str


def leafwinch(capsys: pytest.CaptureFixture[str], *arguments: str) -> Said:
    """Run `leafwinch` with these arguments."""
    capsys.readouterr()
    code = main(arguments)
    captured = capsys.readouterr()
    return Said(code, captured.out, captured.err)


def assert_one_sentence(said: Said, *must_name: str) -> None:
    """The command refused with exit code 2 and one sentence that names what is wrong."""
    assert said.code == 2, said
    assert said.out == "", said
    lines = said.err.splitlines()
    assert len(lines) == 1, said.err
    sentence = lines[0]
    assert sentence.startswith("leafwinch: "), sentence
    assert sentence.endswith("."), sentence
    assert "Traceback" not in sentence
    assert "Error" not in sentence, "a class name is not a word for people"
    assert 30 < len(sentence) < 700, sentence
    for name in must_name:
        assert name in sentence, (name, sentence)


def changed(folder: Path, source: Path, old: str, new: str) -> Path:
    """Copy a shipped file with one change, which must apply."""
    text = source.read_text(encoding="utf-8")
    assert old in text, f"{source.name} no longer contains {old!r}"
    target = folder / source.name
    target.write_text(text.replace(old, new, 1), encoding="utf-8")
    return target
