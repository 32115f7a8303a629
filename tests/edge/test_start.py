"""From power-up to the loop, and every way in which the loop may end."""

import hashlib
import tomllib
import zlib
from pathlib import Path
from typing import Any

import pytest

from leafwinch.controller import Controller
from leafwinch.edge import self_test as self_test_module
from leafwinch.edge import start
from leafwinch.edge.console import LOADING, RESTART, Console
from leafwinch.edge.journal import FELL_BACK, PROGRAM_ERROR, PROGRAM_PLACE
from leafwinch.edge.keeper import Keeper
from leafwinch.edge.loop import Loop
from leafwinch.edge.meter import MIDDLE, ZERO_LIMIT
from leafwinch.edge.sampling import SUPPLY
from leafwinch.edge.settings_store import SettingsStore
from leafwinch.faults import (
    NO_FAULT,
    SETTINGS_BAD,
    SETTINGS_FOREIGN,
    WATCHDOG_BOOT,
)
from leafwinch.faults import (
    PROGRAM_ERROR as PROGRAM_ERROR_FAULT,
)
from leafwinch.signals import RAISE_RELEASED
from leafwinch.states import FAULT, IDLE, RAISING
from tests.edge.rig import ASKED, AT_REST, RUNNING
from tests.edge.whole import SITE, Memory, Restarted, Whole, install

BOTTOM = AT_REST & ~(1 << 5)  # standing at the bottom end, so that the budget is known


def board(files: Memory | None = None) -> Whole:
    """Return a board with settings, at rest."""
    if files is None:
        files = Memory()
        install(files, {})
    made = Whole(files)
    made.closed = BOTTOM
    return made


def made_loop(made: Whole) -> Loop:
    given: Any = made
    return start.make_loop(given, Keeper(given.files, SettingsStore(given.files)))


def run(made: Whole) -> None:
    given: Any = made
    start.run(given)


def texts(files: Memory, kind: int) -> list[str]:
    """Return the words of all stored events of a kind."""
    found = []
    for name, content in sorted(files.contents.items()):
        if "journal" in name:
            for at in range(0, len(content), 32):
                if content[at + 4] == kind:
                    found.append(content[at + 16 : at + 30].rstrip(b"\0").decode())
    return found


def test_a_board_with_its_settings_comes_up_ready() -> None:
    made = board()
    loop = made_loop(made)
    assert made.watchdog_started == 1
    assert made.mask_of_pins() == 0
    loop.run(600)
    loop.controller.thermal.level = 0
    loop.run(600)
    assert loop.controller.state == IDLE
    assert loop.controller.fault == NO_FAULT
    assert loop.late == 0


def fault_after_boot(made: Whole) -> int:
    loop = made_loop(made)
    loop.run(50)
    assert loop.controller.state == FAULT or not loop.controller.fault
    fault: int = loop.controller.fault
    return fault


def test_settings_missing_damaged_or_foreign_are_faults() -> None:
    assert fault_after_boot(board(Memory())) == SETTINGS_BAD
    files = Memory()
    install(files, {})
    for copy in "ab":
        files.contents["settings." + copy] = files.contents["settings." + copy][:-1]
    assert fault_after_boot(board(files)) == SETTINGS_BAD
    files = Memory()
    install(files, {}, SITE + 1)
    assert fault_after_boot(board(files)) == SETTINGS_FOREIGN


def test_a_watchdog_boot_is_a_fault_unless_the_restart_was_meant() -> None:
    made = board()
    made.watchdog_reset = True
    made.files.write("restart", b"")
    assert fault_after_boot(made) == NO_FAULT
    assert made.files.size("restart") == -1
    made = board(made.files)
    made.watchdog_reset = True
    assert fault_after_boot(made) == WATCHDOG_BOOT


def spoil_outputs(made: Whole) -> None:
    made.stuck_high = 3


def spoil_samples(made: Whole) -> None:
    made.samples_us = 1 << 60


def spoil_clock(made: Whole) -> None:
    plain = made.sleep
    made.sleep = lambda us: plain(2 * us)  # type: ignore[method-assign]


def spoil_zero(made: Whole) -> None:
    made.code = MIDDLE + ZERO_LIMIT + 1


def spoil_sensor(made: Whole) -> None:
    made.code = 0


def spoil_supply(made: Whole) -> None:
    made.slots[SUPPLY] = 0xFFFF


@pytest.mark.parametrize(
    ("spoil", "word"),
    [
        (spoil_outputs, "outputs"),
        (spoil_samples, "samples"),
        (spoil_clock, "samples"),
        (spoil_zero, "zero"),
        (spoil_sensor, "zero"),
        (spoil_supply, "supply"),
    ],
)
def test_a_failed_self_test_is_a_fault_with_its_name_in_the_journal(spoil: Any, word: str) -> None:
    made = board()
    spoil(made)
    assert fault_after_boot(made) == PROGRAM_ERROR_FAULT
    assert texts(made.files, PROGRAM_ERROR) == ["test " + word]
    assert made.watchdog_started == 1


@pytest.mark.parametrize("name", ["crc16", "crc32"])
def test_a_wrong_check_sum_fails_the_self_test(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    if name == "crc16":
        monkeypatch.setattr(self_test_module, "crc16", lambda *given: 0x29B2)
    else:
        monkeypatch.setattr(self_test_module, "_crc32", lambda data, start: 0xCBF43927)
    made = Whole(Memory())
    given: Any = made
    loop: Any = None
    assert self_test_module.self_test(given, loop) == name


def manifest(files: Memory) -> str:
    """Put three files of a program into the memory and return their manifest."""
    lines = []
    for name, size in (("controller.mpy", 5000), ("edge/loop.mpy", 1024), ("edge/empty.mpy", 0)):
        content = bytes(index * 7 % 251 for index in range(size))
        files.write("leafwinch/" + name, content)
        digest = hashlib.sha256(content).hexdigest()
        lines.append(f"{name} {size} {zlib.crc32(content):08X} {digest}")
    return "\n".join(lines) + f"\nfiles {len(lines)}\n"


def test_a_program_that_is_not_as_its_manifest_says_fails_the_self_test() -> None:
    files = Memory()
    install(files, {})
    text = manifest(files)
    files.write("leafwinch/manifest.txt", text.encode())
    whole: Any = self_test_module.program_whole
    assert whole(files)
    for name in ("controller.mpy", "edge/loop.mpy"):
        content = files.contents["leafwinch/" + name]
        for bad in (content[:-1], content + b"x", b"", content[:700] + b"!" + content[701:]):
            files.contents["leafwinch/" + name] = bad
            assert not whole(files)
        del files.contents["leafwinch/" + name]
        assert not whole(files)
        files.contents["leafwinch/" + name] = content
    for end in range(len(text) - 1):
        # A manifest that is cut anywhere is not believed either.
        files.contents["leafwinch/manifest.txt"] = text[:end].encode()
        assert not whole(files)
    files.contents["leafwinch/manifest.txt"] = text.replace("5000", "50 0").encode()
    assert not whole(files)
    assert fault_after_boot(board(files)) == PROGRAM_ERROR_FAULT
    assert texts(files, PROGRAM_ERROR) == ["test files"]


def test_an_input_register_that_a_small_board_cannot_hold_fails_the_self_test() -> None:
    made = board()
    plain = made.__class__.__getitem__
    given: Any = made

    class Wide:
        def __getitem__(self, register: int) -> int:
            return plain(made, register) | 1 << 30

    given.inputs = Wide()
    assert self_test_module.self_test(given, given) == "inputs"


def test_why_main_fell_back_goes_to_the_journal() -> None:
    made = board()
    made.files.write("fallback", b"Memory\xff\x00Error and more words")
    made_loop(made).run(1200)
    assert texts(made.files, FELL_BACK) == ["MemoryError an"]
    assert made.files.size("fallback") == -1


def test_a_new_program_takes_its_trial_mark_away() -> None:
    made = board()
    made.files.write("trial", b".")
    loop = made_loop(made)
    loop.run(1500)
    assert made.files.size("trial") == 1
    loop.run(1500)
    assert made.files.size("trial") == -1


@pytest.mark.parametrize(
    ("request_", "names"), [(RESTART, {"restart"}), (LOADING, {"restart", "loading"})]
)
def test_a_request_restarts_the_board_on_purpose(
    request_: int, names: set[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = board()
    monkeypatch.setattr(Console, "step", lambda self: request_)
    with pytest.raises(Restarted):
        run(made)
    assert made.restarts == 1
    assert {"restart", "loading"} & set(made.files.contents) == names
    assert made.mask_of_pins() == 0
    assert texts(made.files, PROGRAM_ERROR) == []
    assert made.taken == made.released == 1


def drive(made: Whole) -> None:
    """Give the contacts times at which the control is actuated and contactors follow."""
    now = made.now_us + 130_000
    made.at += [
        (now + 2_500_000, ASKED),
        (now + 2_600_000, ASKED & ~RAISE_RELEASED),
        (now + 2_650_000, RUNNING),
    ]


class Breaking:
    """Counts the board's calls and raises in one of them, once the motor runs."""

    def __init__(self, made: Whole, calls: int, error: BaseException) -> None:
        self.made = made
        self.left = calls
        self.error = error
        self.raised = False

    def __call__(self, name: str) -> None:
        if self.made.pins[1] and self.made.closed == RUNNING and not self.raised:
            self.left -= 1
            if self.left < 0:
                self.raised = True
                raise self.error


@pytest.mark.parametrize(
    "error", [ValueError("x"), MemoryError(), KeyboardInterrupt(), SystemExit(0)]
)
def test_a_crash_anywhere_in_motion_ends_with_outputs_low_and_its_name_kept(
    error: BaseException, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(start, "Controller", cool_controller)
    for calls in range(0, 24, 1):
        made = board()
        drive(made)
        breaking = Breaking(made, calls, error)
        made.note = breaking  # type: ignore[method-assign]
        with pytest.raises(type(error)):
            run(made)
        assert breaking.raised
        assert made.mask_of_pins() == 0
        assert made.watchdog_started >= 1
        assert made.released == 1
        assert texts(made.files, PROGRAM_ERROR) == [type(error).__name__[:14]]
        assert texts(made.files, PROGRAM_PLACE) == ["loop"]


def cool_controller(*given: Any) -> Any:
    """Return a core whose motor has rested and whose record is stored."""
    core = Controller(*given)
    core.thermal.level = 0
    return core


def test_the_drive_of_these_tests_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(start, "Controller", cool_controller)
    made = board()
    drive(made)
    loop = made_loop(made)
    loop.run(565)
    assert loop.controller.state == RAISING
    assert made.pins[1] == 1


def test_a_crash_before_the_loop_starts_the_watchdog_too(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("Meter", "Controller", "Trace", "Console", "Loop", "self_test"):
        made = board()

        def broken(*given: object, name: str = name) -> object:
            raise ValueError(name)

        with monkeypatch.context() as patch:
            patch.setattr(self_test_module if name == "self_test" else start, name, broken)
            with pytest.raises(ValueError, match=name):
                run(made)
        assert made.mask_of_pins() == 0
        assert made.watchdog_started >= 1
        assert texts(made.files, PROGRAM_ERROR) == ["ValueError"]


def test_the_version_is_the_project_s() -> None:
    path = Path(__file__).resolve().parents[2] / "pyproject.toml"
    version = tomllib.loads(path.read_text())["project"]["version"]
    assert version == start.VERSION_TEXT
    major, minor, patch = (int(part) for part in version.split("."))
    assert 10_000 * major + 100 * minor + patch == start.VERSION
