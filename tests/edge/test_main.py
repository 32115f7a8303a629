"""main.py: outputs low first and last, replacement of the program cut off at any point."""

import builtins
import os
import runpy
import sys
import types
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from leafwinch.edge.pins import esp32, pico

MAIN = Path(__file__).resolve().parents[2] / "firmware" / "main.py"
LEFT_HIGH = (17, 18, 19, 22)  # levels that a soft restart left behind


class Reset(BaseException):
    """The board restarts."""


class PowerCut(BaseException):
    """The supply fails."""


class Desk:
    """A board for main.py: pins, files in the current folder, and a program that does as told."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
        self.patch = monkeypatch
        self.folder = folder
        self.levels: dict[int, int] = {}
        self.started: list[str] = []
        self.import_error: BaseException | None = None
        self.start_error: BaseException | None = None
        self.cut_at = -1  # change of the files before which power fails, or -1
        self.cut_error: BaseException = PowerCut()
        self.changes = 0
        monkeypatch.chdir(folder)
        monkeypatch.setitem(sys.modules, "machine", self.machine())
        monkeypatch.setitem(sys.modules, "leafwinch.edge", self.program())
        for name in ("remove", "rename", "mkdir", "rmdir"):
            monkeypatch.setattr(os, name, self.cutting(getattr(os, name)))
        plain_open = builtins.open

        def opened(name: Any, mode: str = "r", *rest: Any, **named: Any) -> Any:
            if isinstance(name, str) and mode[0] in "wa":
                self.change()
            return plain_open(name, mode, *rest, **named)

        monkeypatch.setattr(builtins, "open", opened)

    def machine(self) -> types.ModuleType:
        desk = self

        class Pin:
            OUT = 1

            def __init__(self, number: int, mode: int, value: int | None = None) -> None:
                assert mode == Pin.OUT
                assert value == 0
                desk.levels[number] = value

        def reset() -> None:
            raise Reset

        made = types.ModuleType("machine")
        made.__dict__.update(Pin=Pin, reset=reset)
        return made

    def program(self) -> types.ModuleType:
        desk = self
        hardware = types.SimpleNamespace(this_board=lambda: "board")

        def run(board: str) -> None:
            assert board == "board"
            assert all(desk.levels[pin] == 0 for pin in pico().outputs)
            desk.started.append(desk.version())
            for pin in LEFT_HIGH:
                desk.levels[pin] = 1
            if desk.start_error is not None:
                raise desk.start_error

        class Package(types.ModuleType):
            def __getattr__(self, name: str) -> object:
                if name not in ("hardware", "start"):
                    raise AttributeError(name)
                if desk.import_error is not None and desk.version() == "new":
                    raise desk.import_error
                return {"hardware": hardware, "start": types.SimpleNamespace(run=run)}[name]

        return Package("leafwinch.edge")

    def cutting(self, plain: Callable[..., Any]) -> Callable[..., Any]:
        def call(*given: Any) -> Any:
            self.change()
            return plain(*given)

        return call

    def change(self) -> None:
        if self.changes == self.cut_at:
            raise self.cut_error
        self.changes += 1

    def version(self) -> str:
        return (self.folder / "leafwinch" / "version").read_text()

    def boot(self) -> BaseException | None:
        """Run main.py once; return what it raised. Outputs are low afterwards, whatever it was."""
        self.levels = dict.fromkeys(LEFT_HIGH, 1)
        raised: BaseException | None = None
        try:
            runpy.run_path(str(MAIN), run_name="__main__")
        except BaseException as error:
            raised = error
        assert [self.levels[pin] for pin in pico().outputs] == [0] * 6, raised
        return raised

    def put(self, name: str, version: str) -> None:
        path = self.folder / name
        (path / "edge").mkdir(parents=True)
        (path / "version").write_text(version)
        (path / "edge" / "x.mpy").write_text(version)


@pytest.fixture
def desk(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Desk:
    return Desk(monkeypatch, tmp_path)


def test_the_output_pins_are_those_of_the_boards(monkeypatch: pytest.MonkeyPatch) -> None:
    source = MAIN.read_text()
    line = next(row for row in source.splitlines() if row.startswith("OUTPUTS = "))
    for platform, board in (("esp32", esp32()), ("rp2", pico()), ("linux", pico())):
        fake = types.SimpleNamespace(platform=platform)
        assert eval(line.removeprefix("OUTPUTS = "), {"sys": fake}) == board.outputs
    # Nothing comes before the outputs but imports and what drives them low.
    before = source[: source.index("\noutputs_low()\n")]
    assert [row for row in before.splitlines() if row.startswith(("import", "from"))] == [
        "import os",
        "import sys",
        "import machine",
    ]
    assert "open(" not in before


def test_a_plain_start_runs_the_program_and_leaves_outputs_low(desk: Desk) -> None:
    desk.put("leafwinch", "old")
    assert desk.boot() is None
    assert desk.started == ["old"]


@pytest.mark.parametrize(
    "error", [ValueError("x"), MemoryError(), KeyboardInterrupt(), SystemExit(1), GeneratorExit()]
)
def test_whatever_the_program_raises_outputs_go_low(desk: Desk, error: BaseException) -> None:
    desk.put("leafwinch", "old")
    desk.put("previous/leafwinch", "older")
    desk.start_error = error
    assert desk.boot() is error
    # A program that could be imported is not given up for one error.
    assert desk.version() == "old"


def test_loading_goes_to_the_prompt_once(desk: Desk) -> None:
    desk.put("leafwinch", "old")
    (desk.folder / "loading").write_text("")
    (desk.folder / "trial").write_text("")
    assert desk.boot() is None
    assert desk.started == []
    assert (desk.folder / "trial").read_text() == ""
    assert desk.boot() is None
    assert desk.started == ["old"]


def test_no_program_at_all_ends_at_the_prompt_with_outputs_low(desk: Desk) -> None:
    desk.import_error = ImportError("no module named 'leafwinch'")
    (desk.folder / "leafwinch").mkdir()
    (desk.folder / "leafwinch" / "version").write_text("new")
    assert desk.boot() is desk.import_error


def host_steps(desk: Desk) -> list[Callable[[], object]]:
    """Return the steps by which a new program replaces the old one."""
    folder = desk.folder
    return [
        lambda: (folder / "previous" / "leafwinch").mkdir(parents=True),
        lambda: (folder / "previous" / "leafwinch").rmdir(),
        lambda: (folder / "leafwinch").rename(folder / "previous" / "leafwinch"),
        lambda: (folder / "next" / "leafwinch").rename(folder / "leafwinch"),
        lambda: (folder / "trial").write_text(""),
    ]


@pytest.mark.parametrize("done", range(6))
def test_a_replacement_that_was_cut_off_leaves_a_whole_program(desk: Desk, done: int) -> None:
    desk.put("leafwinch", "old")
    desk.put("next/leafwinch", "new")
    steps = host_steps(desk)
    assert len(steps) == 5
    for step in steps[:done]:
        step()
    before = desk.changes
    if done == 1:
        # An empty folder is no program, but here the old one is still in its place.
        assert (desk.folder / "leafwinch").exists()
    assert desk.boot() is None
    assert desk.started == ["new" if done >= 4 else "old"]
    assert desk.changes - before == (1 if done in (3, 5) else 0)


def test_a_new_program_gets_two_boots_to_prove_itself(desk: Desk) -> None:
    desk.put("leafwinch", "new")
    desk.put("previous/leafwinch", "old")
    (desk.folder / "trial").write_text("")
    desk.start_error = ValueError("breaks")
    assert isinstance(desk.boot(), ValueError)
    assert isinstance(desk.boot(), ValueError)
    assert isinstance(desk.boot(), Reset)
    assert (desk.folder / "fallback").read_text() == "trial"
    assert (desk.folder / "restart").exists()
    desk.start_error = None
    assert desk.boot() is None
    assert desk.started == ["new", "new", "old"]
    assert not (desk.folder / "trial").exists()


def test_a_trial_without_a_previous_program_goes_on(desk: Desk) -> None:
    desk.put("leafwinch", "new")
    (desk.folder / "trial").write_text("..")
    assert desk.boot() is None
    assert desk.started == ["new"]
    assert not (desk.folder / "trial").exists()


def prepare(desk: Desk, trial: str, importable: bool, failed_before: bool) -> None:
    desk.put("leafwinch", "new")
    desk.put("previous/leafwinch", "old")
    if trial:
        (desk.folder / "trial").write_text(trial)
    if failed_before:
        desk.put("failed/leafwinch", "oldest")
    desk.import_error = None if importable else MemoryError()


@pytest.mark.parametrize("failed_before", [False, True])
@pytest.mark.parametrize(("trial", "importable"), [("..", True), ("", False), (".", False)])
@pytest.mark.parametrize("error", [PowerCut(), OSError(5, "flash")])
def test_falling_back_survives_a_cut_at_every_change(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    trial: str,
    importable: bool,
    failed_before: bool,
    error: BaseException,
) -> None:
    cuts = 0
    while True:
        folder = tmp_path / str(cuts)
        folder.mkdir()
        with monkeypatch.context() as patch:
            desk = Desk(patch, folder)
            prepare(desk, trial, importable, failed_before)
            desk.changes = 0
            desk.cut_at = cuts
            desk.cut_error = error
            first = desk.boot()
            desk.cut_at = -1
            if isinstance(first, Reset):
                break
            assert first is error, cuts
            # Afterwards it comes up by itself, with the old program in the end.
            boots = 0
            while not desk.started or desk.started[-1] != "old":
                desk.boot()
                boots += 1
                assert boots <= 4, (cuts, desk.started)
            assert desk.version() == "old"
            assert (folder / "fallback").exists()
        cuts += 1
    assert cuts >= (8 if failed_before else 5)


def test_import_fails_for_another_reason_than_an_exception(desk: Desk) -> None:
    prepare(desk, "", True, False)
    desk.import_error = KeyboardInterrupt()
    assert desk.boot() is desk.import_error
    assert desk.version() == "new"
